package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/core/deck"
	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/httpapi"
	"brinefield/internal/storetest"
)

// The sweep asks every route of the program's own description, reads every
// file of the study but the guarded part, runs the commands and keeps what is
// logged, in two worlds that differ in the allocation alone: which pair was
// active, with what current, in which polarity, as it was sealed by keys and as
// it was recorded. Everything must be the same to the last byte. What cannot be
// the same, because it is a hash over what is sealed, is known by its place and
// gets a name: commitments, the seal, references to assignments, and the hashes
// of journal entries that hold one of these.

// world is one of the two.
type world struct {
	dir     string
	clock   *handClock
	desk    *desk
	study   *app.Study
	keys    [2]app.NewKeyView
	names   []string // pairs: what was found, and its name
	outputs map[string]string
}

// turned gives another seed of the schedule in each world and the same bytes
// for all else.
type turned struct {
	source io.Reader
	turn   byte
	on     bool
}

func (r *turned) Read(b []byte) (int, error) {
	n, err := r.source.Read(b)
	if r.on && n > 0 {
		b[0] ^= r.turn
		r.on = false
	}
	return n, err
}

// allocation is what was recorded in a world.
var allocation = [2]map[string]string{
	{"T001": "A,9,sine,1,8.9,9.1", "T002": "D,6,sine,1,,", "T003": "none,6,,,,", "T004": "B,12,sine,2,11,11", "T005": "C,9,,,,", "T006": "A+B,3,sine,1,3,3"},
	{"T001": "none,6,,,,", "T002": "A,12.5,square,10,12,13", "T003": "C,9,,,8,8", "T004": "D,9,sine,1,,", "T005": "A,-6,sine,1,6,6.1", "T006": "B,9,,,,"},
}

const guardedColumns = "active_pair,current_uA,waveform,frequency_Hz,current_before_uA,current_after_uA"

func newWorld(t *testing.T, which int) *world {
	t.Helper()
	w := &world{dir: t.TempDir(), clock: newClock(), outputs: map[string]string{}}
	chance := &turned{source: rand.NewChaCha8([32]byte{2}), turn: byte(1 + which)}
	s := newShelf(w.dir)
	s.clock, s.monotonic, s.random, s.run = w.clock.Now, func() time.Duration { return 0 }, rand.NewChaCha8([32]byte{1}), "run"
	w.desk = &desk{shelf: s, clock: w.clock}
	w.desk.Studies = app.NewStudies(app.StudiesOptions{
		Shelf: s, ShelfName: "shelf", Program: program(), Clock: w.clock.Now, Random: chance, Sealer: storetest.NewSealer(rand.NewChaCha8([32]byte{3})),
		Analyse: app.AnalyseOptions{Seed: 1}, Background: t.Context(),
	})
	in := smallSeason(t)
	before := maps.Clone(in)
	before["trials.csv"] = keepRows(in["trials.csv"], func([]string) bool { return false })
	before["passes.csv"] = keepRows(in["passes.csv"], func([]string) bool { return false })
	before["tracks.csv"] = keepRows(in["tracks.csv"], func([]string) bool { return false })
	w.study = w.desk.importNew(t, "bay", before, app.ImportRequest{Author: "Aoife Byrne (invented)"})
	for i := range w.keys {
		w.keys[i] = must(w.desk.NewScheduleKey(app.NewKeyRequest{}))
	}
	chance.on = true
	must(w.study.SealSchedule(t.Context(), app.SealRequest{
		Plan: app.SchedulePlan{Pairs: []string{"A", "B", "C", "D"}, CurrentsUA: []float64{6, 12.5}, Trials: 8, Silent: 1, Sham: 1, OdourOff: 2, DrawPolarity: true, Spare: 2},
		Keys: []app.SealTo{{Public: w.keys[0].Public, Holder: "Aoife Byrne (invented)"}, {Public: w.keys[1].Public, Holder: "printed"}}, Author: "Aoife Byrne (invented)",
	}))
	w.importTrials(t, in, allocation[which])
	w.readCurrents(t, readOnDeck[which])
	must(w.study.RehearseKey(t.Context(), app.RehearseRequest{KeyProof: app.KeyProof{Key: w.keys[1].Secret}, Author: "Aoife Byrne (invented)"}))
	cards := must(w.study.TakeCardsOut(t.Context(), app.CardsRequest{KeyProof: app.KeyProof{Key: w.keys[0].Secret}, Author: "Tom Kett (invented)"}))
	must(w.study.Card(t.Context(), app.CardRequest{Token: cards.Token, Trial: "T001"}))
	must(w.study.AllCards(t.Context(), app.CardRequest{Token: cards.Token}))
	must(w.study.Wiring(t.Context(), app.CardRequest{Token: cards.Token}))
	plan := must(w.study.Preregistration(t.Context()))
	must(w.study.Register(t.Context(), app.RegisterRequest{Author: "Aoife Byrne (invented)", SHA256: plan.SHA256}))
	waitFor(t, w.study)
	return w
}

