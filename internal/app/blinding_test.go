package app_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// blindBay is the small season as a study whose active pairs are sealed.
func blindBay(t testing.TB) (*app.Study, *memStudy, *app.Studies) {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Blind: true, Author: "Aoife Byrne"})
	return openStudy(t, s, "bay"), shelf.studies["bay"], s
}

// put puts an entry into a journal, as the program itself would.
func put(t testing.TB, m *memStudy, author string, d journal.Draft) journal.Entry {
	t.Helper()
	m.clock.Now = m.clock.Now.Add(time.Minute)
	if author != "" {
		d.Author = personIn(t, m, author)
	}
	entries, err := m.Append(t.Context(), []journal.Draft{d})
	if err != nil {
		t.Fatal(err)
	}
	return entries[0]
}

// personIn is the reference of a name, made anew.
func personIn(t testing.TB, m *memStudy, name string) string {
	t.Helper()
	ref, err := (*memErasable)(m).Put(t.Context(), []byte(name))
	if err != nil {
		t.Fatal(err)
	}
	return "person:" + ref
}

func opened(id, trials string) journal.Draft {
	fields := map[string]string{"active_pairs": "opened"}
	if trials != "" {
		fields["trials"] = trials
	}
	return journal.Draft{Kind: study.KindOpening, Subject: id, Act: journal.Record, Reason: "scored", Body: journal.Body{Fields: fields}}
}

func recorded(kind study.Kind, id string, fields map[string]string) journal.Draft {
	return journal.Draft{Kind: kind, Subject: id, Act: journal.Record, Body: journal.Body{Fields: fields}}
}

func afterOpening(t testing.TB, b *app.Study) []string {
	t.Helper()
	rows, err := b.AfterOpening(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for i, r := range rows {
		if r.Entry == "" || r.When == "" || i > 0 && (rows[i-1].Entry > r.Entry || rows[i-1].Entry == r.Entry && rows[i-1].Field >= r.Field) {
			t.Errorf("row %d: %+v after %+v", i, r, rows[max(i-1, 0)])
		}
		out = append(out, strings.Join([]string{r.Kind, r.ID, r.Trial, r.Field, r.From, r.To, r.By, r.Reason}, "|"))
	}
	return out
}

func facts(t testing.TB, b *app.Study) app.ScheduleView {
	t.Helper()
	v, err := b.BlindingFacts(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func edited(t testing.TB, b *app.Study, in app.EditRequest) {
	t.Helper()
	if _, err := b.Edit(t.Context(), in); err != nil {
		t.Fatal(err)
	}
}

// A partial opening counts for its trials only, a whole one for all, and what
// was done before counts for neither.
func TestAfterOpeningByTrial(t *testing.T) {
	b, m, _ := blindBay(t)
	note := func(pass, from, to string) app.CellChange {
		return app.CellChange{Kind: "pass", ID: pass, Field: "note", From: from, To: to}
	}
	set(t, b, "Tom Kett", note("P1", "", "before"), note("P4", "", "before"))
	if got := afterOpening(t, b); len(got) != 0 {
		t.Errorf("nothing is opened: %v", got)
	}
	put(t, m, "Nora Quill", opened("opening 1", "T2, T1"))
	set(t, b, "Tom Kett", note("P1", "before", "one"), note("P4", "before", "one"))
	edited(t, b, app.EditRequest{Author: "Aoife Byrne", Reason: "misread", Changes: []app.CellChange{{Kind: "pass", ID: "P2", Field: "scorer", From: "Aoife Byrne", To: "Tom Kett"}}})
	edited(t, b, app.EditRequest{Changes: []app.CellChange{{Kind: "pass", ID: "P4", Field: "trial", From: "T3", To: "T2"}, {Kind: "pass", ID: "P4", Field: "time", From: "2026-06-02T21:20:00", To: "2026-06-01T22:20:00"}}})
	edited(t, b, app.EditRequest{Changes: []app.CellChange{{Kind: "trial", ID: "T1", Field: "note", From: "calm", To: ""}, {Kind: "trial", ID: "T3", Field: "note", From: "swell", To: ""}}})
	want := []string{
		"pass|P1|T1|note|before|one|Tom Kett|",
		"pass|P2|T1|scorer|Aoife Byrne|Tom Kett|Aoife Byrne|misread",
		"pass|P4|T2|time|2026-06-02T21:20:00|2026-06-01T22:20:00||",
		"pass|P4|T2|trial|T3|T2||",
		"trial|T1|T1|note|calm|||",
	}
	if diff := cmp.Diff(want, afterOpening(t, b)); diff != "" {
		t.Errorf("after opening T1 and T2 (-want +got):\n%s", diff)
	}
	put(t, m, "Nora Quill", opened("opening 2", ""))
	set(t, b, "", app.CellChange{Kind: "trial", ID: "T3", Field: "note", From: "", To: "swell"})
	want = append(want, "trial|T3|T3|note||swell||")
	if diff := cmp.Diff(want, afterOpening(t, b)); diff != "" {
		t.Errorf("after all (-want +got):\n%s", diff)
	}
}

// Records come and go: each of their values counts, a track as its number of
// fixes, and an undo like any other change.
func TestAfterOpeningOfWholeRecords(t *testing.T) {
	b, m, s := blindBay(t)
	put(t, m, "Nora Quill", opened("opening 1", ""))
	edited(t, b, app.EditRequest{Author: "Tom Kett", Reason: "seen late", Add: []app.NewRow{
		{Kind: "clip", ID: "C1", Fields: map[string]string{"file": "c1.mp4", "start": "2026-06-01T21:00:00"}},
		{Kind: "pass", ID: "P5", Fields: map[string]string{"trial": "T1", "time": "2026-06-01T21:30", "species": "Raja clavata", "pair": "A", "turned": "no", "bit": "no"}},
	}})
	edited(t, b, app.EditRequest{Reason: "a fish", Remove: []app.RowName{{Kind: "pass", ID: "P5"}, {Kind: "clip", ID: "C1"}}})
	rows := afterOpening(t, b)
	for _, want := range []string{
		"clip|C1||file||c1.mp4|Tom Kett|seen late", "pass|P5|T1|turned||no|Tom Kett|seen late", "pass|P5|T1|turned|no|||a fish", "clip|C1||file|c1.mp4|||a fish",
	} {
		if !slices.Contains(rows, want) {
			t.Errorf("no %q in:\n%s", want, strings.Join(rows, "\n"))
		}
	}
	before := len(rows)
	shelf := newMemShelf()
	shelf.studies["bay"] = m
	shelf.clock = m.clock
	tracks := with(t, smallSeason(), "tracks.csv", "P1,1,48,0,4\n", "")
	tracks = with(t, tracks, "tracks.csv", "P2,0,-30,5,6\nP2,1,-55,-3,6\n", "")
	plan := planOf(t, s, "bay", tracks)
	if _, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay", RemoveMissing: true, Author: "Aoife Byrne"}); err != nil {
		t.Fatal(err)
	}
	rows = afterOpening(t, b)[before:]
	want := []string{"track|P1|T1||3|2|Aoife Byrne", "track|P2|T1||2||Aoife Byrne"}
	for i := range rows {
		rows[i], _, _ = strings.Cut(rows[i], "|import ")
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("tracks (-want +got):\n%s", diff)
	}
	done := set(t, b, "", app.CellChange{Kind: "pass", ID: "P3", Field: "note", To: "x"})
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: done.Entries[0].Entry, Author: "Tom Kett"}); err != nil {
		t.Fatal(err)
	}
	rows = afterOpening(t, b)
	if got := rows[len(rows)-1]; got != "pass|P3|T2|note|x||Tom Kett|" {
		t.Errorf("undone: %s", got)
	}
}

