package httpapi_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/internal/app"
)

// post sends JSON as the page does.
func post(h http.Handler, path, body string, change ...func(*http.Request)) *http.Response {
	r := httptest.NewRequest("POST", "http://"+host+path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func with(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }

// Every reading route answers for a study that is there, and says 404 for one
// that is not.
func TestReadingRoutes(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, path := range []string{
		"season", "progress", "exposures", "findings", "curves", "uncertainty", "results", "question", "water", "tables",
		"passes/P00001", "tables/pass", "history?kind=pass&id=P00001", "journal",
	} {
		if res := ask(h, "GET", "/api/studies/bay/"+path, with(c)); res.StatusCode != http.StatusOK || !strings.HasPrefix(res.Header.Get("Content-Type"), "application/json") {
			t.Errorf("%s: status %d, %s", path, res.StatusCode, res.Header.Get("Content-Type"))
		}
		if res := ask(h, "GET", "/api/studies/nowhere/"+path, with(c)); res.StatusCode != http.StatusNotFound {
			t.Errorf("%s of an unknown study: status %d, want 404", path, res.StatusCode)
		}
		if res := post(h, "/api/studies/bay/"+path, "{}", with(c)); res.StatusCode != http.StatusMethodNotAllowed && res.StatusCode != http.StatusNotFound {
			t.Errorf("POST %s: status %d, want 405 or 404", path, res.StatusCode)
		}
	}
	if res := ask(h, "GET", "/api/home", with(c)); res.StatusCode != http.StatusOK {
		t.Errorf("home: status %d", res.StatusCode)
	}
	if res := ask(h, "GET", "/api/studies/Bay%20of%20R%C3%AD%C3%A1n,%202025/season", with(c)); res.StatusCode != http.StatusOK {
		t.Errorf("a name with blanks and accents: status %d", res.StatusCode)
	}
}

// What a route is asked reaches the study unchanged.
func TestRequestsArriveAsTheyWereSent(t *testing.T) {
	for _, k := range []struct {
		method, path, body string
		want               []any
	}{
		{"GET", "/api/studies/bay/tables/pass?offset=2000&limit=500", "", []any{"pass", 2000, 500}},
		{"GET", "/api/studies/bay/tables/track", "", []any{"track", 0, 1000}},
		{"GET", "/api/studies/bay/history?kind=study", "", []any{"study", ""}},
		{"GET", "/api/studies/bay/history?kind=species&id=Raja%20clavata", "", []any{"species", "Raja clavata"}},
		{"GET", "/api/studies/bay/journal?before=77&limit=10", "", []any{int64(77), 10}},
		{"POST", "/api/studies", `{"study":"bay","title":"Bay (invented)"}`, []any{app.NewStudyRequest{Study: "bay", Title: "Bay (invented)"}}},
		{"POST", "/api/imports/plan", `{"study":"","files":[{"name":"study.toml","data":"Zm9ybWF0ID0gMQ=="}]}`, []any{app.PlanRequest{Files: []app.FileUpload{{Name: "study.toml", Data: []byte("format = 1")}}}}},
		{"POST", "/api/imports", `{"plan":"p1","study":"bay","blind":true,"remove_missing":true,"author":"Ciara (invented)"}`, []any{app.ImportRequest{Plan: "p1", Study: "bay", Blind: true, RemoveMissing: true, Author: "Ciara (invented)"}}},
		{
			"POST", "/api/studies/bay/edits", `{"author":"C","reason":"misread","changes":[{"kind":"pass","id":"P1","field":"turned","from":"no","to":"yes"}],"add":[{"kind":"permit","id":"1","fields":{"what":"x"}}],"remove":[{"kind":"pass","id":"P2"}]}`,
			[]any{app.EditRequest{
				Author: "C", Reason: "misread", Changes: []app.CellChange{{Kind: "pass", ID: "P1", Field: "turned", From: "no", To: "yes"}},
				Add: []app.NewRow{{Kind: "permit", ID: "1", Fields: map[string]string{"what": "x"}}}, Remove: []app.RowName{{Kind: "pass", ID: "P2"}},
			}},
		},
		{"POST", "/api/studies/bay/undo", `{"entry":"e1"}`, []any{app.UndoRequest{Entry: "e1"}}},
		{"POST", "/api/studies/bay/opening", `{"author":"C","reason":"scored twice"}`, []any{app.OpeningRequest{Author: "C", Reason: "scored twice"}}},
		{"POST", "/api/studies/bay/opening", `{"author":"C","reason":"bitten","trials":["T2"],"key":"K","passphrase":"w","lock":true,"leave_unscored":true}`, []any{app.OpeningRequest{
			Author: "C", Reason: "bitten", Trials: []string{"T2"}, KeyProof: app.KeyProof{Key: "K", Passphrase: "w"}, Lock: true, LeaveUnscored: true,
		}}},
		{"POST", "/api/schedule/example", `{"plan":` + planJSON + `,"per_day":4,"seed":3}`, []any{app.ExampleRequest{Plan: examplePlan, PerDay: 4, Seed: 3}}},
		{"POST", "/api/schedule/key", `{"passphrase":"w"}`, []any{app.NewKeyRequest{Passphrase: "w"}}},
		{"POST", "/api/studies/bay/schedule/seal", `{"plan":` + planJSON + `,"per_day":4,"keys":[{"public":"age1","holder":"C"}],"author":"C","reason":""}`, []any{app.SealRequest{
			Plan: examplePlan, ScheduleTimes: app.ScheduleTimes{PerDay: 4}, Keys: []app.SealTo{{Public: "age1", Holder: "C"}}, Author: "C",
		}}},
		{"POST", "/api/studies/bay/schedule/take", `{"document":"{}","holders":["C"],"author":"C","reason":"r"}`, []any{app.TakeRequest{Document: "{}", Holders: []string{"C"}, Author: "C", Reason: "r"}}},
		{"POST", "/api/studies/bay/schedule/rehearsal", `{"key":"K","author":"C"}`, []any{app.RehearseRequest{KeyProof: app.KeyProof{Key: "K"}, Author: "C"}}},
		{"POST", "/api/studies/bay/schedule/cards", `{"key":"K","author":"C"}`, []any{app.CardsRequest{KeyProof: app.KeyProof{Key: "K"}, Author: "C"}}},
		{"POST", "/api/studies/bay/schedule/card", `{"token":"t","trial":"T2"}`, []any{app.CardRequest{Token: "t", Trial: "T2"}}},
		{"POST", "/api/studies/bay/schedule/cards/all", `{"token":"t"}`, []any{app.CardRequest{Token: "t"}}},
		{"POST", "/api/studies/bay/schedule/cards/away", `{"token":"t"}`, []any{app.CardRequest{Token: "t"}}},
		{"POST", "/api/studies/bay/schedule/wiring", `{"token":"t"}`, []any{app.CardRequest{Token: "t"}}},
		{"POST", "/api/studies/bay/schedule/lock", `{"author":"C","reason":"done","leave_unscored":true}`, []any{app.LockRequest{Author: "C", Reason: "done", LeaveUnscored: true}}},
		{"POST", "/api/studies/bay/schedule/unlock", `{"author":"C","reason":"one more"}`, []any{app.UnlockRequest{Author: "C", Reason: "one more"}}},
		{"POST", "/api/studies/bay/analyse", ``, []any{"analyse"}},
	} {
		var asked []any
		h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
		c := signIn(t, h, sessions)
		var res *http.Response
		if k.method == "GET" {
			res = ask(h, "GET", k.path, with(c))
		} else {
			res = post(h, k.path, k.body, with(c))
		}
		if res.StatusCode != http.StatusOK {
			text, _ := io.ReadAll(res.Body)
			t.Errorf("%s %s: status %d: %s", k.method, k.path, res.StatusCode, text)
		}
		if cache := res.Header.Get("Cache-Control"); cache != "no-store" {
			t.Errorf("%s %s may be kept by a cache: %q", k.method, k.path, cache)
		}
		if diff := cmp.Diff(k.want, asked); diff != "" {
			t.Errorf("%s %s (-want +got):\n%s", k.method, k.path, diff)
		}
	}
}

const planJSON = `{"pairs":["A","B"],"currents_uA":[6],"trials":8,"silent":2,"sham":0,"odour_off":0,"draw_polarity":true,"repeats":1,"most_alike":0,"spare":2}`

var examplePlan = app.SchedulePlan{Pairs: []string{"A", "B"}, CurrentsUA: []float64{6}, Trials: 8, Silent: 2, DrawPolarity: true, Repeats: 1, Spare: 2}

func TestRequestsThatSayTooLittleOrTooMuch(t *testing.T) {
	for _, k := range []struct {
		method, path, body string
		status             int
	}{
		{"POST", "/api/studies/bay/opening", `{"author":"","reason":"x"}`, 422},
		{"POST", "/api/studies/bay/opening", `{"author":"C"}`, 422},
		{"POST", "/api/studies/bay/edits", `{"changes":[{"kind":"pass"}]}`, 422},
		{"POST", "/api/studies/bay/edits", `{"chnages":[]}`, 422},
		{"POST", "/api/studies/bay/edits", `{"changes":`, 400},
		{"POST", "/api/imports/plan", `{"study":"","files":[{"name":"a.csv","data":"%%%"}]}`, 422},
		{"GET", "/api/studies/bay/history", ``, 422},
		{"GET", "/api/studies/bay/tables/pass?limit=1000000", ``, 422},
		{"GET", "/api/studies/bay/tables/pass?offset=-1", ``, 422},
		{"GET", "/api/studies/bay/journal?before=x", ``, 422},
	} {
		var asked []any
		h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
		c := signIn(t, h, sessions)
		var res *http.Response
		if k.method == "GET" {
			res = ask(h, "GET", k.path, with(c))
		} else {
			res = post(h, k.path, k.body, with(c))
		}
		if res.StatusCode != k.status || len(asked) > 0 {
			text, _ := io.ReadAll(res.Body)
			t.Errorf("%s %s %s: status %d, asked %v; want %d and nothing asked: %s", k.method, k.path, k.body, res.StatusCode, asked, k.status, text)
		}
	}
}

// A season of several megabytes is larger than the framework's usual limit of
// one.
func TestUploadsOfManyMegabytes(t *testing.T) {
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	data := bytes.Repeat([]byte("P00001,0.0,1.0,2.0,3.0\n"), 300_000) // 6.9 MB
	res := post(h, "/api/imports/plan", fmt.Sprintf(`{"study":"bay","files":[{"name":"tracks.csv","data":%q}]}`, base64.StdEncoding.EncodeToString(data)), with(c))
	if res.StatusCode != http.StatusOK || len(asked) != 1 {
		text, _ := io.ReadAll(res.Body)
		t.Fatalf("status %d: %s", res.StatusCode, text)
	}
	if got := asked[0].(app.PlanRequest); !bytes.Equal(got.Files[0].Data, data) {
		t.Error("the file did not arrive as it was sent")
	}
}

func TestChangesFromElsewhereAreRefused(t *testing.T) {
	paths := []string{
		"/api/studies", "/api/imports/plan", "/api/imports", "/api/studies/bay/edits", "/api/studies/bay/undo",
		"/api/studies/bay/opening", "/api/studies/bay/analyse", "/api/schedule/example", "/api/schedule/key",
		"/api/studies/bay/schedule/seal", "/api/studies/bay/schedule/take", "/api/studies/bay/schedule/rehearsal", "/api/studies/bay/schedule/cards",
		"/api/studies/bay/schedule/card", "/api/studies/bay/schedule/cards/all", "/api/studies/bay/schedule/cards/away", "/api/studies/bay/schedule/wiring",
		"/api/studies/bay/schedule/lock", "/api/studies/bay/schedule/unlock",
	}
	for _, path := range paths {
		var asked []any
		h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
		c := signIn(t, h, sessions)
		for _, k := range []struct {
			name   string
			change func(*http.Request)
			status int
		}{
			{"no cookie", func(*http.Request) {}, 401},
			{"another site", func(r *http.Request) { r.AddCookie(c); r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
			{"another port of this machine", func(r *http.Request) { r.AddCookie(c); r.Header.Set("Sec-Fetch-Site", "same-site") }, 403},
			{"an old browser at another origin", func(r *http.Request) {
				r.AddCookie(c)
				r.Header.Del("Sec-Fetch-Site")
				r.Header.Set("Origin", "http://evil.example")
			}, 403},
			{"a rebound name", func(r *http.Request) { r.AddCookie(c); r.Host = "evil.example" }, 421},
		} {
			if res := post(h, path, `{"entry":"e"}`, k.change); res.StatusCode != k.status {
				t.Errorf("%s, %s: status %d, want %d", path, k.name, res.StatusCode, k.status)
			}
		}
		if len(asked) > 0 {
			t.Errorf("%s: %v reached the study", path, asked)
		}
	}
}

func TestErrorsBecomeStatuses(t *testing.T) {
	for _, k := range []struct {
		err    error
		status int
	}{
		{app.ErrNotReady, 503},
		{app.ErrNoResult, 503},
		{app.ErrUnknownPass, 404},
		{app.ErrUnknownStudy, 404},
		{app.ErrUnknownTable, 404},
		{app.ErrUnknownEntry, 404},
		{app.ErrUnknownPlan, 404},
		{app.ErrNotAStudy, 404},
		{app.ErrFaults, 409},
		{app.ErrIncomplete, 409},
		{app.ErrDataGone, 409},
		{app.ErrLooseSeason, 409},
		{app.ErrChangedMeanwhile, 409},
		{&app.NewerStudyError{Study: "bay", Found: 9, Max: 1, WrittenWith: "9.0"}, 409},
		{&app.DamagedError{Study: "bay", What: []string{"study.db was cut off"}}, 409},
		{app.ErrReadOnly, 403},
		{fmt.Errorf("entry 2 of device deck-1: %w", app.ErrDeckRefused), 403},
		{app.ErrOtherLog, 409},
		{app.ErrDeckUnfit, 409},
		{app.ErrNoDeckLog, 422},
		{&app.DeckForkError{Fork: &journal.ForkError{Device: "deck-1", Seq: 2}}, 409},
		{app.ErrOtherBlob, 422},
		{app.ErrErased, 410},
		{app.ErrBlind, 403},
		{fmt.Errorf("%w: it ends with a dot", app.ErrBadName), 422},
		{app.ErrNoSpace, 507},
		{io.ErrUnexpectedEOF, 500},
		{fmt.Errorf("wrapped: %w", app.ErrReadOnly), 403},
	} {
		h, sessions := start(fakeStudies{err: k.err}, builtWeb)
		c := signIn(t, h, sessions)
		for _, res := range []*http.Response{
			ask(h, "GET", "/api/studies/bay/passes/P00001", with(c)),
			post(h, "/api/studies/bay/undo", `{"entry":"e"}`, with(c)),
			ask(h, "GET", "/api/home", with(c)),
		} {
			var problem struct{ Detail string }
			if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != k.status || problem.Detail != k.err.Error() {
				t.Errorf("%v: status %d, detail %q, %v; want %d and the same sentence", k.err, res.StatusCode, problem.Detail, err, k.status)
			}
		}
		res := ask(h, "GET", "/download/bay/season", with(c))
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != k.status || strings.Contains(string(text), "half") || res.Header.Get("Content-Disposition") != "" {
			t.Errorf("download with %v: status %d, %q; want %d and the sentence alone", k.err, res.StatusCode, text, k.status)
		}
	}
}

func TestRefusedEditsSayWhere(t *testing.T) {
	h, sessions := start(fakeStudies{err: &app.EditError{Faults: []app.EditFault{
		{Kind: "pass", ID: "P00001", Field: "turned", Wrong: `"maybe"`, Expected: "yes, no or blank"},
		{Kind: "site", Field: "depth_m", Wrong: "-1", Expected: "more than 0"},
	}}}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/studies/bay/edits", `{"changes":[]}`, with(c))
	var problem struct {
		Errors []struct{ Message, Location string }
	}
	if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != http.StatusUnprocessableEntity || len(problem.Errors) != 2 {
		t.Fatalf("status %d, %+v, %v", res.StatusCode, problem, err)
	}
	if e := problem.Errors[0]; e.Location != "pass/P00001/turned" || e.Message != `"maybe"; yes, no or blank` {
		t.Errorf("%+v", e)
	}
	if e := problem.Errors[1]; e.Location != "site//depth_m" {
		t.Errorf("%+v", e)
	}
}

func TestDownloadOfASeason(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	res := ask(h, "GET", "/download/bay/season", with(c))
	_, params, err := mime.ParseMediaType(res.Header.Get("Content-Disposition"))
	text, readErr := io.ReadAll(res.Body)
	if err := errors.Join(err, readErr); err != nil || res.StatusCode != http.StatusOK || res.Header.Get("Content-Type") != "application/zip" || params["filename"] != "bay é.zip" || string(text) != "PK" {
		t.Errorf("status %d, %v, %q, %v", res.StatusCode, params, text, err)
	}
	if res := ask(h, "GET", "/download/nowhere/season", with(c)); res.StatusCode != http.StatusNotFound {
		t.Errorf("an unknown study: status %d", res.StatusCode)
	}
	if res := ask(h, "GET", "/download/bay/season", nil); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
}

func TestAWindowBeginsWhereItWasToldTo(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	sessions.Start = "/Bay%20of%20R%C3%AD%C3%A1n"
	res := ask(h, "GET", "/enter?token="+sessions.Token(), nil)
	if got := res.Header.Get("Refresh"); got != "0; url=/Bay%20of%20R%C3%AD%C3%A1n" {
		t.Errorf("Refresh %q", got)
	}
}
