package app

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"brinefield/core/dossier"
)

// widths are those in which every figure is printed, with the word in its name.
var widths = []struct {
	name string
	wide bool
}{{"single", false}, {"double", true}}

var figureMedia = map[string]string{"svg": "image/svg+xml", "pdf": "application/pdf", "png": "image/png"}

var figureFormats = []string{"svg", "pdf", "png"}

// BuildDossier makes all files of a package of its input, sorted by name. again
// leaves the report's PDF out, which no two prints make alike; all else is the
// same bytes for the same input, on any number of cores.
//
// Errors: that of ctx; a figure or text that cannot be printed, named.
func BuildDossier(ctx context.Context, in dossier.Input, h dossier.Heading, p DossierPrinter, again bool, progress func(stage string, done, total int)) ([]dossier.File, error) {
	if progress == nil {
		progress = func(string, int, int) {}
	}
	progress("Data", 0, 1)
	out, err := dossier.DataFiles(in)
	if err != nil {
		return nil, err
	}
	progress("Data", 1, 1)
	figures := dossier.Figures(in)
	printed, pictures, err := printFigures(ctx, figures, p, progress)
	if err != nil {
		return nil, err
	}
	out = append(out, pictures...)
	captions, err := p.Markdown(captionsOf(in, figures), figures)
	if err != nil {
		return nil, fmt.Errorf("the captions of the figures: %w", err)
	}
	out = append(out, dossier.File{Name: dossier.FiguresFolder + "captions.md", Bytes: captions, Media: "text/markdown", What: "Captions of all figures."})
	texts, how, err := printTexts(ctx, in, figures, printed, p, again, progress)
	if err != nil {
		return nil, err
	}
	if !again {
		h.PDF = how
	}
	files, err := dossier.Wrap(in, h, append(out, texts...))
	if err != nil {
		return nil, err
	}
	return files, ctx.Err()
}

// printFigures prints every figure that can be drawn in every width and format, on
// all cores, with the numbers that are drawn.
func printFigures(ctx context.Context, figures []dossier.Figure, p DossierPrinter, progress func(string, int, int)) ([]PrintedFigure, []dossier.File, error) {
	type task struct {
		figure int
		width  int
		format string
	}
	var tasks []task
	for i := range figures {
		if figures[i].Why != "" {
			continue
		}
		for w := range widths {
			for _, format := range figureFormats {
				tasks = append(tasks, task{i, w, format})
			}
		}
	}
	pictures, errs := make([][]byte, len(tasks)), make([]error, len(tasks))
	var mu sync.Mutex
	done := 0
	progress("Figures", 0, len(tasks))
	inParallel(len(tasks), func(i int) {
		if ctx.Err() != nil {
			return
		}
		t := tasks[i]
		pictures[i], errs[i] = p.Figure(figures[t.figure], FigurePrint{Format: t.format, Wide: widths[t.width].wide})
		mu.Lock()
		defer mu.Unlock()
		done++
		progress("Figures", done, len(tasks))
	})
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	printed := make([]PrintedFigure, len(figures))
	for i := range figures {
		printed[i].Figure = figures[i]
	}
	var out []dossier.File
	for i, t := range tasks {
		f := &figures[t.figure]
		if errs[i] != nil {
			return nil, nil, fmt.Errorf("figure %s as %s: %w", f.Name, t.format, errs[i])
		}
		width := widths[t.width]
		out = append(out, dossier.File{
			Name: dossier.FiguresFolder + f.Name + "-" + width.name + "." + t.format, Bytes: pictures[i], Media: figureMedia[t.format],
			What: fmt.Sprintf("Figure: %s; %s column, %s.", f.Title, width.name, strings.ToUpper(t.format)),
		})
		switch {
		case width.wide && t.format == "svg":
			printed[t.figure].SVG = pictures[i]
		case width.wide && t.format == "png":
			printed[t.figure].PNG = pictures[i]
		}
	}
	for i := range figures {
		f := &figures[i]
		if f.Why != "" {
			continue
		}
		for n := range f.Data {
			name := f.Name
			if n > 0 {
				name = fmt.Sprintf("%s-%d", f.Name, n+1)
			}
			out = append(out, dossier.File{
				Name: dossier.FiguresFolder + name + ".csv", Bytes: f.Data[n].CSV(), Media: "text/csv",
				What:    fmt.Sprintf("What figure %s draws: %s.", f.Name, cmp.Or(f.Data[n].Title, f.Title)),
				Columns: f.Data[n].Columns,
			})
		}
	}
	return printed, out, nil
}

