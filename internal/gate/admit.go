package gate

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"brinefield/internal/access"
	"brinefield/internal/app"
	"brinefield/internal/authority"
)

// pairing is the operation that takes a code.
const pairing = "deck-pair"

var errShut = fmt.Errorf("%w: the laptop lets none in now", app.ErrNotServing)

// Serves reports whether a Host header is the laptop's name or one of its
// addresses that stand in the certificate of the moment, with the port: a page
// that bends its own name to this laptop's address brings another.
func (g *Gate) Serves(host string) bool {
	s := g.serving.Load()
	if s == nil {
		return false
	}
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		name, port = strings.Trim(host, "[]"), "443" // browsers leave out the usual one
	}
	if port != strconv.Itoa(s.port) {
		return false
	}
	cert, err := s.leaves.Current()
	if err != nil {
		return false
	}
	if a, err := netip.ParseAddr(name); err == nil {
		return slices.ContainsFunc(cert.Leaf.IPAddresses, func(ip net.IP) bool {
			in, ok := netip.AddrFromSlice(ip)
			return ok && in.Unmap() == a.Unmap().WithZone("")
		})
	}
	return strings.EqualFold(strings.TrimSuffix(name, "."), s.authority.Name())
}

// Glance bounds how often one address asks, whatever for.
func (g *Gate) Glance(from string) error {
	s := g.serving.Load()
	if s == nil {
		return errShut
	}
	return s.asks.take(netOf(from), "too many requests come from this address")
}

// Admit decides on one request. What is open to strangers gets a stranger as
// its caller, or the tablet that it is.
//
// Errors: [app.ErrNotServing], [app.ErrNotPaired], [app.ErrNotAllowed],
// [app.TooMuchError].
func (g *Gate) Admit(ctx context.Context, v app.Visit) (app.Caller, func(), error) {
	s := g.serving.Load()
	if s == nil {
		return app.Caller{}, nil, errShut
	}
	if need, ok := access.NeedOf(v.Operation); ok && need == access.Anyone {
		caller, err := s.welcome(v)
		return caller, func() {}, err
	}
	d, err := s.bearer(v)
	if err != nil {
		return app.Caller{}, nil, err
	}
	done, err := s.devices.begin(d.ID)
	if err != nil {
		return app.Caller{}, nil, err
	}
	identity := g.identityOf(ctx, v.Study)
	if d, err = s.keeper.Admit(v.Token, v.Operation, identity); err != nil {
		done()
		return app.Caller{}, nil, told(err)
	}
	return callerOf(d, identity), done, nil
}

// identityOf is what a folder's study is; "" where it is not here, or not
// served: then no device has a role in it.
func (g *Gate) identityOf(ctx context.Context, folder string) string {
	if folder == "" || !g.reaches(folder) {
		return ""
	}
	name, err := g.opt.Studies.Name(ctx, folder)
	if err != nil {
		return ""
	}
	return name.Identity
}

func callerOf(d access.Device, identity string) app.Caller {
	return app.Caller{Device: d.ID, Name: d.Name, Role: string(d.Roles[identity]), Writes: d.Writes}
}

// welcome is for what is open to whoever reaches the laptop.
func (s *serving) welcome(v app.Visit) (app.Caller, error) {
	if v.Operation == pairing {
		if err := s.codes.take(netOf(v.From), "too many pairing codes come from this address"); err != nil {
			return app.Caller{}, err
		}
	}
	if v.Token != "" {
		if d, err := s.keeper.Bearer(v.Token, v.Operation); err == nil {
			return callerOf(d, ""), nil
		}
	}
	if err := s.strangers.take(netOf(v.From), "too many requests come from this address without a token"); err != nil {
		return app.Caller{}, err
	}
	return app.Caller{Device: app.Stranger}, nil
}

