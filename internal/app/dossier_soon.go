package app

import (
	"context"
	"errors"
	"io"

	"brinefield/core/dossier"
)

var errSoon = errors.New("soon")

// DossierChoices are what a dossier is made with, beside what the study holds.
type DossierChoices struct {
	Heading dossier.Heading // Format, Name, Program, Made, Spec, People, Seed, Old, Invented
}

// dossierInputOf makes the input of a dossier of the raw parts of a package: it
// reads the season, analyses it, and works out maps and ranges. Study, season
// folder and package alike go through here, so that a package that is worked out
// again takes the same way.
func dossierInputOf(ctx context.Context, h dossier.Heading, parts DossierParts, progress func(stage string, done, total int)) (dossier.Input, error) {
	return dossier.Input{}, errSoon
}

// DossierParts are the raw parts: names below their folders.
type DossierParts struct {
	Season Input             // season/
	Beside map[string][]byte // study/, without facts.json
	Facts  dossier.Facts     // study/facts.json
	Photos map[string][]byte // photos/
}

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
