package httpapi

import (
	"context"
	"io"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Footage is what the server needs of a study for measuring in footage.
type Footage interface {
	Footage(ctx context.Context) (app.FootageView, error)
	FootageLook(ctx context.Context, in app.FootageLookRequest) (app.FootageLook, error)
	FootageImport(ctx context.Context, in app.FootageImportRequest) (app.FootageView, error)
	FootageStop(ctx context.Context, in app.FootageStopRequest) (app.FootageView, error)
	FootageProxy(ctx context.Context, in app.FootageProxyRequest) (app.FootageView, error)
	FootageFind(ctx context.Context, in app.FootageFindRequest) (app.FootageView, error)
	FootageSync(ctx context.Context, in app.FootageSyncRequest) (app.FootageClip, error)
	FootagePoses(ctx context.Context, in app.FootagePoseRequest) (app.FootagePoses, error)
	FootageCamera(ctx context.Context, in app.FootageCameraRequest) (app.FootageView, error)
	FootageFixes(ctx context.Context, in app.FootageFixesRequest) (app.FootagePassView, error)
	FootagePass(ctx context.Context, pass string) (app.FootagePassView, error)
	FootageFrames(ctx context.Context, clip string) (app.FootageFrames, error)
	// FootageMedia opens a chapter of a clip, or its proxy.
	FootageMedia(ctx context.Context, clip string, chapter int, proxy bool) (app.FootageMediaFile, error)
	// FootageUpload keeps a file that the browser sends, for an import; bytes is its
	// size, -1 where it is not known.
	FootageUpload(ctx context.Context, name string, bytes int64, from io.Reader) (token string, err error)
}

type footagePassInput struct {
	StudyInput
	Pass string `query:"pass" required:"true"`
}

type footageClipInput struct {
	StudyInput
	Clip string `query:"clip" required:"true"`
}

func footageRoutes(api huma.API, studies Studies) {
	of(api, studies, "footage", "footage", "What the page Footage begins with", Study.Footage)
	read(api, "footage-pass", "/api/studies/{study}/footage/pass", "A pass as it was measured in footage", func(ctx context.Context, in *footagePassInput) (*body[app.FootagePassView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.FootagePassView, error) { return s.FootagePass(ctx, in.Pass) })
	})
	read(api, "footage-frames", "/api/studies/{study}/footage/frames", "The times of every frame of a clip", func(ctx context.Context, in *footageClipInput) (*body[app.FootageFrames], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.FootageFrames, error) { return s.FootageFrames(ctx, in.Clip) })
	})
	to(api, studies, "footage-look", "footage/look", "Look into a folder of this laptop", Study.FootageLook)
	to(api, studies, "footage-import", "footage/import", "Make a clip of files, in the background", Study.FootageImport)
	to(api, studies, "footage-stop", "footage/stop", "End or dismiss work on footage", Study.FootageStop)
	to(api, studies, "footage-proxy", "footage/proxy", "Make small copies of a clip that a browser can step through, in the background", Study.FootageProxy)
	to(api, studies, "footage-find", "footage/find", "Say where a file that is missing is now", Study.FootageFind)
	to(api, studies, "footage-sync", "footage/sync", "State the events that set the clip's clock", Study.FootageSync)
	to(api, studies, "footage-poses", "footage/poses", "State where the camera was, or try it", Study.FootagePoses)
	to(api, studies, "footage-camera", "footage/camera", "State a camera", Study.FootageCamera)
	to(api, studies, "footage-fixes", "footage/fixes", "State what was measured of a pass, or try it", Study.FootageFixes)
}
