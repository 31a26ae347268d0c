package app

import (
	"context"
	"io"
)

// Footage answers [ErrLooseSeason].
func (l *LooseSeason) Footage(context.Context) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageLook answers [ErrLooseSeason].
func (l *LooseSeason) FootageLook(context.Context, FootageLookRequest) (FootageLook, error) {
	return FootageLook{}, ErrLooseSeason
}

// FootageImport answers [ErrLooseSeason].
func (l *LooseSeason) FootageImport(context.Context, FootageImportRequest) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageStop answers [ErrLooseSeason].
func (l *LooseSeason) FootageStop(context.Context, FootageStopRequest) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageProxy answers [ErrLooseSeason].
func (l *LooseSeason) FootageProxy(context.Context, FootageProxyRequest) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageFind answers [ErrLooseSeason].
func (l *LooseSeason) FootageFind(context.Context, FootageFindRequest) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageSync answers [ErrLooseSeason].
func (l *LooseSeason) FootageSync(context.Context, FootageSyncRequest) (FootageClip, error) {
	return FootageClip{}, ErrLooseSeason
}

// FootagePoses answers [ErrLooseSeason].
func (l *LooseSeason) FootagePoses(context.Context, FootagePoseRequest) (FootagePoses, error) {
	return FootagePoses{}, ErrLooseSeason
}

// FootageCamera answers [ErrLooseSeason].
func (l *LooseSeason) FootageCamera(context.Context, FootageCameraRequest) (FootageView, error) {
	return FootageView{}, ErrLooseSeason
}

// FootageFixes answers [ErrLooseSeason].
func (l *LooseSeason) FootageFixes(context.Context, FootageFixesRequest) (FootagePassView, error) {
	return FootagePassView{}, ErrLooseSeason
}

// FootagePass answers [ErrLooseSeason].
func (l *LooseSeason) FootagePass(context.Context, string) (FootagePassView, error) {
	return FootagePassView{}, ErrLooseSeason
}

// FootageFrames answers [ErrLooseSeason].
func (l *LooseSeason) FootageFrames(context.Context, string) (FootageFrames, error) {
	return FootageFrames{}, ErrLooseSeason
}

// FootageMedia answers [ErrLooseSeason].
func (l *LooseSeason) FootageMedia(context.Context, string, int, bool) (FootageMediaFile, error) {
	return FootageMediaFile{}, ErrLooseSeason
}

// FootageUpload answers [ErrLooseSeason].
func (l *LooseSeason) FootageUpload(context.Context, string, int64, io.Reader) (string, error) {
	return "", ErrLooseSeason
}
