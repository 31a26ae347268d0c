package cli

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"brinefield/internal/app"
)

// keys is the flag that names the folder of what lets tablets trust this laptop.
type keys struct {
	Keys string `help:"Folder of the keys that tablets trust, and of the list of tablets (default: brinefield/deck in your folder of settings)." placeholder:"DIR" type:"path"`
}

// tabletPorts say where tablets are answered.
type tabletPorts struct {
	TabletPort int    `help:"Port for tablets; it is kept for the next time (default: that of the last time, at first 8443)." placeholder:"PORT"`
	Listen     string `help:"Answer tablets on this one address and port only, such as 127.0.0.1:0 for a test." placeholder:"ADDRESS:PORT"`
}

type serveCommand struct {
	studies
	keys
	window
	analysis
	tabletPorts
	Install bool     `help:"Open the page that makes a tablet trust this laptop, for 15 minutes."`
	Code    string   `help:"Print a code that lets one tablet in: the study, a colon, and lead, operator, scorer or guest." placeholder:"STUDY:ROLE"`
	Names   []string `arg:"" optional:"" name:"study" help:"Studies that tablets can reach: names, or paths of folders in one place. Without any: all in which they have a role."`
}

func (c *serveCommand) Run(ctx context.Context, out *Outside) (err error) {
	place, err := c.place(out, "")
	if err != nil {
		return err
	}
	tablets := TabletOptions{Keys: c.Keys, Begin: true, tabletPorts: c.tabletPorts, Install: c.Install}
	for i, name := range c.Names {
		one, err := c.existing(out, name)
		if err != nil {
			return err
		}
		if i > 0 && one.Folder != place.Folder {
			return badInput(fmt.Errorf("%s lies in %s, and the studies before in %s: studies of one place are served together", one.Name, one.Folder, place.Folder))
		}
		place, tablets.Only = one, append(tablets.Only, one.Name)
	}
	if tablets.Code, err = pairingOf(c.Code); err != nil {
		return err
	}
	if study := tablets.Code.Study; study != "" && len(tablets.Only) > 0 && !slices.Contains(tablets.Only, study) {
		return badInput(fmt.Errorf("--code is for %s, which is not among the studies that are served: %s", study, strings.Join(tablets.Only, ", ")))
	}
	tablets.Shelf = place.Shelf
	all := app.NewStudies(out.studyOptions(ctx, place, c.analysis))
	defer func() { err = errors.Join(err, inputError(all.Close())) }()
	for _, name := range tablets.Only { // what is wrong with them is said here, not on a tablet
		if _, err := all.Study(ctx, name); err != nil {
			return inputError(err)
		}
	}
	start := "/"
	if len(tablets.Only) == 1 {
		start += url.PathEscape(tablets.Only[0])
	}
	return inputError(out.Serve(ctx, all, ServeOptions{window: c.window, Start: start, Tablets: tablets}))
}

// pairingOf reads STUDY:ROLE. A study's name holds no colon.
func pairingOf(text string) (app.PairingRequest, error) {
	if text == "" {
		return app.PairingRequest{}, nil
	}
	study, role, found := strings.Cut(text, ":")
	if !found || study == "" || !slices.Contains([]string{"lead", "operator", "scorer", "guest"}, role) {
		return app.PairingRequest{}, badInput(fmt.Errorf("--code %q: expected a study, a colon, and lead, operator, scorer or guest, such as bay:scorer", text))
	}
	return app.PairingRequest{Study: study, Role: role}, nil
}
