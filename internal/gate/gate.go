// Package gate lets tablets in from the nets of a boat: it joins the laptop's
// certificate authority, its name, the list of devices and the listeners, and
// decides on each request. Make a [Gate] with [New]; it listens nowhere until it
// is told to ([Gate.Change]), and [Gate.Close] ends it.
//
// It knows nothing of routes: the handler is handed in, and asks it.
package gate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"brinefield/internal/access"
	"brinefield/internal/app"
	"brinefield/internal/authority"
	"brinefield/internal/names"
)

const (
	// Port and InstallPort are where tablets find the laptop. An app that was
	// installed on a tablet keeps its port: it is not changed without being told.
	Port        = 8443
	InstallPort = 8480
	// InstallLife is for how long the page that installs the authority is open.
	InstallLife = 15 * time.Minute

	authorityFolder = "authority"
	devicesFile     = "devices.json"
	portFile        = "port"
)

// Studies is what the gate asks about studies.
type Studies interface {
	Name(ctx context.Context, folder string) (app.StudyName, error)
	Names(ctx context.Context) ([]app.StudyName, error)
}

// Options are what a gate needs of the world.
type Options struct {
	// Keys is the folder of the authority and of the list of devices.
	Keys    string
	Studies Studies
	// Only are the folders of the studies that tablets reach; empty: all in
	// which they have a role.
	Only []string
	// Handler makes the handler of the tablets.
	Handler func(*Gate) http.Handler
	// Lock takes the folder for this program alone.
	Lock func(dir string) (release func() error, err error)
	// Free is the room on the disc of the studies, in bytes.
	Free   func() (uint64, error)
	Clock  func() time.Time
	Random io.Reader
	// Say is the meaning of an operation in a few words; may be nil.
	Say func(operation string) string

	// Port is the one asked for; 0: the one of the last time, at first [Port].
	Port int
	// Listen is an address with a port to listen on instead of all addresses;
	// then nothing is kept of it. InstallListen is the same for the page that
	// installs.
	Listen, InstallListen string
	// Addresses of this machine; nil: [authority.MachineAddresses].
	Addresses func() ([]netip.Addr, error)
	Limits    Limits // zero: the usual ones
}

// Gate is the way in for tablets. It is safe for concurrent use.
type Gate struct {
	opt    Options
	limits Limits

	change  sync.Mutex // one at a time begins, ends, or changes who may come in
	serving atomic.Pointer[serving]

	mu      sync.Mutex // of what follows
	problem string
}

// New returns a gate that is shut.
func New(opt Options) *Gate {
	if opt.Addresses == nil {
		opt.Addresses = authority.MachineAddresses
	}
	g := &Gate{opt: opt, limits: opt.Limits}
	if g.limits == (Limits{}) {
		g.limits = Usual()
	}
	return g
}

// Close ends serving.
func (g *Gate) Close() error {
	g.change.Lock()
	defer g.change.Unlock()
	return g.end()
}

// Change begins or ends serving, and opens or closes the page that installs the
// authority.
//
// Errors: [app.ErrNotServing] with what is in the way.
func (g *Gate) Change(ctx context.Context, in app.TabletsRequest) (app.TabletsView, error) {
	if err := atHome(ctx); err != nil {
		return app.TabletsView{}, err
	}
	err := func() error {
		g.change.Lock()
		defer g.change.Unlock()
		if in.Serve != nil && !*in.Serve {
			return g.end()
		}
		if in.Serve != nil {
			if err := g.begin(); err != nil {
				return err
			}
		}
		if in.Install == nil {
			return nil
		}
		s := g.serving.Load()
		if s == nil {
			if !*in.Install {
				return nil
			}
			return fmt.Errorf("%w: let tablets in first", app.ErrNotServing)
		}
		if *in.Install {
			return s.openInstall(g)
		}
		s.closeInstall()
		return nil
	}()
	g.remember(err)
	if err != nil {
		return app.TabletsView{}, err
	}
	return g.View(ctx)
}

func (g *Gate) remember(err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.problem = ""; err != nil {
		g.problem = err.Error()
	}
}

// atHome refuses whoever is not the laptop itself. The table of rights says so
// too; this is the second lock.
func atHome(ctx context.Context) error {
	if app.CallerOf(ctx).Device != "" {
		return fmt.Errorf("%w: it is for the browser on the laptop itself", app.ErrNotAllowed)
	}
	return nil
}

// Code makes a code that lets one tablet in.
//
// Errors: [app.ErrNotServing], [app.ErrTablet], [app.ErrUnknownStudy].
func (g *Gate) Code(ctx context.Context, in app.PairingRequest) (app.PairingCode, error) {
	if err := atHome(ctx); err != nil {
		return app.PairingCode{}, err
	}
	s := g.serving.Load()
	if s == nil {
		return app.PairingCode{}, fmt.Errorf("%w: let tablets in first", app.ErrNotServing)
	}
	if !g.reaches(in.Study) {
		return app.PairingCode{}, fmt.Errorf("%w: %s is not among the studies that are served", app.ErrUnknownStudy, in.Study)
	}
	name, err := g.opt.Studies.Name(ctx, in.Study)
	if err != nil {
		return app.PairingCode{}, err
	}
	text, ends, err := s.keeper.NewCode(name.Identity, access.Role(in.Role), author(in.Author))
	if err != nil {
		return app.PairingCode{}, told(err)
	}
	code := app.PairingCode{Code: text, Ends: ends.Format(time.RFC3339), Study: in.Study, Role: in.Role}
	s.mu.Lock()
	s.code = &code
	s.mu.Unlock()
	return code, nil
}

