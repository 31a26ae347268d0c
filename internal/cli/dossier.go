package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

type dossierCommand struct {
	studies
	analysis
	What string `arg:"" name:"what" help:"Study (a name, or the path of its folder) or season folder to make a package of. With --again or --against: a package, a zip or the folder that one was unpacked into."`

	Again   bool   `help:"Work a package out again from its raw tables and print what comes out otherwise; exit status 3 where anything does." xor:"do"`
	Against string `help:"A newer package: print what changed since, by number and by cause." placeholder:"PACKAGE" type:"path" xor:"do"`

	To         string   `help:"New file for the package, ending in .zip. Without it and the next three, the package of a study is kept beside the study." placeholder:"FILE.zip" type:"path"`
	Report     []string `help:"New file for the report, .pdf or .html, or for methods and results, .md or .docx; may be given again." placeholder:"FILE" sep:"none" type:"path"`
	Figures    string   `help:"New folder for the figures." placeholder:"DIR" type:"path"`
	DarwinCore string   `help:"New file for the Darwin Core Archive alone." placeholder:"FILE.zip" type:"path"`
	Replace    bool     `help:"Replace files that are there already."`
	Browser    string   `help:"Browser that prints the PDF (a Chromium or Edge); none: this program sets it itself, plainer. Without it one is looked for." placeholder:"PATH"`

	CoarsenKm    float64 `name:"coarsen-km" help:"Move coordinates to the middle of a square of this edge." placeholder:"KM"`
	PlaceName    string  `help:"Name of the site in the package." placeholder:"TEXT"`
	Licence      string  `help:"Licence: CC-BY-4.0, CC0-1.0, CC-BY-NC-4.0 or ODC-By-1.0." placeholder:"ID"`
	Names        string  `help:"Whose names stand in the package: authors alone, others by number, or all." enum:",authors,all" default:""`
	WithoutNotes bool    `help:"Leave free text of trials and passes out."`
	Photos       bool    `help:"Take photos in, cleaned of place and person."`
}

func (c *dossierCommand) Run(ctx context.Context, out *Outside) error {
	switch {
	case c.Again:
		return c.again(ctx, out)
	case c.Against != "":
		return c.compare(ctx, out)
	case out.IsPackage(c.What):
		return badInput(fmt.Errorf("%s is a package: add --again to work it out again or --against another to compare, or check it with brinefield verify", c.What))
	}
	return c.make(ctx, out)
}

// openPackage opens a package and reads all of it once.
func openPackage(ctx context.Context, out *Outside, path string) (*app.Package, io.Closer, error) {
	p, closer, err := out.OpenPackage(path)
	if err != nil {
		return nil, nil, badInput(err)
	}
	if err := p.Scan(ctx, out.Bar); err != nil {
		return nil, nil, errors.Join(stoppedOrInput(err), closer.Close())
	}
	return p, closer, nil
}

func (c *dossierCommand) again(ctx context.Context, out *Outside) error {
	p, closer, err := openPackage(ctx, out, c.What)
	if err != nil {
		return err
	}
	defer closer.Close()
	doc, err := app.WorkOutAgain(ctx, p, out.Program, out.Printer("none"), out.Bar)
	if err != nil {
		return packageError(err)
	}
	if err := printJSON(out, doc); err != nil {
		return err
	}
	if !doc.Same {
		return &DifferenceError{fmt.Errorf("the package %s does not come out the same when it is worked out again: %s", p.Name, plural(len(doc.Differences)+doc.More, "difference", "differences"))}
	}
	return nil
}

func (c *dossierCommand) compare(ctx context.Context, out *Outside) error {
	old, oldCloser, err := openPackage(ctx, out, c.What)
	if err != nil {
		return err
	}
	defer oldCloser.Close()
	young, youngCloser, err := openPackage(ctx, out, c.Against)
	if err != nil {
		return err
	}
	defer youngCloser.Close()
	doc, err := app.ComparePackages(ctx, old, young, out.Program, out.Bar)
	if err != nil {
		return packageError(err)
	}
	return printJSON(out, doc)
}

// packageError marks what the package, or who stopped the program, has to answer
// for.
func packageError(err error) error {
	var faults *app.FaultsError
	if errors.Is(err, app.ErrNoPackage) || errors.As(err, &faults) {
		return badInput(err)
	}
	return err
}

// reportFiles are what a report is written of, by the ending of its name.
var reportFiles = map[string]string{
	".pdf": dossier.ReportPDF, ".html": dossier.ReportHTML, ".md": dossier.MethodsMD, ".docx": dossier.MethodsDOCX,
}

