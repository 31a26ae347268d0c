package gate

import (
	"cmp"
	"context"
	"fmt"
	"net"
	"net/netip"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"brinefield/internal/access"
	"brinefield/internal/app"
	"brinefield/internal/authority"
)

// mostLines is how many lines of what happened are shown.
const mostLines = 500

// View is what the laptop shows of serving tablets. Where nothing is served it
// reads what is on the disc and makes nothing.
func (g *Gate) View(ctx context.Context) (app.TabletsView, error) {
	v := app.TabletsView{
		Possible: true, NameState: nameOff, Addresses: []string{}, LeftOut: []string{}, Words: []string{}, Devices: []app.TabletView{}, Audit: []app.TabletEvent{},
	}
	if err := atHome(ctx); err != nil {
		return v, err
	}
	g.mu.Lock()
	v.Problem = g.problem
	g.mu.Unlock()
	s := g.serving.Load()
	if s == nil {
		return v, g.viewShut(ctx, &v)
	}
	v.Serving, v.Port, v.Addresses = true, s.port, g.addresses(s)
	for _, a := range s.leaves.LeftOut() {
		v.LeftOut = append(v.LeftOut, a.String())
	}
	s.mu.Lock()
	v.NameState = s.name
	v.Problem = cmp.Or(s.problem, v.Problem)
	if s.install != nil {
		v.Installing, v.InstallEnds = "http://"+net.JoinHostPort(g.installHost(s), strconv.Itoa(s.install.port))+"/", stamp(s.install.ends)
	}
	code := s.code
	s.mu.Unlock()
	if _, good := s.keeper.CodeEnds(); good {
		v.Code = code
	}
	describe(&v, s.authority)
	g.list(ctx, &v, access.State{Devices: s.keeper.Devices(), Audit: s.keeper.Audit(), Sights: s.keeper.Sights()})
	return v, nil
}

func (g *Gate) viewShut(ctx context.Context, v *app.TabletsView) error {
	a, err := authority.Load(filepath.Join(g.opt.Keys, authorityFolder), g.opt.Clock())
	if err == nil {
		describe(v, a)
	}
	v.Port = cmp.Or(g.opt.Port, g.keptPort())
	state, err := g.store().Load()
	if err != nil {
		v.Problem = cmp.Or(v.Problem, err.Error())
		return nil
	}
	g.list(ctx, v, state)
	return nil
}

func describe(v *app.TabletsView, a *authority.Authority) {
	v.Name, v.Words, v.Fingerprint, v.Ends = a.Name(), a.Words(), a.Fingerprint(), stamp(a.Ends())
}

// addresses are those under which tablets find the laptop, the name first.
func (g *Gate) addresses(s *serving) []string {
	port := strconv.Itoa(s.port)
	at := func(host string) string { return "https://" + net.JoinHostPort(host, port) }
	out := []string{at(s.authority.Name())}
	for _, a := range g.reachable(s) {
		out = append(out, at(a.String()))
	}
	return out
}

// reachable are the private addresses of this machine that a tablet can use,
// IPv4 first. One of the link alone needs the tablet's own name of the link,
// which no browser takes.
func (g *Gate) reachable(s *serving) []netip.Addr {
	if at := addressOf(s.listener.Addr()); !at.IsUnspecified() {
		return []netip.Addr{at}
	}
	all, err := g.opt.Addresses()
	if err != nil {
		return nil
	}
	out := slices.DeleteFunc(slices.Clone(all), func(a netip.Addr) bool {
		return !authority.Permitted(a) || a.IsLoopback() || a.Is6() && a.IsLinkLocalUnicast()
	})
	slices.SortFunc(out, netip.Addr.Compare)
	return out
}

// installHost is an address, not the name: a tablet that is new here may find
// no names.
func (g *Gate) installHost(s *serving) string {
	if all := g.reachable(s); len(all) > 0 {
		return all[0].String()
	}
	return s.authority.Name()
}

