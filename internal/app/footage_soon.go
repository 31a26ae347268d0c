package app

import (
	"context"
	"errors"
)

var errFootageSoon = errors.New("not built yet")

// Footage is not built yet.
func (s *Study) Footage(ctx context.Context) (FootageView, error) {
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
