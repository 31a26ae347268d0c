package httpapi_test

import (
	"context"
	"io"

	"brinefield/internal/app"
)

func (f fakeStudy) Footage(_ context.Context) (app.FootageView, error) {
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageLook(_ context.Context, in app.FootageLookRequest) (app.FootageLook, error) {
	f.note(in)
	return app.FootageLook{}, f.err
}

func (f fakeStudy) FootageImport(_ context.Context, in app.FootageImportRequest) (app.FootageView, error) {
	f.note(in)
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageStop(_ context.Context, in app.FootageStopRequest) (app.FootageView, error) {
	f.note(in)
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageProxy(_ context.Context, in app.FootageProxyRequest) (app.FootageView, error) {
	f.note(in)
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageFind(_ context.Context, in app.FootageFindRequest) (app.FootageView, error) {
	f.note(in)
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageSync(_ context.Context, in app.FootageSyncRequest) (app.FootageClip, error) {
	f.note(in)
	return app.FootageClip{}, f.err
}

func (f fakeStudy) FootagePoses(_ context.Context, in app.FootagePoseRequest) (app.FootagePoses, error) {
	f.note(in)
	return app.FootagePoses{}, f.err
}

func (f fakeStudy) FootageCamera(_ context.Context, in app.FootageCameraRequest) (app.FootageView, error) {
	f.note(in)
	return app.FootageView{}, f.err
}

func (f fakeStudy) FootageFixes(_ context.Context, in app.FootageFixesRequest) (app.FootagePassView, error) {
	f.note(in)
	return app.FootagePassView{}, f.err
}

func (f fakeStudy) FootagePass(_ context.Context, pass string) (app.FootagePassView, error) {
	f.note(pass)
	return app.FootagePassView{}, f.err
}

func (f fakeStudy) FootageFrames(_ context.Context, clip string) (app.FootageFrames, error) {
	f.note(clip)
	return app.FootageFrames{}, f.err
}

func (f fakeStudy) FootageMedia(_ context.Context, clip string, _ int, _ bool) (app.FootageMediaFile, error) {
	f.note(clip)
	return app.FootageMediaFile{}, f.err
}

func (f fakeStudy) FootageUpload(_ context.Context, name string, _ int64, _ io.Reader) (string, error) {
	f.note(name)
	return "", f.err
}
