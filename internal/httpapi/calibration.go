package httpapi

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

func calibrationRoutes(api huma.API, studies Studies) {
	of(api, studies, "calibration", "calibration", "The calibration as saved, or one to begin with", Study.Calibration)
	huma.Register(api, huma.Operation{
		OperationID: "calibrate", Method: http.MethodPost, Path: "/api/calibration", MaxBodyBytes: largestQuestion,
		Summary: "Dipole moment, conductivity and offset from potentials that were measured; nothing is kept",
		Errors:  []int{http.StatusUnauthorized, http.StatusUnprocessableEntity},
	}, func(ctx context.Context, in *requestBody[app.CalibrationSpec]) (*body[app.CalibrationDocument], error) {
		return answer(studies.Calibrate(ctx, in.Body))
	})
}