// What an import in plain sight writes itself is not after its opening, what a
// second import writes is; of guarded values those count that people changed.
func TestAfterOpeningOfImports(t *testing.T) {
	b, m, s := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	if got := afterOpening(t, b); len(got) != 0 {
		t.Errorf("the import itself: %v", got)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T1", Field: "current_uA", From: "9", To: "8"})
	corrected := with(t, smallSeason(), "trials.csv", "21:40,A,9.0", "21:40,A,8.0")
	corrected = with(t, corrected, "trials.csv", "21:40,B,6,sine", "21:40,A,6,sine")
	shelf := newMemShelf()
	shelf.studies["bay"] = m
	importInto(t, s, shelf, "bay", corrected, app.ImportRequest{Author: "Nora Quill"})
	rows := afterOpening(t, b)
	if len(rows) != 2 || rows[0] != "trial|T1|T1|current_uA|9|8|Tom Kett|" || !strings.HasPrefix(rows[1], "trial|T3|T3|active_pair|B|A|Nora Quill|") {
		t.Errorf("rows:\n%s", strings.Join(rows, "\n"))
	}
}

// While nothing is opened there is nothing to list, whatever is changed; and a
// name that is erased is not shown any more.
func TestAfterOpeningForgetsNames(t *testing.T) {
	b, m, _ := blindBay(t)
	put(t, m, "Nora Quill", opened("opening 1", ""))
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "note", To: "x"})
	v := facts(t, b)
	if len(v.After) != 1 || v.After[0].By != "Tom Kett" || v.MoreAfter != 0 {
		t.Fatalf("%+v", v.After)
	}
	if _, err := b.ErasePerson(t.Context(), "Tom Kett", "Aoife Byrne"); err != nil {
		t.Fatal(err)
	}
	// The erasure writes anew what else holds the name: that is a change too.
	if v = facts(t, b); len(v.After) != 2 || v.After[1].Reason != "a person's name was erased" || !strings.HasPrefix(v.After[0].By, "erased person") {
		t.Errorf("after the erasure: %+v", v.After)
	}
}

