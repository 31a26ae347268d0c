package cli

import (
	"context"
	"errors"
	"fmt"
	"io"

	"brinefield/core/study"
	"brinefield/internal/app"
)

type importCommand struct {
	studies
	Season        string `arg:"" help:"Season folder, or a log that a tablet saved (….deck-log.jsonl)." type:"path"`
	Study         string `arg:"" help:"Study: a name, or the path of its folder. It is made of a season folder where it is not there yet."`
	Blind         bool   `help:"Keep sealed which pair was active until somebody opens it."`
	RemoveMissing bool   `help:"Withdraw from the study what the folder no longer holds."`
	Author        string `help:"Who imports; it is written beside every change." placeholder:"NAME"`
	Yes           bool   `help:"Import without asking."`
	JSON          bool   `name:"json" help:"Print what changes as one JSON document."`
}

func (c *importCommand) Run(ctx context.Context, out *Outside) error {
	if log, err := out.ReadFile(c.Season); err == nil && app.IsDeckLog(log) { // a folder cannot be read as a file
		return c.importLog(ctx, out, log)
	}
	input, err := out.ReadFolder(c.Season)
	if err != nil {
		return badInput(err)
	}
	if _, err := app.ReadSeason(input); err != nil {
		return err
	}
	place, err := c.place(out, c.Study)
	if err != nil {
		return err
	}
	studies := app.NewStudies(out.studyOptions(ctx, place, analysis{Seed: 1}))
	doc, err := c.carryOut(ctx, out, studies, place, input)
	err = errors.Join(err, studies.Close())
	if err == nil || doc.Plan.Plan != "" && c.JSON {
		err = errors.Join(err, c.print(out, doc))
	}
	return err
}

// importLog takes in what a tablet saved. It only adds, so that nobody is asked.
func (c *importCommand) importLog(ctx context.Context, out *Outside, log []byte) error {
	if c.Blind || c.RemoveMissing {
		return badInput(errors.New("--blind and --remove-missing are for a season folder, and this is the log of a tablet: leave them out"))
	}
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	var done app.DeckImported
	if err := withStudy(ctx, out, place, func(study *app.Study) error {
		done, err = study.DeckImport(ctx, app.DeckImportRequest{File: string(log), Author: c.Author})
		return err
	}); err != nil {
		return inputError(err)
	}
	if c.JSON {
		err = printJSON(out, done)
	} else {
		c.printLog(out.Out, place.Name, done)
	}
	if err == nil && len(done.Faults) > 0 {
		err = &DifferenceError{fmt.Errorf("%s is not whole: what is whole in it was taken in", inputName(c.Season))}
	}
	return err
}

func (c *importCommand) printLog(w io.Writer, study string, done app.DeckImported) {
	fmt.Fprintf(w, "Taken into the study %s: %s, %s that they refer to; here already: %s.\n", study,
		plural(done.New, "entry", "entries"), plural(done.Blobs, "thing", "things"), plural(done.Known, "entry", "entries"))
	for _, fault := range done.Faults {
		fmt.Fprintf(w, "Not whole: %s.\n", fault)
	}
	for _, note := range done.Notes {
		fmt.Fprintf(w, "Note: %s.\n", note)
	}
}

// carryOut plans, shows the difference to an existing study, asks, imports.
func (c *importCommand) carryOut(ctx context.Context, out *Outside, studies *app.Studies, place Place, input app.Input) (app.ImportDocument, error) {
	doc := app.NewImportDocument(out.Program, input, place.Name, !place.Exists)
	request := app.PlanRequest{Files: app.Uploads(input)}
	if place.Exists {
		request.Study = place.Name
	}
	plan, err := studies.Plan(ctx, request)
	if err != nil {
		return doc, inputError(err)
	}
	doc.Take(plan)
	if place.Exists {
		if !doc.Moves(c.RemoveMissing) {
			return doc, nil
		}
		if !c.JSON {
			printPlan(out.Out, plan, c.RemoveMissing)
		}
		if err := c.agree(out, place.Name); err != nil {
			return doc, err
		}
	}
	done, err := studies.Import(ctx, app.ImportRequest{
		Plan: plan.Plan, Study: place.Name, Blind: c.Blind, RemoveMissing: c.RemoveMissing, Author: c.Author,
	})
	if err != nil {
		return doc, inputError(err)
	}
	doc.Done, doc.Entries = true, done.Entries
	return doc, nil
}