// Role gives a tablet a role, takes it away, or revokes the tablet. It counts
// from the next request on.
//
// Errors: [app.ErrUnknownTablet], [app.ErrTablet], [app.ErrUnknownStudy];
// [app.ErrNotServing] where another window has the list.
func (g *Gate) Role(ctx context.Context, in app.TabletRoleRequest) (app.TabletsView, error) {
	if err := atHome(ctx); err != nil {
		return app.TabletsView{}, err
	}
	err := g.withKeeper(func(k *access.Keeper) error {
		if in.Revoke {
			return told(k.Revoke(in.Device, author(in.Author)))
		}
		identity, err := g.identityFor(ctx, k, in)
		if err != nil {
			return err
		}
		return told(k.SetRole(in.Device, identity, access.Role(in.Role), author(in.Author)))
	})
	if err != nil {
		return app.TabletsView{}, err
	}
	return g.View(ctx)
}

// identityFor is the study that a role is in: by its folder, or by its identity
// where it is not here.
func (g *Gate) identityFor(ctx context.Context, k *access.Keeper, in app.TabletRoleRequest) (string, error) {
	name, err := g.opt.Studies.Name(ctx, in.Study)
	if err == nil {
		return name.Identity, nil
	}
	for _, d := range k.Devices() {
		if _, has := d.Roles[in.Study]; has && d.ID == in.Device && in.Role == "" {
			return in.Study, nil
		}
	}
	return "", err
}

// withKeeper does something with the list of devices: the one in use, or that
// on the disc, which is this program's as long as it takes.
func (g *Gate) withKeeper(do func(*access.Keeper) error) error {
	g.change.Lock()
	defer g.change.Unlock()
	if s := g.serving.Load(); s != nil {
		return do(s.keeper)
	}
	release, keeper, err := g.hold()
	if err != nil {
		return err
	}
	return errors.Join(do(keeper), keeper.Flush(), release())
}

// hold takes the folder of keys for this program and reads the list of devices.
func (g *Gate) hold() (release func() error, keeper *access.Keeper, err error) {
	if err := privateFolder(g.opt.Keys); err != nil {
		return nil, nil, fmt.Errorf("%w: %w", app.ErrNotServing, err)
	}
	release, err = g.opt.Lock(g.opt.Keys)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", app.ErrNotServing, err)
	}
	keeper, err = access.New(g.store(), g.opt.Clock, g.opt.Random)
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("%w: %w", app.ErrNotServing, err), release())
	}
	return release, keeper, nil
}

func (g *Gate) store() access.File {
	return access.File{Path: filepath.Join(g.opt.Keys, devicesFile)}
}

// privateFolder makes the folder of keys, or looks that it is this user's alone.
// Windows has no such bits: there the user's own folder keeps others out.
func privateFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("the folder of keys cannot be made: %w", err)
	}
	info, err := os.Stat(dir)
	if err != nil {
		return fmt.Errorf("the folder of keys cannot be read: %w", err)
	}
	if info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows" {
		return fmt.Errorf("others on this machine can look into the folder of keys %s (mode %04o); if only you use this laptop: chmod 700 '%s'", dir, info.Mode().Perm(), dir)
	}
	return nil
}

// reaches reports whether tablets may reach a study at all.
func (g *Gate) reaches(folder string) bool {
	return len(g.opt.Only) == 0 || slices.Contains(g.opt.Only, folder)
}

func author(name string) string {
	if name == "" {
		return "somebody at the laptop"
	}
	return name
}

// told puts an error of the list of devices into the terms of app.
func told(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, access.ErrEnded):
		return fmt.Errorf("%w: its token was good for 90 days, and they are over. It may go on logging, and nothing of that is lost. Pair it again with a code from the laptop: it goes on as the same device", app.ErrNotPaired)
	case errors.Is(err, access.ErrToken):
		return fmt.Errorf("%w, or no longer: pair it with a code from the laptop. What it logged stays on it", app.ErrNotPaired)
	case errors.Is(err, access.ErrRight):
		return fmt.Errorf("%w: %s", app.ErrNotAllowed, strings.TrimPrefix(err.Error(), access.ErrRight.Error()+": "))
	case errors.Is(err, access.ErrCode):
		return fmt.Errorf("%w: %w", app.ErrPairing, err)
	case errors.Is(err, access.ErrDevice):
		return fmt.Errorf("%w: %w", app.ErrUnknownTablet, err)
	case errors.Is(err, access.ErrBad):
		return fmt.Errorf("%w: %w", app.ErrTablet, err)
	}
	return err
}

// nameTaken reports that another machine has the laptop's name.
func nameTaken(err error) bool { return errors.Is(err, names.ErrTaken) }