// captionsOf is a document of all captions.
func captionsOf(in dossier.Input, figures []dossier.Figure) dossier.Document {
	d := dossier.Document{Title: "Figures", Invented: in.Invented}
	for i := range figures {
		f := &figures[i]
		d.Blocks = append(d.Blocks, dossier.Block{Kind: dossier.HeadingBlock, Level: 1, Text: []dossier.Run{{Text: f.Title}}})
		if f.Why != "" {
			d.Blocks = append(d.Blocks, dossier.Block{Kind: dossier.ParagraphBlock, Text: []dossier.Run{{Text: "There is no such figure: " + f.Why + "."}}})
			continue
		}
		d.Blocks = append(d.Blocks,
			dossier.Block{Kind: dossier.ParagraphBlock, Text: []dossier.Run{{Text: f.Name, Style: dossier.Code}}},
			dossier.Block{Kind: dossier.ParagraphBlock, Text: f.Caption})
	}
	return d
}

// printTexts prints the report and the text of methods and results; how says what
// printed the PDF.
func printTexts(ctx context.Context, in dossier.Input, figures []dossier.Figure, printed []PrintedFigure, p DossierPrinter, again bool, progress func(string, int, int)) (out []dossier.File, how string, err error) {
	const steps = 4
	progress("Report", 0, steps)
	add := func(name, media, what string, data []byte, err error) error {
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, dossier.File{Name: name, Bytes: data, Media: media, What: what})
		progress("Report", len(out), steps)
		return ctx.Err()
	}
	methods := dossier.Methods(in, figures)
	data, err := p.Markdown(methods, figures)
	if err := add(dossier.MethodsMD, "text/markdown", "Methods and results, for a manuscript.", data, err); err != nil {
		return nil, "", err
	}
	data, err = p.DOCX(methods, printed)
	if err := add(dossier.MethodsDOCX, "application/vnd.openxmlformats-officedocument.wordprocessingml.document", "Methods and results, for a word processor.", data, err); err != nil {
		return nil, "", err
	}
	report := dossier.Report(in, figures)
	page, err := p.HTML(report, printed)
	if err := add(dossier.ReportHTML, "text/html", "The report, as one page that needs no other file.", page, err); err != nil {
		return nil, "", err
	}
	if again {
		return out, "", nil
	}
	data, how, err = p.PDF(ctx, report, page, printed)
	if ctx.Err() != nil {
		return nil, "", ctx.Err()
	}
	err = add(dossier.ReportPDF, "application/pdf", "The report, for paper.", data, err)
	return out, how, err
}

// noTime is the first time that a zip can tell.
var noTime = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// WritePackage writes the files of a package as a zip, in byte order of names and
// with one time for all, so that the same files give the same bytes.
func WritePackage(w io.Writer, files []dossier.File) error {
	order := slices.Clone(files)
	slices.SortFunc(order, func(a, b dossier.File) int { return strings.Compare(a.Name, b.Name) })
	z := zip.NewWriter(w)
	for i := range order {
		f, err := z.CreateHeader(&zip.FileHeader{Name: order[i].Name, Method: zip.Deflate, Modified: noTime})
		if err != nil {
			return err
		}
		if _, err := io.Copy(f, bytes.NewReader(order[i].Bytes)); err != nil {
			return err
		}
	}
	return z.Close()
}
