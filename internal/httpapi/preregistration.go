package httpapi

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

func preregistrationRoutes(api huma.API, studies Studies) {
	of(api, studies, "preregistration", "preregistration", "What is planned, as one document, and what was registered of it", Study.Preregistration)
	change(api, "register", "/api/studies/{study}/preregistration", "Write the document into the journal under its date", func(ctx context.Context, in *studyBody[app.RegisterRequest]) (*body[app.PreregistrationView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.PreregistrationView, error) { return s.Register(ctx, in.Body) })
	})
}
