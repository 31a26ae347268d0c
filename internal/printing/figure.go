package printing

import (
	"errors"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// Figure draws one figure.
func (p *Printer) Figure(f dossier.Figure, fp app.FigurePrint) ([]byte, error) {
	return nil, errors.New("not yet")
}
