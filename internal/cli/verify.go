package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"brinefield/internal/app"
)

// DifferenceError means that a check found a difference: exit 3.
type DifferenceError struct{ Err error }

func (e *DifferenceError) Error() string { return e.Err.Error() }

// Unwrap gives the cause.
func (e *DifferenceError) Unwrap() error { return e.Err }

type verifyCommand struct {
	studies
	Study string `arg:"" help:"Study: a name, or the path of its folder. Or a package: a zip, or the folder that one was unpacked into. Or the document of a schedule: a file that ends with .json, or - for standard input."`
	JSON  bool   `name:"json" help:"Print what was checked as one JSON document."`
}

func (c *verifyCommand) Run(ctx context.Context, out *Outside) error {
	if isSchedule(c.Study) {
		return verifySchedule(out, c.Study)
	}
	if out.IsPackage(c.Study) {
		return c.verifyPackage(ctx, out)
	}
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	doc, err := c.verify(ctx, out, place)
	var damaged *app.DamagedError
	switch {
	case errors.As(err, &damaged):
		doc = app.DamagedDocument(out.Program, place.Name, damaged)
	case err != nil:
		return inputError(err)
	}
	if err := c.print(out, doc); err != nil {
		return err
	}
	switch {
	case damaged != nil:
		return &DifferenceError{damaged}
	case !doc.Same:
		return &DifferenceError{fmt.Errorf("the study %s is not what its journal says: %s; keep the folder as it is, and restore a backup into a new folder", place.Name, plural(len(doc.Differences), "difference", "differences"))}
	}
	return nil
}

func (c *verifyCommand) verify(ctx context.Context, out *Outside, place Place) (doc app.VerifyDocument, err error) {
	folder, err := place.Shelf.Open(ctx, place.Name)
	if err != nil {
		return doc, err
	}
	defer func() { err = errors.Join(err, folder.Close()) }()
	return app.VerifyFolder(ctx, folder, out.studyOptions(ctx, place, analysis{Seed: 1}), out.Bar)
}

func (c *verifyCommand) print(out *Outside, doc app.VerifyDocument) error {
	if c.JSON {
		return printJSON(out, doc)
	}
	for _, what := range doc.Differences {
		fmt.Fprintf(out.Out, "Difference: %s.\n", what)
	}
	for _, note := range doc.Notes {
		fmt.Fprintf(out.Out, "Note: %s.\n", strings.TrimSuffix(note, "."))
	}
	for _, d := range doc.Devices {
		fmt.Fprintf(out.Out, "Device %s: %s, the last is %s.\n", d.Device, plural(int(d.Entries), "entry", "entries"), d.Head)
	}
	if doc.Same {
		fmt.Fprintf(out.Out, "The study %s is what its journal says: %s, %s, %s.\n", doc.Study,
			plural(int(doc.Entries), "entry", "entries"), plural(doc.Records, "record", "records"), plural(doc.Files, "file", "files"))
	}
	return nil
}

// verifyPackage checks the package of a dossier.
func (c *verifyCommand) verifyPackage(ctx context.Context, out *Outside) error {
	p, closer, err := openPackage(ctx, out, c.Study)
	if err != nil {
		return err
	}
	defer closer.Close()
	doc, err := app.CheckPackage(ctx, p, out.Program, out.Bar)
	if err != nil {
		return packageError(err)
	}
	if c.JSON {
		err = printJSON(out, doc)
	} else {
		err = printCheck(out.Out, doc)
	}
	if err == nil && !doc.Same {
		err = &DifferenceError{fmt.Errorf("the package %s is not what it was when it was made: %s", doc.Package, plural(len(doc.Differences), "difference", "differences"))}
	}
	return err
}

func printCheck(w io.Writer, doc app.DossierCheck) error {
	var b strings.Builder
	for _, what := range doc.Differences {
		fmt.Fprintf(&b, "Difference: %s.\n", strings.TrimSuffix(what, "."))
	}
	for _, note := range doc.Notes {
		fmt.Fprintf(&b, "Note: %s.\n", strings.TrimSuffix(note, "."))
	}
	if doc.Same {
		parts := make([]string, len(doc.Checked))
		for i, part := range doc.Checked {
			parts[i] = part.Part
		}
		fmt.Fprintf(&b, "The package %s is what it was when it was made, %s, by brinefield %s: %s; checked: %s.\n",
			doc.Package, doc.Made, doc.By.Version, plural(doc.Files, "file", "files"), strings.Join(parts, ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