// check looks at what was asked for before minutes of work.
func (c *dossierCommand) check(out *Outside) error {
	var lines []string
	wrong := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	for _, zip := range []string{c.To, c.DarwinCore} {
		if zip != "" && !strings.EqualFold(filepath.Ext(zip), ".zip") {
			wrong("%s: expected a file that ends with .zip", zip)
		}
	}
	files := map[string]bool{}
	for _, file := range append([]string{c.To, c.DarwinCore}, c.Report...) {
		if file == "" {
			continue
		}
		if files[file] {
			wrong("%s is named twice; expected a file for each", file)
		}
		files[file] = true
		if err := out.FreeToWrite(file, c.Replace); err != nil {
			wrong("%v", err)
		}
	}
	for _, file := range c.Report {
		if reportFiles[strings.ToLower(filepath.Ext(file))] == "" {
			wrong("--report %s: expected a file that ends with .pdf, .html, .md or .docx", file)
		}
	}
	if c.CoarsenKm < 0 || c.CoarsenKm > 500 {
		wrong("--coarsen-km %g: expected 0 to 500 km", c.CoarsenKm)
	}
	if c.Licence != "" && !slices.Contains(app.Licences, c.Licence) {
		wrong("--licence %q: expected one of %s", c.Licence, strings.Join(app.Licences, ", "))
	}
	if len(lines) > 0 {
		return badInput(errors.New(strings.Join(lines, "\n")))
	}
	return nil
}

// choose puts what the flags say in the place of what the study says.
func (c *dossierCommand) choose(to *dossier.Choices) {
	if c.CoarsenKm > 0 {
		to.CoarsenKm = c.CoarsenKm
	}
	for _, text := range []struct {
		flag string
		to   *string
	}{{c.PlaceName, &to.PlaceName}, {c.Licence, &to.Licence}, {c.Names, &to.NamesOf}} {
		if text.flag != "" {
			*text.to = text.flag
		}
	}
	to.WithoutNotes = to.WithoutNotes || c.WithoutNotes
	to.Photos = to.Photos || c.Photos
}

func (c *dossierCommand) make(ctx context.Context, out *Outside) error {
	if err := c.check(out); err != nil {
		return err
	}
	place, season, err := studyOrSeason(out, c.studies, c.What)
	if err != nil {
		return err
	}
	printer := out.Printer(c.Browser)
	if season == nil {
		return c.ofStudy(ctx, out, place, printer)
	}
	if c.To == "" && len(c.Report) == 0 && c.Figures == "" && c.DarwinCore == "" {
		return badInput(fmt.Errorf("%s is a season folder, beside which no packages are kept: name a file with --to", c.What))
	}
	opt := c.analysis.options(out.Program)
	opt.Progress = out.Bar
	choices := dossier.Choices{}
	c.choose(&choices)
	made, h, err := app.MakeSeasonPackage(ctx, season, filepath.Base(filepath.Clean(c.What)), out.Clock(), opt, choices, printer)
	if err != nil {
		return stoppedOrFaults(err)
	}
	return c.write(ctx, out, &made, h, nil)
}

func (c *dossierCommand) ofStudy(ctx context.Context, out *Outside, place Place, printer app.DossierPrinter) (err error) {
	all := app.NewStudies(out.studyOptions(ctx, place, c.analysis))
	defer func() { err = errors.Join(err, inputError(all.Close())) }()
	study, err := all.Study(ctx, place.Name)
	if err != nil {
		return inputError(err)
	}
	made, h, err := study.MakePackageAs(ctx, printer, c.choose, out.Bar)
	if err != nil {
		return stoppedOrFaults(inputError(err))
	}
	return c.write(ctx, out, &made, h, study)
}

// write writes what was asked for, and prints the document. study is nil for a
// season folder.
func (c *dossierCommand) write(ctx context.Context, out *Outside, made *app.MadePackage, h dossier.Heading, study *app.Study) (err error) {
	name := ""
	switch {
	case c.To != "":
		name = filepath.Base(c.To)
		if err := out.WriteWhole(c.To, c.Replace, func(w io.Writer) error { return app.WritePackage(w, made.Files) }); err != nil {
			return stoppedOrInput(err)
		}
	case study != nil && len(c.Report) == 0 && c.Figures == "" && c.DarwinCore == "":
		if name, err = study.KeepPackage(ctx, *made); err != nil {
			return inputError(err)
		}
	}
	for _, file := range c.Report {
		data := made.File(reportFiles[strings.ToLower(filepath.Ext(file))])
		if data == nil {
			return badInput(fmt.Errorf("%s: nothing printed the report on this machine; write it as .html", file))
		}
		if err := out.WriteWhole(file, c.Replace, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
			return stoppedOrInput(err)
		}
	}
	if c.DarwinCore != "" {
		if err := out.WriteWhole(c.DarwinCore, c.Replace, made.DarwinCore); err != nil {
			return stoppedOrInput(err)
		}
	}
	if c.Figures != "" {
		if err := out.WriteFolder(c.Figures, made.Below(dossier.FiguresFolder), nil); err != nil {
			return stoppedOrInput(err)
		}
	}
	doc, err := made.Document(h, out.Program, name)
	if err != nil {
		return err
	}
	return printJSON(out, doc)
}
