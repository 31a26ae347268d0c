package app

import (
	"context"
	"io"
)

// Dossier answers [ErrLooseSeason].
func (l *LooseSeason) Dossier(context.Context) (DossierView, error) {
	return DossierView{}, ErrLooseSeason
}

// DossierPreview answers [ErrLooseSeason].
func (l *LooseSeason) DossierPreview(context.Context) (DossierPreview, error) {
	return DossierPreview{}, ErrLooseSeason
}

// DossierMake answers [ErrLooseSeason].
func (l *LooseSeason) DossierMake(context.Context, DossierMakeRequest) (DossierView, error) {
	return DossierView{}, ErrLooseSeason
}

// DossierStop answers [ErrLooseSeason].
func (l *LooseSeason) DossierStop(context.Context) (DossierView, error) {
	return DossierView{}, ErrLooseSeason
}

// DossierRemove answers [ErrLooseSeason].
func (l *LooseSeason) DossierRemove(context.Context, DossierNameRequest) (DossierView, error) {
	return DossierView{}, ErrLooseSeason
}

// DossierCheck answers [ErrLooseSeason].
func (l *LooseSeason) DossierCheck(context.Context, DossierNameRequest) (DossierCheckView, error) {
	return DossierCheckView{}, ErrLooseSeason
}

// DossierCompare answers [ErrLooseSeason].
func (l *LooseSeason) DossierCompare(context.Context, DossierCompareRequest) (DossierDifference, error) {
	return DossierDifference{}, ErrLooseSeason
}

// DossierFigure answers [ErrLooseSeason].
func (l *LooseSeason) DossierFigure(context.Context, string, FigurePrint) (DossierFile, error) {
	return DossierFile{}, ErrLooseSeason
}

// DossierFile answers [ErrLooseSeason].
func (l *LooseSeason) DossierFile(context.Context, string, string) (DossierFile, error) {
	return DossierFile{}, ErrLooseSeason
}

// DossierUpload answers [ErrLooseSeason].
func (l *LooseSeason) DossierUpload(context.Context, io.Reader) (string, error) {
	return "", ErrLooseSeason
}
