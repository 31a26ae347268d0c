package httpapi

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Blinding is what the server needs of a study's schedule.
type Blinding interface {
	Schedule(ctx context.Context) (app.ScheduleView, error)
	// ScheduleAsOpened is the document of the schedule in force.
	ScheduleAsOpened(ctx context.Context) (app.ScheduleDocument, error)
	SealSchedule(ctx context.Context, in app.SealRequest) (app.EditDone, error)
	TakeSchedule(ctx context.Context, in app.TakeRequest) (app.EditDone, error)
	RehearseKey(ctx context.Context, in app.RehearseRequest) (app.RehearsalView, error)
	TakeCardsOut(ctx context.Context, in app.CardsRequest) (app.CardsView, error)
	Card(ctx context.Context, in app.CardRequest) (app.CardView, error)
	AllCards(ctx context.Context, in app.CardRequest) (app.CardList, error)
	Wiring(ctx context.Context, in app.CardRequest) (app.WiringView, error)
	PutCardsAway(ctx context.Context, in app.CardRequest) (app.EditDone, error)
	LockScoring(ctx context.Context, in app.LockRequest) (app.EditDone, error)
	UnlockScoring(ctx context.Context, in app.UnlockRequest) (app.EditDone, error)
	OpenActivePairs(ctx context.Context, in app.OpeningRequest) (app.EditDone, error)
}

func scheduleRoutes(api huma.API, studies Studies) {
	of(api, studies, "schedule", "schedule", "The schedule of a study: its seal, who could have known what, how far it is opened", Study.Schedule)
	of(api, studies, "schedule-document", "schedule/document", "The schedule in force, opened as far as it is; brinefield verify checks it", Study.ScheduleAsOpened)
	huma.Register(api, huma.Operation{
		OperationID: "schedule-example", Method: http.MethodPost, Path: "/api/schedule/example", MaxBodyBytes: largestQuestion,
		Summary: "An example of what a plan draws, which is never the sealed schedule; nothing is kept",
		Errors:  []int{http.StatusUnauthorized, http.StatusUnprocessableEntity},
	}, func(_ context.Context, in *requestBody[app.ExampleRequest]) (*body[app.ScheduleDocument], error) {
		return answer(studies.ScheduleExample(in.Body))
	})
	change(api, "schedule-key", "/api/schedule/key", "Make a key to seal to; the program keeps neither part", func(_ context.Context, in *requestBody[app.NewKeyRequest]) (*body[app.NewKeyView], error) {
		return answer(studies.NewScheduleKey(in.Body))
	})
	to(api, studies, "seal-schedule", "schedule/seal", "Draw a schedule, seal it and write it into the study", Study.SealSchedule)
	to(api, studies, "take-schedule", "schedule/take", "Write a schedule into the study that was sealed elsewhere", Study.TakeSchedule)
	to(api, studies, "rehearse-key", "schedule/rehearsal", "See whether a key opens the schedule; nothing of it is shown", Study.RehearseKey)
	to(api, studies, "take-cards-out", "schedule/cards", "Open the schedule for whoever throws the switch, in memory only", Study.TakeCardsOut)
	to(api, studies, "put-cards-away", "schedule/cards/away", "Forget the cards", Study.PutCardsAway)
	to(api, studies, "all-cards", "schedule/cards/all", "All cards, to be printed; that they were is written down", Study.AllCards)
	to(api, studies, "card", "schedule/card", "One card; that it was shown is written down", Study.Card)
	to(api, studies, "wiring", "schedule/wiring", "What is wired to which position of the switch; that it was shown is written down", Study.Wiring)
	to(api, studies, "lock-scoring", "schedule/lock", "Lock scoring", Study.LockScoring)
	to(api, studies, "unlock-scoring", "schedule/unlock", "Unlock scoring before the opening", Study.UnlockScoring)
	to(api, studies, "open-active-pairs", "opening", "Open which pair was active; it stays in the journal", Study.OpenActivePairs)
}
