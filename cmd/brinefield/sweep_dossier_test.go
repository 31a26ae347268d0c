package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// openPrinter writes everything that a printer is given as plain text.
type openPrinter struct{}

func (openPrinter) Figure(f dossier.Figure, p app.FigurePrint) ([]byte, error) {
	return fmt.Appendf(nil, "%s %t %s %v %v", p.Format, p.Wide, f.Why, f.Caption, f.Panels), nil
}

func (openPrinter) text(d dossier.Document) ([]byte, error) { return json.MarshalIndent(d, "", " ") }

func (p openPrinter) HTML(d dossier.Document, _ []app.PrintedFigure) ([]byte, error) {
	return p.text(d)
}

func (p openPrinter) Markdown(d dossier.Document, _ []dossier.Figure) ([]byte, error) {
	return p.text(d)
}

func (p openPrinter) DOCX(d dossier.Document, _ []app.PrintedFigure) ([]byte, error) {
	return p.text(d)
}

func (p openPrinter) PDF(_ context.Context, d dossier.Document, _ []byte, _ []app.PrintedFigure) ([]byte, string, error) {
	data, err := p.text(d)
	return data, "nothing", err
}

func (openPrinter) Browser() string { return "" }

var anyHash = regexp.MustCompile(`[0-9a-f]{64}`)

// sweepPackage keeps every file of the package that the study makes as it stands.
// Where a file lists the hashes of others, these have one name.
func (w *world) sweepPackage(t *testing.T) {
	t.Helper()
	made, err := w.study.MakePackage(t.Context(), openPrinter{}, nil)
	if err != nil && !errors.Is(err, app.ErrIncomplete) {
		t.Fatal(err)
	}
	for _, f := range made.Files {
		text := string(f.Bytes)
		if f.Name == dossier.ChecksumsFile || f.Name == dossier.DescriptorFile {
			text = anyHash.ReplaceAllString(text, "«hash of a file»")
		}
		if strings.HasPrefix(f.Name, dossier.FiguresFolder) && len(text) > 1<<20 {
			t.Errorf("%s is %d bytes long", f.Name, len(text))
		}
		w.keep("package "+f.Name, text)
	}
	w.keep("package", fmt.Sprintf("%d files, %v, %q", len(made.Files), err, made.Lacks))
}