// agree asks whether to go on.
func (c *importCommand) agree(out *Outside, name string) error {
	if c.Yes {
		return nil
	}
	yes, asked := out.Ask(fmt.Sprintf("Write these changes into the study %s?", name))
	switch {
	case !asked:
		return badInput(fmt.Errorf("this changes the study %s and nobody is there to ask: add --yes to import; nothing was changed", name))
	case !yes:
		return badInput(errors.New("nothing was changed"))
	}
	return nil
}

func (c *importCommand) print(out *Outside, doc app.ImportDocument) error {
	if c.JSON {
		return printJSON(out, doc)
	}
	switch {
	case doc.New:
		fmt.Fprintf(out.Out, "The study %s was made: %s.\n", doc.Study, plural(doc.Entries, "entry", "entries"))
	case !doc.Done:
		fmt.Fprintf(out.Out, "The study %s holds all of this already: nothing was changed.\n", doc.Study)
	default:
		fmt.Fprintf(out.Out, "Written into the study %s: %s.\n", doc.Study, plural(doc.Entries, "entry", "entries"))
	}
	for _, warning := range doc.Warnings {
		fmt.Fprintf(out.Out, "Note: %s.\n", warning)
	}
	return nil
}

// printPlan shows what would change: counts by table, then every value.
func printPlan(w io.Writer, plan app.PlanView, removeMissing bool) {
	missing := 0
	for _, t := range plan.Tables {
		missing += t.Missing
		if t.Added+t.Changed+t.Missing > 0 {
			fmt.Fprintf(w, "%s: %d new, %d changed, %d the same, %d not in the folder\n", t.Kind, t.Added, t.Changed, t.Same, t.Missing)
		}
	}
	for _, change := range plan.Changes {
		fmt.Fprintln(w, changeLine(change))
	}
	if plan.More > 0 {
		fmt.Fprintf(w, "and %d more\n", plan.More)
	}
	switch {
	case missing > 0 && removeMissing:
		fmt.Fprintf(w, "Records that the folder no longer holds are withdrawn: %d.\n", missing)
	case missing > 0:
		fmt.Fprintf(w, "Records that the folder no longer holds are kept: %d (--remove-missing withdraws them).\n", missing)
	}
}

// changeLine is one change as file:kind id field: from → to.
func changeLine(c app.PlanChange) string {
	what := c.Kind
	if c.ID != "" {
		what += " " + c.ID
	}
	if c.Field != "" {
		what += " " + c.Field
	}
	line := fileOf(study.Kind(c.Kind)) + ":" + what
	switch {
	case c.Act == "record" && c.Field == "":
		return line + ": new"
	case c.Act == "remove":
		return line + ": withdrawn"
	case c.From == "" && c.To == "":
		return line + ": changed"
	}
	return fmt.Sprintf("%s: %s → %s", line, orBlank(c.From), orBlank(c.To))
}

func orBlank(text string) string {
	if text == "" {
		return "(blank)"
	}
	return text
}

// fileOf is the file of a season folder in which a kind of record stands.
func fileOf(kind study.Kind) string {
	switch kind {
	case study.KindCast:
		return "water.csv"
	case study.KindTrial, study.KindAssignment:
		return "trials.csv"
	case study.KindIndividual:
		return "individuals.csv"
	case study.KindClip:
		return "clips.csv"
	case study.KindPass:
		return "passes.csv"
	case study.KindTrack:
		return "tracks.csv"
	}
	return "study.toml"
}