// importTrials imports the season with the allocation recorded by the operator.
func (w *world) importTrials(t *testing.T, in app.Input, recorded map[string]string) {
	t.Helper()
	var trials strings.Builder
	trials.WriteString("trial,start,end," + guardedColumns + "\n")
	for line := range strings.Lines(string(in["trials.csv"])) {
		cells := strings.Split(strings.TrimSpace(line), ",")
		if cells[0] != "trial" {
			fmt.Fprintf(&trials, "%s,%s,%s,%s\n", cells[0], cells[1], cells[2], recorded[cells[0]])
		}
	}
	in["trials.csv"] = []byte(trials.String())
	plan := must(w.desk.Plan(t.Context(), app.PlanRequest{Study: "bay", Files: app.Uploads(in)}))
	if len(plan.Faults) > 0 {
		t.Fatalf("%+v", plan.Faults)
	}
	must(w.desk.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay", Author: "Tom Kett (invented)"}))
}

// readOnDeck are currents that a tablet read in a world.
var readOnDeck = [2][]string{{"9.1", "0"}, {"0.02", "-12.44"}}

// readCurrents brings readings as an operator's tablet does.
func (w *world) readCurrents(t *testing.T, uA []string) {
	t.Helper()
	tablet := storetest.NewTablet("deck-7c1e", w.clock.Now())
	batch := app.DeckBatch{Identity: must(w.study.Identity(t.Context())), NowMS: w.clock.Now().UnixMilli()}
	for i, text := range uA {
		salt, data := bytes.Repeat([]byte{byte(i + 1)}, 32), []byte(`{"current_uA":"`+text+`"}`)
		sum := sha256.Sum256(append(slices.Clone(salt), data...))
		ref := hex.EncodeToString(sum[:])
		batch.Blobs = append(batch.Blobs, app.DeckBlob{Ref: ref, Kind: "guarded", Salt: salt, Data: data})
		for _, line := range tablet.Write(t, journal.Draft{
			Kind: study.KindReading, Subject: fmt.Sprintf("7c1e-r%04d", i+1), Act: journal.Record,
			Body: journal.Body{Fields: map[string]string{"trial": fmt.Sprintf("T%03d", i+1), "when": "before", "time": "2026-06-08T09:58:00+01:00", "ref": ref}},
		}) {
			batch.Entries = append(batch.Entries, string(line))
		}
	}
	answer := must(w.study.DeckSync(t.Context(), batch))
	if len(answer.Blobs) != len(uA) {
		t.Fatalf("%+v", answer)
	}
}

// learn names every hash over something sealed, as text and as bytes.
func (w *world) learn(t *testing.T) {
	t.Helper()
	add := func(name, found string) {
		if strings.Trim(found, "0") == "" {
			return // in front of a device's first entry
		}
		w.names = append(w.names, found, name)
		if raw, err := hex.DecodeString(found); err == nil {
			w.names = append(w.names, string(raw), name)
		}
	}
	doc := must(w.study.ScheduleAsOpened(t.Context()))
	add("«seal»", doc.Seal)
	for i, trial := range slices.Concat(doc.Trials, doc.Spare) {
		add(fmt.Sprintf("«commitment %d»", i), trial.Commitment)
	}
	plan := must(w.study.Preregistration(t.Context()))
	add("«preregistration now»", plan.SHA256)
	for i, r := range plan.Registered {
		add(fmt.Sprintf("«preregistration %d»", i), r.SHA256)
	}
	checked := must(w.study.Verify(t.Context(), nil))
	if !checked.Same {
		t.Fatalf("%q", checked.Differences)
	}
	for i, d := range checked.Devices {
		add(fmt.Sprintf("«head %d»", i), d.Head)
	}
	files := must(w.study.ExportStudy(t.Context(), true))
	for i, line := range slices.Collect(bytes.Lines(files["journal.jsonl"])) {
		var entry struct {
			Kind, Previous string
			Body           struct{ Fields map[string]string }
		}
		if err := json.Unmarshal(line, &entry); err != nil {
			t.Fatal(err)
		}
		add(fmt.Sprintf("«hash %d»", i), entry.Previous)
		if entry.Kind == string(study.KindAssignment) {
			add(fmt.Sprintf("«assignment %d»", i), entry.Body.Fields["ref"])
		}
		if entry.Kind == string(study.KindReading) {
			add(fmt.Sprintf("«reading %d»", i), entry.Body.Fields["ref"])
		}
	}
}

func (w *world) keep(what string, text string) {
	w.outputs[what] = strings.NewReplacer(w.names...).Replace(text)
}

// describedRoutes is the program's own description of what it answers.
func describedRoutes() *huma.OpenAPI { return httpapi.Routes(http.NewServeMux(), nil, nil, "1") }

// bodies are what is sent to the routes that take something, by the name of
// the route. A route that is not here fails the sweep: nobody adds one that
// the sweep does not ask.
func (w *world) bodies() map[string][]string {
	key := func(rest string) []string {
		return []string{`{"key":"secret` + strings.Repeat("0", 32) + `"` + rest + `}`}
	}
	plan := `{"pairs":["A","B"],"currents_uA":[6],"trials":8,"silent":1,"sham":0,"odour_off":0,"draw_polarity":true,"repeats":1,"most_alike":0,"spare":1}`
	usual, err := deck.Default().Text()
	if err != nil {
		panic(err)
	}
	camera := `{"width_px":640,"height_px":360,"fx_px":500,"fy_px":500,"cx_px":320,"cy_px":180,"k1":0,"k2":0,"k3":0,"p1":0,"p2":0,"port":null}`
	heights := `{"how":"limits","class":"","low_cm":2,"high_cm":8,"length_cm":null,"sd_cm":null}`
	return map[string][]string{
		"dossier-make":    {`{}`},
		"dossier-stop":    {`{}`},
		"dossier-remove":  {`{"package":"none.zip"}`},
		"dossier-check":   {`{"package":"none.zip"}`},
		"dossier-compare": {`{"old":"none.zip","new":"other.zip"}`},
		"footage-look":    {`{"folder":"/nowhere"}`},
		"footage-import":  {`{"author":"x","clip":"C1","files":["/nowhere/a.mp4"],"copy":false,"start":""}`},
		"footage-stop":    {`{"job":"none"}`},
		"footage-proxy":   {`{"clip":"none"}`},
		"footage-find":    {`{"clip":"none","path":"/nowhere"}`},
		"footage-sync":    {`{"author":"x","clip":"none","etag":"","start":"","events":[]}`},
		"footage-poses":   {`{"author":"x","clip":"none","etag":"","poses":[],"save":false}`},
		"footage-camera":  {`{"author":"x","id":"lander","etag":"","spec":` + camera + `,"note":"invented","remove":false}`},
		"footage-fixes":   {`{"author":"x","pass":"P001","clip":"none","etag":"","start_frame":null,"onset_frame":null,"end_frame":null,"heights":` + heights + `,"fixes":[],"save":false}`},
		"deck-setup": {
			`{"author":"x","spec":` + strings.Replace(usual, `"trial_min":0`, `"trial_min":25`, 1) + `}`,
			`{"author":"x","spec":` + strings.Replace(usual, `"trial_min":0`, `"trial_min":-1`, 1) + `}`,
		},
		"create-study": {`{"study":"bay","title":"again"}`},
		"plan-import":  {`{"study":"bay","files":[]}`},
		"import":       {`{"plan":"none","study":"bay"}`},
		"edit": {
			`{"changes":[{"kind":"trial","id":"T001","field":"active_pair","from":"A","to":"B"}]}`,
			`{"changes":[{"kind":"trial","id":"T001","field":"current_uA","from":"9","to":"6"}]}`,
			`{"changes":[{"kind":"trial","id":"T001","field":"note","from":"","to":"choppy"}]}`,
			`{"changes":[{"kind":"assignment","id":"T001","field":"ref","from":"","to":"x"}]}`,
			`{"changes":[{"kind":"seal","id":"seal 1","field":"document","from":"","to":"x"}]}`,
			`{"add":[{"kind":"guess","id":"G1","fields":{"trial":"T001","pair":"A","by":"Tom Kett (invented)"}}]}`,
			`{"add":[{"kind":"trial","id":"T007","fields":{"start":"2026-06-09T10:00","end":"2026-06-09T10:20","active_pair":"sealed"}}]}`,
			`{"remove":[{"kind":"pair","id":"B"}]}`,
			`{"remove":[{"kind":"trial","id":"T006"}]}`,
		},
		"undo":              {`{"entry":"none"}`},
		"analyse":           {``},
		"open-active-pairs": {`{"author":"x","reason":"y"}`, `{"author":"x","reason":"y","trials":["T001"]}`, `{"author":"x","reason":"y","lock":true,"leave_unscored":true,"key":"secret` + strings.Repeat("0", 32) + `"}`},
		"seal-schedule":     {`{"plan":` + plan + `,"per_day":0,"keys":[],"author":"x","reason":"y"}`},
		"take-schedule":     {`{"document":"{}","author":"x","reason":"y"}`},
		"rehearse-key":      key(`,"author":"x"`),
		"take-cards-out":    key(`,"author":"x"`),
		"put-cards-away":    {`{"token":"none"}`}, "all-cards": {`{"token":"none"}`}, "card": {`{"token":"none","trial":"T001"}`}, "wiring": {`{"token":"none"}`},
		"lock-scoring":     {`{"author":"x","reason":"y","leave_unscored":true}`},
		"unlock-scoring":   {`{"author":"x","reason":"y"}`},
		"register":         {`{"author":"x","sha256":"0"}`},
		"schedule-example": {`{"plan":` + plan + `,"per_day":4,"seed":3}`},
		"schedule-key":     {`{"passphrase":""}`},
		"tablets-change":   {`{"serve":true}`}, "tablets-code": {`{"study":"bay","role":"lead"}`}, "tablets-role": {`{"device":"none","study":"bay","role":"lead"}`}, // this window serves none
		"deck-sync": {
			`{"identity":"another","entries":[],"blobs":[],"now_ms":0}`,
			`{"identity":"` + must(w.study.Identity(context.Background())) + `","entries":[],"blobs":[],"now_ms":0}`,
			`{"identity":"` + must(w.study.Identity(context.Background())) + `","entries":["{}"],"blobs":[],"now_ms":0}`,
		},
		"deck-import":    {`{"file":"no log"}`, `{"file":""}`},
		"deck-align":     {`{"device":"deck-7c1e","offset_s":3.5,"correct":true,"author":"x","reason":"y"}`, `{"device":"none","offset_s":1,"correct":false}`},
		"deck-reconcile": {`{"passes":["P00001","P00002"],"verdict":"two","author":"x","reason":"y"}`, `{"passes":["P00001","none"],"verdict":"one","keep":"P00001","author":"x","reason":"y"}`},
		"deck-pair":      {`{"code":"none","name":"tablet"}`},
		"rig":            {`{}`}, "background": {`{}`}, "calibrate": {`{}`}, // know no study
		"stimulus-errors": {`{}`}, "stimulus-points": {`{}`}, "stimulus-range": {`{}`}, "stimulus-section": {`{}`}, "stimulus-target": {`{}`}, "stimulus-volume": {`{}`}, "stimulus-waveform": {`{}`},
	}
}

// kinds are all kinds of records that there are.
func kinds() []study.Kind {
	return slices.Concat(study.SeasonKinds, study.OwnKinds, study.FootageKinds, []study.Kind{
		study.KindAssignment, study.KindImport, study.KindOpening, study.KindErasure, study.KindSeal, study.KindRehearsal, study.KindCard, study.KindLock, study.KindPreregistration, study.KindDeck,
	})
}

// addresses are those of a route with everything that can stand in it.
func addresses(route string, op *huma.Operation) []string {
	route = strings.ReplaceAll(route, "{study}", "bay")
	var out []string
	switch {
	case strings.Contains(route, "{id}"):
		for _, id := range []string{"P00001", "P00010", "P00023", "none"} {
			out = append(out, strings.ReplaceAll(route, "{id}", id))
		}
	case strings.Contains(route, "{kind}"):
		for _, kind := range kinds() {
			out = append(out, strings.ReplaceAll(route, "{kind}", string(kind))+"?limit=5000")
		}
	case op.OperationID == "history":
		for _, kind := range kinds() {
			for _, id := range []string{"", "T001", "T004", "P00001", "A", "seal 1", "rehearsal 1", "card 1", "card 2", "preregistration 1"} {
				out = append(out, route+"?kind="+string(kind)+"&id="+strings.ReplaceAll(id, " ", "%20"))
			}
		}
	case op.OperationID == "journal":
		for _, part := range []string{"", "?limit=1000", "?before=20&limit=7"} {
			out = append(out, route+part)
		}
	default:
		out = append(out, route)
	}
	return out
}

// sweepRoutes asks the whole server, in the order of the addresses.
func (w *world) sweepRoutes(t *testing.T) {
	t.Helper()
	sessions := httpapi.NewSessions()
	handler := httpapi.New(httpapi.Config{Studies: pages{w.desk.Studies}, Web: os.DirFS(t.TempDir()), Hosts: []string{"here"}, Session: sessions, Version: "1"})
	entered := httptest.NewRecorder()
	handler.ServeHTTP(entered, request("GET", "/enter?token="+sessions.Token(), ""))
	cookie := entered.Result().Cookies()[0]
	ask := func(method, address, body string) {
		r := request(method, address, body)
		r.AddCookie(cookie)
		res := httptest.NewRecorder()
		handler.ServeHTTP(res, r)
		if res.Code == http.StatusInternalServerError {
			t.Errorf("%s %s %s: %s", method, address, body, res.Body)
		}
		answer := res.Body.String()
		if strings.HasSuffix(address, "/analyse") {
			answer = "" // how far it had come when it was asked is no fact about the study
		}
		w.keep(method+" "+address+" "+body, fmt.Sprintf("%d %v\n%s", res.Code, res.Header(), answer))
		waitFor(t, w.study) // what was begun in the background ends before the next question
	}
	routes := describedRoutes().Paths
	bodies := w.bodies()
	for range 2 { // after the changes once more
		for _, route := range slices.Sorted(maps.Keys(routes)) {
			item := routes[route]
			if item.Get != nil {
				for _, address := range addresses(route, item.Get) {
					ask("GET", address, "")
				}
			}
			if item.Post == nil {
				continue
			}
			sent, known := bodies[item.Post.OperationID]
			if !known {
				t.Errorf("the sweep does not know what to send to %s (%s): add it to its bodies", route, item.Post.OperationID)
			}
			for _, body := range sent {
				ask("POST", strings.ReplaceAll(route, "{study}", "bay"), body)
			}
		}
		ask("GET", "/download/bay/season", "")
	}
}

// usualDeck is the tag of a study that says nothing of its own about logging on
// deck: the first change of it holds, and the same once more finds it changed.
func usualDeck() string {
	text, err := deck.Default().Text()
	if err != nil {
		panic(err)
	}
	sum := sha256.Sum256([]byte(text))
	return `"` + hex.EncodeToString(sum[:16]) + `"`
}

func request(method, address, body string) *http.Request {
	r := httptest.NewRequest(method, "http://here"+address, strings.NewReader(body))
	r.Host = "here"
	if method == "POST" {
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		r.Header.Set("If-Match", usualDeck())
	}
	return r
}

// sweepCommands runs the commands that read a study.
func (w *world) sweepCommands(t *testing.T) {
	t.Helper()
	for i, args := range [][]string{
		{"analyse", "--json", "bay"},
		{"analyse", "bay"},
		{"verify", "--json", "bay"},
		{"export", "--journal", "bay", filepath.Join(w.dir, "exported")},
		{"export", "bay", filepath.Join(w.dir, "exported again")},
		{"schedule", "unseal", "bay", "--author", "x", "--reason", "y", "--lock", "--leave-unscored"},
		{"schedule", "unseal", "bay", "--author", "x", "--reason", "y", "--trial", "T001"},
		{"schedule", "register", "--show", "bay"},
		{"verify", filepath.Join(w.dir, "exported", "schedule.json")},
		{"backup", "bay", filepath.Join(w.dir, "backup.zip")},
	} {
		var said bytes.Buffer
		out := outside()
		out.Out, out.Err, out.Clock = &said, &said, w.clock.Now
		if !slices.ContainsFunc(args, func(a string) bool { return strings.HasSuffix(a, ".json") }) {
			at := 1
			if args[0] == "schedule" {
				at = 2
			}
			args = slices.Insert(slices.Clone(args), at, "--studies", w.dir)
		}
		code := cli.Run(t.Context(), args, out)
		w.keep(fmt.Sprintf("command %d", i), strings.ReplaceAll(fmt.Sprintf("%d\n%s", code, said.String()), w.dir, "«dir»"))
	}
}

// rowsOf are all rows of all tables of a database, but the two that say where
// on this disc the file lies and when its tables were made.
func rowsOf(t *testing.T, path string) string {
	t.Helper()
	db := must(sql.Open("sqlite", "file:"+path+"?mode=ro"))
	defer func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}()
	var out strings.Builder
	for _, table := range namesIn(t, db, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT IN ('here', 'goose_db_version') ORDER BY name") {
		rows := must(db.Query("SELECT * FROM " + table))
		columns := must(rows.Columns())
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(any)
		}
		for rows.Next() {
			if err := rows.Scan(cells...); err != nil {
				t.Fatal(err)
			}
			out.WriteString(table)
			for _, c := range cells {
				fmt.Fprintf(&out, "|%s", *c.(*any))
			}
			out.WriteByte('\n')
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
	}
	return out.String()
}

