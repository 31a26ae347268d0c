package httpapi_test

import (
	"context"

	"brinefield/internal/app"
)

func (f fakeStudy) Deck(ctx context.Context) (app.DeckView, error) {
	f.note(app.CallerOf(ctx))
	return app.DeckView{Study: "bay"}, f.err
}

func (f fakeStudy) DeckSync(ctx context.Context, in app.DeckBatch) (app.DeckAnswer, error) {
	f.note(app.CallerOf(ctx), in)
	return app.DeckAnswer{Heads: map[string]app.DeckHead{}, Blobs: []string{}, Erased: []string{}, Refused: []app.DeckRefusal{}, Missing: []string{}}, f.err
}

func (f fakeStudy) DeckLog(context.Context) (app.DeckLogView, error) {
	return app.DeckLogView{}, f.err
}

func (f fakeStudy) DeckSetup(_ context.Context, in app.DeckSetupRequest) (app.DeckView, error) {
	f.note(in)
	return app.DeckView{Study: "bay"}, f.err
}

func (f fakeStudy) DeckImport(_ context.Context, in app.DeckImportRequest) (app.DeckImported, error) {
	f.note(in)
	return app.DeckImported{}, f.err
}

func (f fakeStudy) DeckAlign(_ context.Context, in app.DeckAlignRequest) (app.DeckLogView, error) {
	f.note(in)
	return app.DeckLogView{}, f.err
}

func (f fakeStudy) DeckReconcile(_ context.Context, in app.DeckReconcileRequest) (app.DeckLogView, error) {
	f.note(in)
	return app.DeckLogView{}, f.err
}

func (f fakeStudy) Attachment(_ context.Context, ref string) (app.AttachmentFile, error) {
	f.note(ref)
	return f.file, f.err
}