// list fills in the devices and what happened, newest first.
func (g *Gate) list(ctx context.Context, v *app.TabletsView, state access.State) {
	folders := map[string]string{}
	if all, err := g.opt.Studies.Names(ctx); err == nil {
		for _, n := range all {
			folders[n.Identity] = n.Study
		}
	}
	folder := func(identity string) string { return cmp.Or(folders[identity], identity) }
	names := map[string]string{}
	for _, d := range state.Devices {
		names[d.ID] = d.Name
		one := app.TabletView{
			Device: d.ID, Name: d.Name, Writes: d.Writes, Roles: map[string]string{}, Paired: stamp(d.Paired), Seen: stamp(d.Seen), Ends: stamp(d.Ends()),
		}
		if one.Writes == nil {
			one.Writes = []string{}
		}
		for identity, role := range d.Roles {
			one.Roles[folder(identity)] = string(role)
		}
		if d.Revoked != nil {
			one.Revoked = stamp(*d.Revoked)
		}
		v.Devices = append(v.Devices, one)
	}
	type line struct {
		at time.Time
		app.TabletEvent
	}
	lines := make([]line, 0, len(state.Audit)+len(state.Sights))
	for _, e := range state.Audit {
		at := e.At
		if !e.Last.IsZero() {
			at = e.Last
		}
		lines = append(lines, line{at, app.TabletEvent{When: stamp(at), Text: sentence(e, folder(e.Study)), Device: e.Device, Refused: e.What == access.Refused}})
	}
	for _, s := range state.Sights {
		lines = append(lines, line{s.Last, app.TabletEvent{When: stamp(s.Last), Text: g.sightText(s, names[s.Device], folder(s.Study)), Device: s.Device}})
	}
	slices.Reverse(lines) // of one instant, the last first
	slices.SortStableFunc(lines, func(a, b line) int { return b.at.Compare(a.at) })
	for _, l := range lines[:min(len(lines), mostLines)] {
		v.Audit = append(v.Audit, l.TabletEvent)
	}
}

// sentence is one line of the list in words.
func sentence(e access.Event, study string) string {
	who := cmp.Or(e.Name, "A stranger")
	switch e.What {
	case access.CodeMade:
		return fmt.Sprintf("A code was made by %s that lets one tablet in as %s of %s.", e.By, e.Role, study)
	case access.Paired:
		return fmt.Sprintf("%s was let in as %s of %s, by the code of %s.", who, e.Role, study, e.By)
	case access.TookOver:
		return fmt.Sprintf("%s %s.", who, e.Why)
	case access.Revoked:
		return fmt.Sprintf("%s was shut out by %s.", who, e.By)
	case access.RoleChanged:
		switch {
		case e.Role == "":
			return fmt.Sprintf("%s is no longer %s of %s: taken away by %s.", who, cmp.Or(e.Was, "a part"), study, e.By)
		case e.Was == "":
			return fmt.Sprintf("%s is now %s of %s: by %s.", who, e.Role, study, e.By)
		}
		return fmt.Sprintf("%s is now %s of %s, and was %s: by %s.", who, e.Role, study, e.Was, e.By)
	}
	text := fmt.Sprintf("%s was refused", who)
	if e.Operation != "" {
		text += fmt.Sprintf(" (%s)", e.Operation)
	}
	if study != "" {
		text += " in " + study
	}
	text += ": " + e.Why
	if e.Times > 1 {
		text += fmt.Sprintf(", %d times since %s", e.Times, e.At.Format("15:04 on 2 January"))
	}
	return text + "."
}

// sightText says what a device saw or changed.
func (g *Gate) sightText(s access.Sight, name, study string) string {
	what := s.Operation
	if g.opt.Say != nil {
		what = cmp.Or(g.opt.Say(s.Operation), what)
	}
	text := fmt.Sprintf("%s: %s", cmp.Or(name, s.Device), what)
	if study != "" {
		text += " (" + study + ")"
	}
	if s.Times > 1 {
		text += fmt.Sprintf(", %d times since %s", s.Times, s.First.Format("15:04 on 2 January"))
	}
	return text + "."
}

func stamp(t time.Time) string { return t.Format(time.RFC3339) }
