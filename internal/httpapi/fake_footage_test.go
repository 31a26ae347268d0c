package httpapi_test

import (
	"cmp"
	"context"
	"io"
	"strings"
	"time"

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
	if f.err != nil || f.media.data == "" {
		return app.FootageMediaFile{}, cmp.Or(f.err, app.ErrNoClip)
	}
	return app.FootageMediaFile{FootageReader: &fakeReader{Reader: strings.NewReader(f.media.data), closed: f.media.closed}, Type: "video/mp4", ETag: "abc"}, nil
}

func (f fakeStudy) FootageUpload(_ context.Context, name string, bytes int64, from io.Reader) (string, error) {
	if f.err != nil {
		return "", f.err
	}
	n, err := io.Copy(io.Discard, from)
	f.note(name, bytes, n)
	return "token", err
}

// fakeMedia is a file of footage; closed counts how often it was closed.
type fakeMedia struct {
	data   string
	closed *int
}

type fakeReader struct {
	*strings.Reader
	closed *int
}

func (r *fakeReader) Close() error {
	*r.closed++
	return nil
}

func (r *fakeReader) Bytes() int64        { return r.Size() }
func (r *fakeReader) Modified() time.Time { return time.Time{} }
