package httpapi

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

func backgroundRoutes(api huma.API, studies Studies) {
	of(api, studies, "background-start", "background", "What the page Background begins with: as saved, or made from the study", Study.Background)
	huma.Register(api, huma.Operation{
		OperationID: "background", Method: http.MethodPost, Path: "/api/background", Summary: "The Earth's field, moving water, and what gear adds at the pairs", MaxBodyBytes: largestQuestion,
		Errors: []int{http.StatusUnauthorized, http.StatusUnprocessableEntity},
	}, func(ctx context.Context, in *requestBody[app.BackgroundSpec]) (*body[app.BackgroundDocument], error) {
		return answer(studies.Background(ctx, in.Body))
	})
}
