package httpapi

import (
	"context"
	"io"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Dossier is what the server needs of a study for its dossiers.
type Dossier interface {
	Dossier(ctx context.Context) (app.DossierView, error)
	DossierPreview(ctx context.Context) (app.DossierPreview, error)
	DossierMake(ctx context.Context, in app.DossierMakeRequest) (app.DossierView, error)
	DossierStop(ctx context.Context) (app.DossierView, error)
	DossierRemove(ctx context.Context, in app.DossierNameRequest) (app.DossierView, error)
	DossierCheck(ctx context.Context, in app.DossierNameRequest) (app.DossierCheckView, error)
	DossierCompare(ctx context.Context, in app.DossierCompareRequest) (app.DossierDifference, error)
	// DossierFigure prints one figure as things stand.
	DossierFigure(ctx context.Context, name string, p app.FigurePrint) (app.DossierFile, error)
	// DossierFile gives a package that was made, or one file in it.
	DossierFile(ctx context.Context, pack, name string) (app.DossierFile, error)
	// DossierUpload keeps a package that the browser sends.
	DossierUpload(ctx context.Context, from io.Reader) (token string, err error)
}

// DossierStopRequest asks to end the making.
type DossierStopRequest struct{}

func dossierRoutes(api huma.API, studies Studies) {
	of(api, studies, "dossier", "dossier", "What the page Dossier begins with", Study.Dossier)
	of(api, studies, "dossier-preview", "dossier/preview", "The dossier as it would be made now", Study.DossierPreview)
	to(api, studies, "dossier-make", "dossier/make", "Make a dossier, in the background", Study.DossierMake)
	to(api, studies, "dossier-stop", "dossier/stop", "End the making of a dossier, or dismiss what is said of it", func(s Study, ctx context.Context, _ DossierStopRequest) (app.DossierView, error) {
		return s.DossierStop(ctx)
	})
	to(api, studies, "dossier-remove", "dossier/remove", "Take a package away that was made", Study.DossierRemove)
	to(api, studies, "dossier-check", "dossier/check", "Check a package that was made or sent", Study.DossierCheck)
	to(api, studies, "dossier-compare", "dossier/compare", "Say what changed between two packages", Study.DossierCompare)
}
