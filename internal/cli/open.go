package cli

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"

	"brinefield/internal/app"
)

// window is how the app is shown.
type window struct {
	Port      int  `help:"Port on this machine; 0 takes a free one." default:"0"`
	NoBrowser bool `help:"Print the address and do not open the browser."`
}

type demoCommand struct {
	window
	Write string `help:"Write the demo season as a folder to look at or to edit, and stop." placeholder:"DIR" type:"path"`
}

// demoStudy is the name of the demo study.
const demoStudy = "demo"

func (c *demoCommand) Run(ctx context.Context, out *Outside) error {
	input, err := app.DemoSeason()
	if err != nil {
		return err
	}
	if c.Write != "" {
		if err := out.WriteFolder(c.Write, input, nil); err != nil {
			return badInput(err)
		}
		fmt.Fprintf(out.Err, "The demo season (invented data) is in %s. Show it with: brinefield open %s\n", c.Write, c.Write)
		return nil
	}
	dir, remove, err := out.Temporary()
	if err != nil {
		return badInput(err)
	}
	defer remove()
	return c.show(ctx, out, dir, input)
}

// show imports the demo season into a study that lasts as long as the window.
func (c *demoCommand) show(ctx context.Context, out *Outside, dir string, input app.Input) (err error) {
	place, err := out.Find(dir, demoStudy)
	if err != nil {
		return err
	}
	opt := out.studyOptions(ctx, place, analysis{Seed: 1})
	opt.ShelfName, opt.Invented = "a temporary folder: what you change in the demo is not kept", func(string) bool { return true }
	all := app.NewStudies(opt)
	defer func() { err = errors.Join(err, all.Close()) }()
	plan, err := all.Plan(ctx, app.PlanRequest{Files: app.Uploads(input)})
	if err != nil {
		return err
	}
	if _, err := all.Import(ctx, app.ImportRequest{Plan: plan.Plan, Study: demoStudy}); err != nil {
		return inputError(err)
	}
	study, err := all.Study(ctx, demoStudy)
	if err == nil {
		err = study.AddDemoFootage(ctx)
	}
	if err != nil {
		return inputError(err)
	}
	fmt.Fprintln(out.Err, "The demo study is invented data. What you change in it is not kept.")
	return out.Serve(ctx, all, ServeOptions{window: c.window})
}

type openCommand struct {
	studies
	keys
	window
	analysis
	What string `arg:"" optional:"" name:"study-or-season" help:"Study (a name, or the path of its folder), or a season folder, which is shown read-only. Without it: all your studies."`
}

func (c *openCommand) Run(ctx context.Context, out *Outside) error {
	if c.What == "" {
		place, err := out.Find(c.Studies, "")
		if err != nil {
			return badInput(err)
		}
		return c.show(ctx, out, place, "/")
	}
	place, season, err := studyOrSeason(out, c.studies, c.What)
	if err != nil {
		return err
	}
	if season == nil {
		return c.show(ctx, out, place, "/"+url.PathEscape(place.Name))
	}
	name := filepath.Base(c.What)
	loose := app.Open(ctx, name, season, false, c.analysis.options(out.Program))
	all := app.NewStudies(app.StudiesOptions{
		Seasons: map[string]*app.OpenSeason{name: loose}, ShelfName: name, Program: out.Program, Clock: out.Clock, Random: out.Random, Sealer: out.Sealer, Media: out.Media,
		Analyse: c.analysis.options(out.Program), Background: ctx,
	})
	return errors.Join(out.Serve(ctx, all, ServeOptions{window: c.window}), all.Close())
}

func (c *openCommand) show(ctx context.Context, out *Outside, place Place, start string) (err error) {
	all := app.NewStudies(out.studyOptions(ctx, place, c.analysis))
	defer func() { err = errors.Join(err, inputError(all.Close())) }()
	if start != "/" { // what is wrong with it is said here, not in a window
		if _, err := all.Study(ctx, place.Name); err != nil {
			return inputError(err)
		}
	}
	return out.Serve(ctx, all, ServeOptions{window: c.window, Start: start, Tablets: TabletOptions{Shelf: place.Shelf, Keys: c.Keys}})
}

// studyOrSeason finds out whether an argument names a study or a season folder.
func studyOrSeason(out *Outside, s studies, what string) (Place, app.Input, error) {
	place, err := s.place(out, what)
	if err == nil && place.Exists {
		return place, nil, nil
	}
	input, folderErr := out.ReadFolder(what)
	if folderErr == nil {
		return Place{}, input, nil
	}
	if !strings.ContainsAny(what, `/\`) && err == nil {
		folderErr = fmt.Errorf("there is no study %s in %s, and as a season folder: %w", place.Name, place.Folder, folderErr)
	}
	return Place{}, nil, badInput(folderErr)
}

type analyseCommand struct {
	studies
	analysis
	What string `arg:"" name:"study-or-season" help:"Season folder, or study (a name, or the path of its folder)."`
	JSON bool   `name:"json" help:"Print the whole document as JSON instead of a summary."`
	Only string `help:"Compute only these top-level keys of the document (comma separated): ${sections}." placeholder:"LIST"`
}

func (c *analyseCommand) Run(ctx context.Context, out *Outside) error {
	opt := c.analysis.options(out.Program)
	opt.Progress = out.Bar
	if c.Only != "" {
		opt.Only = strings.Split(c.Only, ",")
	}
	place, input, err := studyOrSeason(out, c.studies, c.What)
	if err != nil {
		return err
	}
	var found *app.Analysis
	if input == nil {
		err = withStudy(ctx, out, place, func(study *app.Study) error {
			found, err = study.AnalyseStudy(ctx, opt)
			return err
		})
	} else {
		found, err = analyseSeason(ctx, input, opt)
	}
	if err != nil {
		return stoppedOrFaults(err)
	}
	if c.JSON {
		return printJSON(out, found.Findings)
	}
	return printSummary(out.Out, found.Findings)
}

func analyseSeason(ctx context.Context, input app.Input, opt app.AnalyseOptions) (*app.Analysis, error) {
	s, err := app.ReadSeason(input)
	if err != nil {
		return nil, err
	}
	return app.Analyse(ctx, input, s, opt)
}

func stoppedOrFaults(err error) error {
	if errors.Is(err, app.ErrFaults) {
		return err
	}
	return stoppedOrInput(err)
}
