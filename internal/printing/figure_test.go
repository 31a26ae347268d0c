package printing_test

import (
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
	"brinefield/internal/printing"
)

// TestFigure prints the samples in every format and width.
func TestFigure(t *testing.T) {
	p := printing.New(printing.Options{})
	for _, f := range []dossier.Figure{fieldMap("map"), curves()} {
		for _, fp := range []app.FigurePrint{{Format: "svg"}, {Format: "pdf", Wide: true}} {
			if b, err := p.Figure(f, fp); err != nil || len(b) < 10_000 || len(b) > 150_000 {
				t.Errorf("%s %+v: %d bytes, %v; want 10 000 to 150 000", f.Name, fp, len(b), err)
			}
		}
	}
}