// bearer is the device that a request comes from. Wrong tokens are bounded by
// address, though none can be guessed: they cost a look at every device and
// lines of the list.
func (s *serving) bearer(v app.Visit) (access.Device, error) {
	if v.Token == "" {
		if err := s.strangers.take(netOf(v.From), "too many requests come from this address without a token"); err != nil {
			return access.Device{}, err
		}
		return access.Device{}, told(access.ErrToken)
	}
	d, err := s.keeper.Bearer(v.Token, v.Operation)
	if err != nil {
		if err := s.strangers.take(netOf(v.From), "too many requests come from this address with a token that is not good"); err != nil {
			return access.Device{}, err
		}
		return access.Device{}, told(err)
	}
	return d, nil
}

// TakeIn decides whether there is room for photos and voice: enough is left of
// the disc for entries, and the device has not sent its share of the day.
//
// Errors: [app.ErrNoSpace], [app.TooMuchError].
func (g *Gate) TakeIn(_ context.Context, caller app.Caller, bytes int64) error {
	s := g.serving.Load()
	if s == nil {
		return errShut
	}
	if bytes <= 0 {
		return nil
	}
	free, err := g.opt.Free()
	if err != nil {
		return fmt.Errorf("asking how much room there is: %w", err)
	}
	if free < uint64(g.limits.KeepFree)+uint64(bytes) {
		return fmt.Errorf("%w: the last %d MB of the laptop's disc are kept for entries, so that photos and voice wait on the tablet", app.ErrNoSpace, g.limits.KeepFree/1e6)
	}
	return s.uploads.take(caller.Device, bytes, g.opt.Clock())
}

// Pair lets a tablet in that brings a good code.
//
// Errors: [app.ErrPairing], [app.ErrTablet], [app.ErrNotServing];
// [app.ErrNotAllowed] on the laptop itself.
func (g *Gate) Pair(ctx context.Context, in app.PairRequest) (app.TabletSelf, string, error) {
	if app.CallerOf(ctx).Device == "" {
		return app.TabletSelf{}, "", fmt.Errorf("%w: this is the laptop itself, which needs no code; open the address of the page Deck on the tablet", app.ErrNotAllowed)
	}
	s := g.serving.Load()
	if s == nil {
		return app.TabletSelf{}, "", errShut
	}
	d, token, err := s.keeper.Pair(in.Code, in.Name, in.Was...)
	if err != nil {
		return app.TabletSelf{}, "", told(err)
	}
	self, err := g.self(ctx, s, d)
	return self, token, err
}

// Self is what a tablet may know of itself; the laptop, and a stranger, learn
// which laptop this is.
func (g *Gate) Self(ctx context.Context) (app.TabletSelf, error) {
	caller := app.CallerOf(ctx)
	s := g.serving.Load()
	if s == nil {
		return g.nobody(nil), nil
	}
	for _, d := range s.keeper.Devices() {
		if d.ID == caller.Device {
			return g.self(ctx, s, d)
		}
	}
	return g.nobody(s), nil
}

func (g *Gate) nobody(s *serving) app.TabletSelf {
	out := app.TabletSelf{Words: []string{}, Studies: []app.TabletStudy{}, NowMS: g.opt.Clock().UnixMilli()}
	if s != nil {
		out.Laptop, out.Words = s.authority.Name(), s.authority.Words()
	} else if a, err := authority.Load(filepath.Join(g.opt.Keys, authorityFolder), g.opt.Clock()); err == nil {
		out.Laptop, out.Words = a.Name(), a.Words()
	}
	return out
}

func (g *Gate) self(ctx context.Context, s *serving, d access.Device) (app.TabletSelf, error) {
	out := g.nobody(s)
	out.Paired, out.Name, out.Ends = true, d.Name, stamp(d.Ends())
	if len(d.Writes) > 0 {
		out.Device = d.Writes[0]
	}
	all, err := g.opt.Studies.Names(ctx)
	if err != nil {
		return out, err
	}
	for _, n := range all {
		if role, has := d.Roles[n.Identity]; has && g.reaches(n.Study) {
			out.Studies = append(out.Studies, app.TabletStudy{Study: n.Study, Identity: n.Identity, Title: n.Title, Role: string(role)})
		}
	}
	return out, nil
}
