package httpapi

import (
	"context"
	"fmt"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Tablets is the serving of tablets, as the laptop's own page handles it.
type Tablets interface {
	View(ctx context.Context) (app.TabletsView, error)
	Change(ctx context.Context, in app.TabletsRequest) (app.TabletsView, error)
	Code(ctx context.Context, in app.PairingRequest) (app.PairingCode, error)
	Role(ctx context.Context, in app.TabletRoleRequest) (app.TabletsView, error)
	// Pair lets a tablet in; token is what it shows from now on.
	Pair(ctx context.Context, in app.PairRequest) (self app.TabletSelf, token string, err error)
	Self(ctx context.Context) (app.TabletSelf, error)
}

// cookieLife is in seconds. It is longer than a token is good for: a tablet
// that brings an old one is told that it ended, and when.
const cookieLife = 365 * 24 * 60 * 60

type pairAnswer struct {
	SetCookie http.Cookie `header:"Set-Cookie"`
	Body      app.TabletSelf
}

// deviceCookie holds a tablet's token: a script of a page cannot read it, and the
// browser sends it over TLS to this host only.
const deviceCookie = "__Host-brinefield-device"

func tabletRoutes(api huma.API, tablets Tablets) {
	read(api, "tablets", "/api/tablets", "Whether tablets are served, and which are paired", func(ctx context.Context, _ *struct{}) (*body[app.TabletsView], error) {
		return answer(tablets.View(ctx))
	})
	change(api, "tablets-change", "/api/tablets", "Begin or end serving tablets", func(ctx context.Context, in *requestBody[app.TabletsRequest]) (*body[app.TabletsView], error) {
		return answer(tablets.Change(ctx, in.Body))
	})
	change(api, "tablets-code", "/api/tablets/code", "A code that lets one tablet in", func(ctx context.Context, in *requestBody[app.PairingRequest]) (*body[app.PairingCode], error) {
		return answer(tablets.Code(ctx, in.Body))
	})
	change(api, "tablets-role", "/api/tablets/role", "Give a tablet a role, take it away, or revoke the tablet", func(ctx context.Context, in *requestBody[app.TabletRoleRequest]) (*body[app.TabletsView], error) {
		return answer(tablets.Role(ctx, in.Body))
	})
	read(api, "deck-me", "/api/deck/me", "What this tablet is", func(ctx context.Context, _ *struct{}) (*body[app.TabletSelf], error) {
		return answer(tablets.Self(ctx))
	})
	change(api, "deck-pair", "/api/deck/pair", "Let this tablet in with a code from the laptop", func(ctx context.Context, in *requestBody[app.PairRequest]) (*pairAnswer, error) {
		self, token, err := tablets.Pair(ctx, in.Body)
		if err != nil {
			return nil, problem(err)
		}
		return &pairAnswer{http.Cookie{Name: deviceCookie, Value: token, Path: "/", Secure: true, HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: cookieLife}, self}, nil
	})
}

// noTablets is the answer of a window that serves no tablets.
type noTablets struct{}

func (noTablets) why() error {
	return fmt.Errorf("%w: this window shows something that is not kept, or has no folder for its keys; open your studies with brinefield open or brinefield serve", app.ErrNotServing)
}

// View implements [Tablets].
func (n noTablets) View(context.Context) (app.TabletsView, error) {
	return app.TabletsView{
		Why: n.why().Error(), NameState: "off", Addresses: []string{}, LeftOut: []string{}, Words: []string{}, Devices: []app.TabletView{}, Audit: []app.TabletEvent{},
	}, nil
}

// Change implements [Tablets].
func (n noTablets) Change(context.Context, app.TabletsRequest) (app.TabletsView, error) {
	return app.TabletsView{}, n.why()
}

// Code implements [Tablets].
func (n noTablets) Code(context.Context, app.PairingRequest) (app.PairingCode, error) {
	return app.PairingCode{}, n.why()
}

// Role implements [Tablets].
func (n noTablets) Role(context.Context, app.TabletRoleRequest) (app.TabletsView, error) {
	return app.TabletsView{}, n.why()
}

// Pair implements [Tablets].
func (n noTablets) Pair(context.Context, app.PairRequest) (app.TabletSelf, string, error) {
	return app.TabletSelf{}, "", n.why()
}

// Self implements [Tablets].
func (noTablets) Self(context.Context) (app.TabletSelf, error) {
	return app.TabletSelf{Words: []string{}, Studies: []app.TabletStudy{}}, nil
}
