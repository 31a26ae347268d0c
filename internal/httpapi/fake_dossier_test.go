package httpapi_test

import (
	"context"
	"io"

	"brinefield/internal/app"
)

func (fakeStudy) Dossier(context.Context) (app.DossierView, error) { return app.DossierView{}, nil }

func (fakeStudy) DossierPreview(context.Context) (app.DossierPreview, error) {
	return app.DossierPreview{}, nil
}

func (fakeStudy) DossierMake(context.Context, app.DossierMakeRequest) (app.DossierView, error) {
	return app.DossierView{}, nil
}

func (fakeStudy) DossierStop(context.Context) (app.DossierView, error) { return app.DossierView{}, nil }

func (fakeStudy) DossierRemove(context.Context, app.DossierNameRequest) (app.DossierView, error) {
	return app.DossierView{}, nil
}

func (fakeStudy) DossierCheck(context.Context, app.DossierNameRequest) (app.DossierCheckView, error) {
	return app.DossierCheckView{}, nil
}

func (fakeStudy) DossierCompare(context.Context, app.DossierCompareRequest) (app.DossierDifference, error) {
	return app.DossierDifference{}, nil
}

func (fakeStudy) DossierFigure(_ context.Context, name string, p app.FigurePrint) (app.DossierFile, error) {
	return app.DossierFile{Name: name + "." + p.Format, Media: "image/svg+xml", Bytes: []byte(name)}, nil
}

func (fakeStudy) DossierFile(_ context.Context, pack, name string) (app.DossierFile, error) {
	return app.DossierFile{Name: pack, Media: "application/zip", Bytes: []byte(name)}, nil
}

func (fakeStudy) DossierUpload(_ context.Context, from io.Reader) (string, error) {
	_, err := io.Copy(io.Discard, from)
	return "token", err
}
