package app

import (
	"context"
	"errors"
	"io"

	"brinefield/core/dossier"
)

var errSoon = errors.New("soon")

// BuildDossier makes all files of a package of its input. again leaves the
// report's PDF out, which no two prints make alike.
func BuildDossier(ctx context.Context, in dossier.Input, h dossier.Heading, p DossierPrinter, again bool, progress func(stage string, done, total int)) ([]dossier.File, error) {
	return nil, errSoon
}

// Dossier is the page Dossier.
func (s *Study) Dossier(ctx context.Context) (DossierView, error) { return DossierView{}, errSoon }

// DossierPreview is the dossier as it would be made now.
func (s *Study) DossierPreview(ctx context.Context) (DossierPreview, error) {
	return DossierPreview{}, errSoon
}

// DossierMake begins a dossier, in the background.
func (s *Study) DossierMake(ctx context.Context, in DossierMakeRequest) (DossierView, error) {
	return DossierView{}, errSoon
}

// DossierStop ends the making, or dismisses what is said of one that broke off.
func (s *Study) DossierStop(ctx context.Context) (DossierView, error) { return DossierView{}, errSoon }

// DossierRemove takes a package away that was made.
func (s *Study) DossierRemove(ctx context.Context, in DossierNameRequest) (DossierView, error) {
	return DossierView{}, errSoon
}

// DossierCheck checks a package that was made or sent.
func (s *Study) DossierCheck(ctx context.Context, in DossierNameRequest) (DossierCheckView, error) {
	return DossierCheckView{}, errSoon
}

// DossierCompare says what changed between two packages, and why.
func (s *Study) DossierCompare(ctx context.Context, in DossierCompareRequest) (DossierDifference, error) {
	return DossierDifference{}, errSoon
}

// DossierFigure prints one figure as things stand.
func (s *Study) DossierFigure(ctx context.Context, name string, p FigurePrint) (DossierFile, error) {
	return DossierFile{}, errSoon
}

// DossierFile gives a package that was made, or one file in it; name "" is the
// package, "darwin-core.zip" its Darwin Core Archive alone.
func (s *Study) DossierFile(ctx context.Context, pack, name string) (DossierFile, error) {
	return DossierFile{}, errSoon
}

// DossierUpload keeps a package that the browser sends, to be checked or compared.
func (s *Study) DossierUpload(ctx context.Context, from io.Reader) (token string, err error) {
	return "", errSoon
}