// However often it is asked in between, what is known grows to the same.
func TestAfterOpeningGrows(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := context.Background()
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	from := ""
	for i := range 30 {
		set(t, b, "", app.CellChange{Kind: "pass", ID: []string{"P1", "P4"}[i%2], Field: "note", From: from, To: fmt.Sprint(i / 2)})
		if i%2 == 1 {
			from = fmt.Sprint(i / 2)
		}
		if i == 20 {
			put(t, m, "Nora Quill", opened("opening 2", ""))
		}
		if i%7 == 0 {
			facts(t, b)
		}
	}
	all, err := b.AfterOpening(ctx)
	if err != nil {
		t.Fatal(err)
	}
	v := facts(t, b)
	if diff := cmp.Diff(all, v.After); diff != "" || len(all) != 15+5 {
		t.Errorf("%d rows (-at once +grown):\n%s", len(all), diff)
	}
	if len(v.Warnings) == 0 || !strings.Contains(v.Warnings[len(v.Warnings)-1], "20 values were recorded") || !strings.Contains(v.Warnings[len(v.Warnings)-1], "concerned: 2)") {
		t.Errorf("warnings %q", v.Warnings)
	}
}

// Who could have known what, in order of time, and who scored it.
func TestKnowers(t *testing.T) {
	b, m, _ := blindBay(t)
	if v := facts(t, b); len(v.Knowers) != 0 || len(v.Warnings) != 0 || v.Knowers == nil || v.Warnings == nil || v.Guesses == nil || v.Guessed == nil || v.After == nil {
		t.Errorf("nothing is known: %+v", v)
	}
	document := `{"trials":[{"trial":"T1"},{"trial":"T2"}],"spare":[{"trial":"S001"}]}`
	seal := func(id string, holders ...string) {
		fields := map[string]string{"document": document, "per_day": "2"}
		for i, holder := range holders {
			fields[fmt.Sprintf("holder_%d", i+1)] = personIn(t, m, holder)
		}
		put(t, m, "Nora Quill", recorded(study.KindSeal, id, fields))
	}
	card := func(n int, who, what, trial string) {
		fields := map[string]string{"what": what}
		if trial != "" {
			fields["trial"] = trial
		}
		put(t, m, who, recorded(study.KindCard, fmt.Sprint("card ", n), fields))
	}
	seal("seal 1", "Tom Kett", "nobody in particular")
	card(1, "Aoife Byrne", "cards", "")
	seal("seal 2", "Nora Quill", "the safe", "AOIFE BYRNE ") // replaces the first, of which nothing counts
	put(t, m, "Nora Quill", recorded(study.KindRehearsal, "rehearsal 1", map[string]string{"seal": "ab", "key": "age1x"}))
	card(2, " tom kett", "card", "T2")
	card(3, "Ciarán", "wiring", "")
	card(4, "Tom Kett", "card", "T1")
	card(5, "Tom Kett", "card", "T2")
	put(t, m, "Aoife Byrne", opened("opening 1", "T1"))
	put(t, m, "Tom Kett", opened("opening 2", ""))
	set(t, b, "Nora Quill", app.CellChange{Kind: "pass", ID: "P3", Field: "note", To: "x"})
	v := facts(t, b)
	var got []string
	for _, k := range v.Knowers {
		got = append(got, fmt.Sprintf("%s|%s|%s|%s|%d", strings.TrimSpace(k.Who), k.Since[11:16], k.How, strings.Join(k.Trials, " "), k.Scored))
	}
	want := []string{ // P1 and P2 of T1 were scored by Aoife Byrne, P3 of T2 and P4 of T3 by Tom Kett
		"Nora Quill|10:03|key||0", "the safe|10:03|key||0", "AOIFE BYRNE|10:03|key||2",
		"Nora Quill|10:04|rehearsal||0",
		"tom kett|10:05|card|T2 T1|1", "Ciarán|10:06|wiring||0",
		"Aoife Byrne|10:09|opening|T1|0", "Tom Kett|10:10|opening||1",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("knowers (-want +got):\n%s", diff)
	}
	for _, sentence := range []string{
		"AOIFE BYRNE holds a key of the schedule and scored 2 passes of it",
		"tom kett saw the card of T2 and scored 1 pass of it",
		"Tom Kett opened the active pairs and scored 1 pass that were scored or changed afterwards",
	} {
		if !slices.ContainsFunc(v.Warnings, func(w string) bool { return strings.TrimSpace(w) == sentence }) {
			t.Errorf("no warning %q in %q", sentence, v.Warnings)
		}
	}
	if n := len(v.Warnings); n != 4 { // and the one of changes after the opening
		t.Errorf("%d warnings: %q", n, v.Warnings)
	}
}

