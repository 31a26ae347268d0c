package app

import (
	"context"
	"errors"
	"io"
)

var errFootageSoon = errors.New("not built yet")

// Footage is not built yet.
func (s *Study) Footage(ctx context.Context) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageLook is not built yet.
func (s *Study) FootageLook(ctx context.Context, in FootageLookRequest) (FootageLook, error) {
	return FootageLook{}, errFootageSoon
}

// FootageImport is not built yet.
func (s *Study) FootageImport(ctx context.Context, in FootageImportRequest) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageStop is not built yet.
func (s *Study) FootageStop(ctx context.Context, in FootageStopRequest) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageProxy is not built yet.
func (s *Study) FootageProxy(ctx context.Context, in FootageProxyRequest) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageFind is not built yet.
func (s *Study) FootageFind(ctx context.Context, in FootageFindRequest) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageSync is not built yet.
func (s *Study) FootageSync(ctx context.Context, in FootageSyncRequest) (FootageClip, error) {
	return FootageClip{}, errFootageSoon
}

// FootagePoses is not built yet.
func (s *Study) FootagePoses(ctx context.Context, in FootagePoseRequest) (FootagePoses, error) {
	return FootagePoses{}, errFootageSoon
}

// FootageCamera is not built yet.
func (s *Study) FootageCamera(ctx context.Context, in FootageCameraRequest) (FootageView, error) {
	return FootageView{}, errFootageSoon
}

// FootageFixes is not built yet.
func (s *Study) FootageFixes(ctx context.Context, in FootageFixesRequest) (FootagePassView, error) {
	return FootagePassView{}, errFootageSoon
}

// FootagePass is not built yet.
func (s *Study) FootagePass(ctx context.Context, pass string) (FootagePassView, error) {
	return FootagePassView{}, errFootageSoon
}

// FootageFrames is not built yet.
func (s *Study) FootageFrames(ctx context.Context, clip string) (FootageFrames, error) {
	return FootageFrames{}, errFootageSoon
}

// FootageMedia is not built yet.
func (s *Study) FootageMedia(ctx context.Context, clip string, chapter int, proxy bool) (FootageReader, error) {
	return nil, errFootageSoon
}

// FootageUpload is not built yet.
func (s *Study) FootageUpload(ctx context.Context, name string, from io.Reader) (string, error) {
	return "", errFootageSoon
}