func namesIn(t *testing.T, db *sql.DB, query string) (out []string) {
	t.Helper()
	rows := must(db.Query(query))
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		out = append(out, s)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// sweepFiles reads every file below a folder, but the guarded part.
func (w *world) sweepFiles(t *testing.T, below string) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(w.dir, below), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), "guarded.db") {
			return err
		}
		name, err := filepath.Rel(w.dir, path)
		if err != nil {
			return err
		}
		if d.Name() == "study.db" {
			w.keep("file "+name, rowsOf(t, path))
			return nil
		}
		data, err := os.ReadFile(path)
		w.keep("file "+name, string(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// sweep gathers everything.
func (w *world) sweep(t *testing.T) map[string]string {
	t.Helper()
	logged, err := os.Create(filepath.Join(t.TempDir(), "stderr"))
	if err != nil {
		t.Fatal(err)
	}
	defer func(was *os.File) { os.Stderr = was }(os.Stderr)
	os.Stderr = logged
	w.sweepRoutes(t)
	w.sweepPackage(t)
	w.learn(t) // hashes of what the sweep itself wrote
	w.desk.close(t)
	// The list of the plain export holds the hashes of files that hold hashes.
	for _, name := range []string{"journal.jsonl", "schedule.json", "preregistration.md"} {
		sum := sha256.Sum256(must(os.ReadFile(filepath.Join(w.dir, "bay", "export", name))))
		w.names = append(w.names, hex.EncodeToString(sum[:]), "«hash of "+name+"»")
	}
	w.sweepFiles(t, "bay")
	w.sweepCommands(t)
	w.sweepFiles(t, "exported")
	w.sweepFiles(t, "exported again")
	w.keep("log", string(must(os.ReadFile(logged.Name()))))
	for what, text := range w.outputs { // what was kept before it was learnt
		w.keep(what, text)
	}
	return w.outputs
}

func TestSweepUnderTwoAllocations(t *testing.T) {
	var outputs [2]map[string]string
	for i := range outputs {
		w := newWorld(t, i)
		w.learn(t)
		outputs[i] = w.sweep(t)
	}
	if len(outputs[0]) < 300 {
		t.Errorf("only %d answers, files and lines were compared", len(outputs[0]))
	}
	t.Logf("%d answers, files and logs compared", len(outputs[0]))
	for _, what := range slices.Sorted(maps.Keys(outputs[0])) {
		one, other := outputs[0][what], outputs[1][what]
		if one != other {
			t.Errorf("%s tells the worlds apart: %s", what, firstDifference(one, other))
		}
		for _, secret := range []string{"A+B", "12.5,sq", `"current_uA":12.5`, `"active_pair":"A"`} {
			if strings.Contains(one+other, secret) && !strings.Contains(what, "schedule/example") && !strings.Contains(what, "POST") {
				t.Errorf("%s holds %q", what, secret)
			}
		}
	}
	if len(outputs[0]) != len(outputs[1]) {
		t.Errorf("%d answers in one world, %d in the other", len(outputs[0]), len(outputs[1]))
	}
}

// The sweep can find something: in worlds that are opened it does.
func TestSweepFindsWhatIsOpen(t *testing.T) {
	var outputs [2]map[string]string
	for i := range outputs {
		w := newWorld(t, i)
		must(w.study.OpenActivePairs(t.Context(), app.OpeningRequest{
			Author: "Aoife Byrne (invented)", Reason: "done", Lock: true, LeaveUnscored: true, KeyProof: app.KeyProof{Key: w.keys[1].Secret},
		}))
		waitFor(t, w.study)
		w.learn(t)
		outputs[i] = w.sweep(t)
	}
	for _, what := range []string{
		"GET /api/studies/bay/tables/trial?limit=5000 ", "GET /api/studies/bay/schedule ", "GET /api/studies/bay/schedule/document ", "GET /api/studies/bay/season ",
		"GET /api/studies/bay/exposures ", "GET /api/studies/bay/history?kind=trial&id=T001 ", "GET /api/studies/bay/passes/P00001 ", "GET /api/studies/bay/journal ",
		"GET /download/bay/season ", "package season/trials.csv", "package results/findings.json", "file exported/trials.csv", "file exported/schedule.json", "file exported/journal.jsonl", "file bay/study.db", "command 0",
	} {
		if outputs[0][what] == outputs[1][what] {
			t.Errorf("%s does not tell the worlds apart: %.300s", what, outputs[0][what])
		}
	}
}

func firstDifference(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	around := func(s string) string { return s[max(0, min(len(s), i)-60):min(len(s), i+120)] }
	return fmt.Sprintf("at byte %d of %d and %d: %q, %q", i, len(a), len(b), around(a), around(b))
}
