package httpapi_test

import (
	"context"

	"brinefield/internal/app"
)

// Background answers as the program does: it needs no study.
func (f fakeStudies) Background(ctx context.Context, in app.BackgroundSpec) (app.BackgroundDocument, error) {
	f.note(in)
	if f.err != nil {
		return app.BackgroundDocument{}, f.err
	}
	return app.NewStudies(app.StudiesOptions{}).Background(ctx, in)
}
