package httpapi

import (
	"context"
	"errors"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Deck is what the server needs of a study for logging on a boat.
type Deck interface {
	Deck(ctx context.Context) (app.DeckView, error)
	DeckSync(ctx context.Context, in app.DeckBatch) (app.DeckAnswer, error)
	DeckLog(ctx context.Context) (app.DeckLogView, error)
	DeckSetup(ctx context.Context, in app.DeckSetupRequest) (app.DeckView, error)
	DeckImport(ctx context.Context, in app.DeckImportRequest) (app.DeckImported, error)
	DeckAlign(ctx context.Context, in app.DeckAlignRequest) (app.DeckLogView, error)
	DeckReconcile(ctx context.Context, in app.DeckReconcileRequest) (app.DeckLogView, error)
	// Attachment gives the file of a photo or a voice note as it came.
	Attachment(ctx context.Context, ref string) (app.AttachmentFile, error)
}

// largestBatch is the most that a tablet may send at once: one photo as base64,
// and entries beside it.
const largestBatch = 32 << 20

// largestSpec is far more than the largest spec that has no fault.
const largestSpec = 1 << 20

type setupInput struct {
	StudyInput
	IfMatch string `header:"If-Match" required:"true" doc:"The etag of the spec that was changed."`
	Body    app.DeckSetupRequest
}

func deckRoutes(api huma.API, studies Studies, gate Gate) {
	of(api, studies, "deck", "deck", "What a tablet needs to log without the laptop", Study.Deck)
	of(api, studies, "deck-log", "deck/log", "What came in from the deck", Study.DeckLog)
	huma.Register(api, huma.Operation{
		OperationID: "deck-sync", Method: http.MethodPost, Path: "/api/studies/{study}/deck/sync", MaxBodyBytes: largestBatch, BodyReadTimeout: ownDeadline,
		Summary: "Bring entries and what they refer to; what the answer names is on the disc",
		Errors: []int{
			http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusRequestEntityTooLarge,
			http.StatusUnprocessableEntity, http.StatusTooManyRequests, http.StatusServiceUnavailable, http.StatusInsufficientStorage,
		},
	}, func(ctx context.Context, in *studyBody[app.DeckBatch]) (*body[app.DeckAnswer], error) {
		if gate != nil {
			if err := gate.TakeIn(ctx, app.CallerOf(ctx), bulk(in.Body)); err != nil {
				return nil, problem(err)
			}
		}
		return with(ctx, studies, in.Study, func(s Study) (app.DeckAnswer, error) { return s.DeckSync(ctx, in.Body) })
	})
	huma.Register(api, huma.Operation{
		OperationID: "deck-setup", Method: http.MethodPost, Path: "/api/studies/{study}/deck/setup", MaxBodyBytes: largestSpec,
		Summary: "Change how the study logs",
		Errors: []int{
			http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed,
			http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity, http.StatusServiceUnavailable, http.StatusInsufficientStorage,
		},
	}, func(ctx context.Context, in *setupInput) (*body[app.DeckView], error) {
		in.Body.IfMatch = in.IfMatch
		study, err := studies.Study(ctx, in.Study)
		if err != nil {
			return nil, problem(err)
		}
		v, err := study.DeckSetup(ctx, in.Body)
		if errors.Is(err, app.ErrChangedMeanwhile) { // by the header If-Match, so that it is 412 here alone
			return nil, huma.NewError(http.StatusPreconditionFailed, err.Error())
		}
		return answer(v, err)
	})
	to(api, studies, "deck-import", "deck/import", "Take in a log that a tablet saved as a file", Study.DeckImport)
	to(api, studies, "deck-align", "deck/align", "State how far a device's clock was ahead", Study.DeckAlign)
	to(api, studies, "deck-reconcile", "deck/reconcile", "Say whether two passes are one", Study.DeckReconcile)
}

// bulk is how many bytes of a batch are photos and voice: what fills a disc. It
// never keeps an entry, a name or a reading from coming in.
func bulk(in app.DeckBatch) (bytes int64) {
	for _, b := range in.Blobs {
		if b.Kind == "photo" || b.Kind == "voice" {
			bytes += int64(len(b.Data))
		}
	}
	return bytes
}
