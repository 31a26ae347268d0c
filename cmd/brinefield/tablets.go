package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/files"
	"brinefield/internal/gate"
	"brinefield/internal/httpapi"
)

// keysFolder is where this laptop keeps what tablets trust: the flag, else in
// this person's folder of settings. It lies outside every study and every
// folder of studies, so that no backup of them takes it along.
func keysFolder(flag string) (string, error) {
	if flag != "" {
		return filepath.Abs(flag)
	}
	settings, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("this machine does not say where your settings are (%w): name a folder for keys with --keys DIR", err)
	}
	return filepath.Join(settings, "brinefield", "deck"), nil
}

// newGate is the way in for tablets, shut; nil where this window never has one.
func newGate(studies *app.Studies, config httpapi.Config, opt cli.TabletOptions) (*gate.Gate, error) {
	shelf, ok := opt.Shelf.(*shelf)
	if !ok {
		return nil, nil
	}
	keys, err := keysFolder(opt.Keys)
	if err != nil && opt.Begin {
		return nil, &cli.UsageError{Err: err}
	}
	if err != nil {
		return nil, nil // the window opens all the same
	}
	return gate.New(gateOptions(studies, config, shelf, keys, opt)), nil
}

func gateOptions(studies *app.Studies, config httpapi.Config, shelf *shelf, keys string, opt cli.TabletOptions) gate.Options {
	said := httpapi.Summaries()
	return gate.Options{
		Keys: keys, Studies: studies, Only: opt.Only,
		Handler: func(g *gate.Gate) http.Handler {
			config := config
			config.Tablets = g
			return httpapi.ForTablets(config, g)
		},
		Lock:  func(dir string) (func() error, error) { return lockKeys(dir, shelf.clock()) },
		Free:  func() (uint64, error) { return files.FreeSpace(nearest(shelf.Dir)) },
		Clock: shelf.clock, Random: outside().Random,
		Say:  func(operation string) string { return said[operation] },
		Port: opt.TabletPort, Listen: opt.Listen,
	}
}

// lockKeys takes the folder of keys for this program: two that served from one
// list of devices would undo each other's revocations.
func lockKeys(dir string, now time.Time) (func() error, error) {
	lock, err := files.Acquire(dir, files.ThisWindow("Brinefield "+version, now))
	var held *files.LockedError
	switch {
	case errors.As(err, &held):
		who := ""
		if held.Holder.Process != 0 {
			who = fmt.Sprintf(" (process %d, since %s)", held.Holder.Process, held.Holder.Since.In(now.Location()).Format("15:04 on 2 January"))
		}
		return nil, fmt.Errorf("another window of the program lets tablets in, or is changing their list%s: use its page Deck › Tablets, or end it first", who)
	case err != nil:
		return nil, err
	}
	return lock.Release, nil
}

// beginTablets lets tablets in from the start, and says how they find the laptop.
func beginTablets(ctx context.Context, g *gate.Gate, opt cli.TabletOptions) error {
	if !opt.Begin {
		return nil
	}
	yes := true
	v, err := g.Change(ctx, app.TabletsRequest{Serve: &yes, Install: &opt.Install})
	if err != nil {
		return &cli.UsageError{Err: err}
	}
	var out strings.Builder
	fmt.Fprintf(&out, "Tablets are let in at:\n")
	for _, a := range v.Addresses {
		fmt.Fprintf(&out, "  %s/deck\n", a)
	}
	for _, a := range v.LeftOut {
		fmt.Fprintf(&out, "Not served, as it is no private address: %s\n", a)
	}
	fmt.Fprintf(&out, "They must trust this laptop: %s\nSHA-256: %s\n", strings.Join(v.Words, " "), v.Fingerprint)
	if v.Installing != "" {
		fmt.Fprintf(&out, "The page that installs this on a tablet, for 15 minutes: %s\n", v.Installing)
	}
	if opt.Code.Study != "" {
		code, err := g.Code(ctx, opt.Code)
		if err != nil {
			return &cli.UsageError{Err: err}
		}
		fmt.Fprintf(&out, "Code for one tablet, %s of %s, until %s: %s\n", code.Role, code.Study, code.Ends, code.Code)
	}
	fmt.Fprint(os.Stdout, out.String())
	return nil
}

// checkKeys looks at what tablets need: the folder of keys, a port, an address.
func checkKeys(flag string) []app.MachineCheck {
	const what = "tablets on a boat"
	dir, err := keysFolder(flag)
	if err != nil {
		return []app.MachineCheck{{What: what, Found: err.Error(), Remedy: "Name a folder that is yours alone with --keys DIR."}}
	}
	c := app.MachineCheck{What: what}
	c.OK, c.Found, c.Remedy = gate.Doctor(dir)
	c.Found = shortPath(dir) + ": " + c.Found
	return []app.MachineCheck{c}
}
