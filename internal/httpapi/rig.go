package httpapi

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

func rigRoutes(api huma.API, studies Studies) {
	of(api, studies, "rig-start", "rig", "The rig as saved, or one made from the study, and what was measured", Study.Rig)
	huma.Register(api, huma.Operation{
		OperationID: "rig", Method: http.MethodPost, Path: "/api/rig", MaxBodyBytes: largestQuestion,
		Summary: "What a rig delivers: currents and their tolerances, faults, battery, parts; nothing is kept",
		Errors:  []int{http.StatusUnauthorized, http.StatusUnprocessableEntity},
	}, func(ctx context.Context, in *requestBody[app.RigSpec]) (*body[app.RigDocument], error) {
		return answer(studies.Rig(ctx, in.Body))
	})
}