// Whoever imported the pairs in plain sight had them beside the passes.
func TestKnowersOfAnImport(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{Author: "Tom Kett"})
	v := facts(t, b)
	if len(v.Knowers) != 1 || v.Knowers[0].How != "import" || v.Knowers[0].Scored != 2 || len(v.Knowers[0].Trials) != 0 {
		t.Errorf("%+v", v.Knowers)
	}
	if !slices.Equal(v.Warnings, []string{"Tom Kett imported the active pairs in plain sight and scored 2 passes"}) {
		t.Errorf("%q", v.Warnings)
	}
}

func guess(id, trial, pair, by string) app.EditRequest {
	return app.EditRequest{Author: by, Add: []app.NewRow{{Kind: "guess", ID: id, Fields: map[string]string{"trial": trial, "pair": pair, "by": by}}}}
}

func TestGuessesAreChecked(t *testing.T) {
	b, m, _ := blindBay(t)
	put(t, m, "Nora Quill", recorded(study.KindSeal, "seal 1", map[string]string{"document": `{"trials":[{"trial":"T044"}],"spare":[{"trial":"S001"}]}`}))
	for _, c := range []struct{ trial, pair, by, want string }{
		{"T1", "A", "Tom Kett", ""},
		{"T044", "none", "Tom Kett", ""},
		{"S001", "unknown", "Tom Kett", ""},
		{"T9", "A", "Tom Kett", `there is no trial "T9"`},
		{"", "A", "Tom Kett", "names no trial"},
		{"T1", "C", "Tom Kett", `there is no pair "C": expected one of A, B, or none`},
		{"T1", "", "Tom Kett", "names no pair"},
		{"T1", "A", " ", "nobody is named"},
	} {
		_, err := b.Edit(t.Context(), guess(c.trial+c.pair+c.by, c.trial, c.pair, c.by))
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(strings.ReplaceAll(err.Error(), "; ", ": "), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// A guess counts until its trial is opened, and the test is there once all are.
func TestGuessesOfAStudy(t *testing.T) {
	b, m, _ := blindBay(t)
	for _, g := range []app.EditRequest{guess("g1", "T1", "A", "Tom Kett"), guess("g2", "T3", "A", "Tom Kett"), guess("g3", "T2", "none", "Aoife Byrne")} {
		edited(t, b, g)
	}
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	edited(t, b, guess("g4", "T1", "A", "Aoife Byrne"))
	set(t, b, "Tom Kett", app.CellChange{Kind: "guess", ID: "g2", Field: "pair", From: "A", To: "B"})
	v := facts(t, b)
	late := map[string]bool{}
	for _, g := range v.Guesses {
		late[g.ID] = g.Late
	}
	if diff := cmp.Diff(map[string]bool{"g1": false, "g2": false, "g3": false, "g4": true}, late); diff != "" || len(v.Guessed) != 0 {
		t.Errorf("late (-want +got):\n%s\ntests before all is opened: %+v", diff, v.Guessed)
	}
	put(t, m, "Nora Quill", opened("opening 2", ""))
	v = facts(t, b)
	if len(v.Guessed) != 3 || v.Guessed[0].By != "all" || v.Guessed[0].Guesses != 3 || v.Guessed[0].Unknown != 1 || v.Guessed[0].Hits != 2 || v.Guessed[0].P == nil {
		t.Fatalf("%+v", v.Guessed)
	}
	// T1 and T3 drew one of two pairs each, by itself: both hit one time in four.
	if p := *v.Guessed[0].P; p < 0.23 || p > 0.27 {
		t.Errorf("p = %g, want 1/4", p)
	}
	if v.Guessed[1].By != "Aoife Byrne" || v.Guessed[1].NotEstimable == "" || v.Guessed[1].P != nil {
		t.Errorf("%+v", v.Guessed[1])
	}
}

// The page Schedule holds what the journal tells of the blinding.
func TestScheduleTellsOfTheBlinding(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{Author: "Tom Kett"})
	edited(t, b, guess("g1", "T1", "A", "Aoife Byrne"))
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "note", To: "x"})
	v, err := b.Schedule(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Knowers) != 1 || len(v.After) != 1 || len(v.Guesses) != 1 || !v.Guesses[0].Late || len(v.Warnings) < 2 {
		t.Errorf("%+v", v)
	}
}
