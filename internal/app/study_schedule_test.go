package app_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// scheduleKeys are those of a lead, with a passphrase, and of recovery.
type scheduleKeys struct {
	lead, recovery app.NewKeyView
	passphrase     string
	sealer         app.Sealer
}

func newScheduleKeys(t testing.TB, s *app.Studies, shelf *memShelf) scheduleKeys {
	t.Helper()
	k := scheduleKeys{passphrase: "nine grey herons", sealer: shelf.sealer}
	var err error
	if k.lead, err = s.NewScheduleKey(app.NewKeyRequest{Passphrase: k.passphrase}); err != nil {
		t.Fatal(err)
	}
	if k.recovery, err = s.NewScheduleKey(app.NewKeyRequest{}); err != nil {
		t.Fatal(err)
	}
	return k
}

func (k scheduleKeys) sealTo() []app.SealTo {
	return []app.SealTo{{Public: k.lead.Public, Holder: "Aoife Byrne"}, {Public: k.recovery.Public, Holder: "printed, in the station's safe"}}
}

func (k scheduleKeys) leads() app.KeyProof {
	return app.KeyProof{Key: k.lead.Secret, Passphrase: k.passphrase}
}

func (k scheduleKeys) printed() app.KeyProof { return app.KeyProof{Key: k.recovery.Secret} }

func smallPlan() app.SchedulePlan {
	return app.SchedulePlan{Pairs: []string{"A", "B"}, CurrentsUA: []float64{6, 9}, Trials: 8, Silent: 2, Sham: 1, OdourOff: 2, DrawPolarity: true, MostAlike: 3, Spare: 2}
}

// beforeTrials is the invented season before its first trial.
func beforeTrials() app.Input {
	in := smallSeason()
	delete(in, "passes.csv")
	delete(in, "tracks.csv")
	in["trials.csv"] = []byte("trial,start,end,active_pair,current_uA\n")
	in["passes.csv"] = []byte("pass,trial,time,individual,species,pair,turned,bit\n")
	return in
}

// sealedStudy has a schedule sealed and the trials named run.
func sealedStudy(t testing.TB, run ...string) (*app.Study, *app.Studies, scheduleKeys) {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", beforeTrials(), app.ImportRequest{Author: "Aoife Byrne"})
	b := openStudy(t, s, "bay")
	k := newScheduleKeys(t, s, shelf)
	if _, err := b.SealSchedule(t.Context(), app.SealRequest{Plan: smallPlan(), ScheduleTimes: app.ScheduleTimes{PerDay: 4, TrialMin: 40, WashoutMin: 30}, Keys: k.sealTo(), Author: "Aoife Byrne"}); err != nil {
		t.Fatal(err)
	}
	for i, id := range run {
		add(t, b, "trial", id, map[string]string{"start": fmt.Sprintf("2026-06-01T%02d:00", 8+i), "end": fmt.Sprintf("2026-06-01T%02d:40", 8+i), "active_pair": "sealed"})
		add(t, b, "pass", "P"+id, map[string]string{
			"trial": id, "time": fmt.Sprintf("2026-06-01T%02d:10", 8+i), "species": "Raja clavata", "pair": "A", "turned": "no", "bit": "no",
			"closest_distance_cm": "14", "closest_angle_deg": "40", "closest_height_cm": "5", "scorer": "Tom Kett",
		})
	}
	return b, s, k
}

func add(t testing.TB, b *app.Study, kind, id string, fields map[string]string) {
	t.Helper()
	if _, err := b.Edit(t.Context(), app.EditRequest{Author: "Tom Kett", Add: []app.NewRow{{Kind: kind, ID: id, Fields: fields}}}); err != nil {
		t.Fatal(err)
	}
}

// The washout that the plan wants is public, and what falls short of it is told.
func TestWashout(t *testing.T) {
	b, _, _ := sealedStudy(t, "T001", "T002", "T003") // an hour apart, forty minutes long
	v := scheduleOf(t, b)
	if times := v.Seals[0].ScheduleTimes; times != (app.ScheduleTimes{PerDay: 4, TrialMin: 40, WashoutMin: 30}) {
		t.Errorf("times: %+v", times)
	}
	for _, want := range []string{"Trial T002 began 20 minutes after the end of T001; the plan wants 30.", "Trial T003 began 20 minutes after the end of T002; the plan wants 30."} {
		if !slices.Contains(v.Warnings, want) {
			t.Errorf("not told: %s\n%q", want, v.Warnings)
		}
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T002", Field: "end", From: "2026-06-01T09:40:00", To: "2026-06-01T09:30:00"})
	if v := scheduleOf(t, b); slices.ContainsFunc(v.Warnings, func(w string) bool { return strings.Contains(w, "T003 began") }) {
		t.Errorf("thirty minutes are taken for too few: %q", v.Warnings)
	}
	plan, err := b.Preregistration(t.Context())
	if err != nil || !strings.Contains(plan.Text, "at least 30 minutes pass (washout)") {
		t.Errorf("preregistration: %v\n%s", err, plan.Text)
	}
	shelf := newMemShelf()
	other := newStudies(t, shelf)
	importInto(t, other, shelf, "bay", beforeTrials(), app.ImportRequest{})
	keys := newScheduleKeys(t, other, shelf)
	var edit *app.EditError
	for _, times := range []app.ScheduleTimes{{PerDay: 40, TrialMin: 40, WashoutMin: 30}, {WashoutMin: math.NaN()}, {TrialMin: -1}, {PerDay: 1001}} {
		_, err := openStudy(t, other, "bay").SealSchedule(t.Context(), app.SealRequest{Plan: smallPlan(), ScheduleTimes: times, Keys: keys.sealTo(), Author: "Aoife Byrne"})
		if !errors.As(err, &edit) {
			t.Errorf("%+v: %v", times, err)
		}
	}
}

func scheduleOf(t testing.TB, b *app.Study) app.ScheduleView {
	t.Helper()
	v, err := b.Schedule(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func documentOf(t testing.TB, b *app.Study) app.ScheduleDocument {
	t.Helper()
	d, err := b.ScheduleAsOpened(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// drawnBy is what was sealed, as an auditor with the key reads it.
func drawnBy(t testing.TB, b *app.Study, k scheduleKeys) *app.ScheduleDocument {
	t.Helper()
	d := documentOf(t, b)
	opened, err := app.UnsealSchedule(&d, k.recovery.Secret, k.sealer, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	return opened
}

// A schedule sealed in the study is what its seal says, with the rule that the
// randomisation test draws again by, and holds nothing that tells the draw.
func TestSealedInTheStudy(t *testing.T) {
	b, _, k := sealedStudy(t)
	v := scheduleOf(t, b)
	if len(v.Seals) != 1 || !v.Seals[0].InForce || v.Seals[0].Problem != "" || v.Seals[0].Written.By != "Aoife Byrne" || v.Seals[0].PerDay != 4 {
		t.Fatalf("seals: %+v", v.Seals)
	}
	if holders := []string{v.Seals[0].Keys[0].Holder, v.Seals[0].Keys[1].Holder}; !slices.Equal(holders, []string{"Aoife Byrne", "printed, in the station's safe"}) {
		t.Errorf("holders: %q", holders)
	}
	if !v.Blind || len(v.Trials) != 10 || v.Chance != nil || v.Balance != nil {
		t.Errorf("view: %+v", v)
	}
	for _, row := range v.Trials {
		if row.Opened || row.Kind != "" || row.ActivePair != "" || row.CurrentUA != nil || row.Odour != nil {
			t.Errorf("told: %+v", row)
		}
	}
	if rule, block := cell(t, b, "schedule", "", "rule"), cell(t, b, "schedule", "", "block"); rule != "blocks" || block != fmt.Sprint(v.Seals[0].Rule.Block) {
		t.Errorf("rule %q, block %q", rule, block)
	}
	if got := cell(t, b, "schedule", "", "most_alike"); got != "3" {
		t.Errorf("most alike %q", got)
	}
	if different := app.CheckSchedule(drawnBy(t, b, k)); len(different) > 0 {
		t.Error(different)
	}
}

// A season is rehearsed with each key before its first trial. Lost passphrase,
// lost laptop: the printed key opens it.
func TestRehearsal(t *testing.T) {
	b, _, k := sealedStudy(t)
	for _, proof := range []app.KeyProof{k.leads(), k.printed()} {
		got, err := b.RehearseKey(t.Context(), app.RehearseRequest{KeyProof: proof, Author: "Aoife Byrne"})
		if err != nil {
			t.Fatal(err)
		}
		if text, _ := json.Marshal(got); strings.Contains(string(text), "active") {
			t.Errorf("a rehearsal tells: %s", text)
		}
	}
	for _, key := range scheduleOf(t, b).Seals[0].Keys {
		if key.Rehearsed == nil || key.Rehearsed.By != "Aoife Byrne" {
			t.Errorf("not rehearsed: %+v", key)
		}
	}
	shelf := newMemShelf()
	shelf.sealer = storetest.NewSealer(rand.NewChaCha8([32]byte{6}))
	other := newScheduleKeys(t, newStudies(t, shelf), shelf)
	for name, proof := range map[string]app.KeyProof{
		"another key":        other.leads(),
		"no passphrase":      {Key: k.lead.Secret},
		"a wrong passphrase": {Key: k.lead.Secret, Passphrase: "ten grey herons"},
		"no key":             {},
		"the public key":     {Key: k.lead.Public},
	} {
		if _, err := b.RehearseKey(t.Context(), app.RehearseRequest{KeyProof: proof, Author: "Aoife Byrne"}); !errors.Is(err, app.ErrKey) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSealRefusals(t *testing.T) {
	b, _, k := sealedStudy(t)
	ask := func(change func(*app.SealRequest)) error {
		in := app.SealRequest{Plan: smallPlan(), Keys: k.sealTo(), Author: "Aoife Byrne", Reason: "one pair was moved"}
		change(&in)
		_, err := b.SealSchedule(t.Context(), in)
		return err
	}
	var edit *app.EditError
	for name, change := range map[string]func(*app.SealRequest){
		"again without a reason": func(in *app.SealRequest) { in.Reason = " " },
		"nobody named":           func(in *app.SealRequest) { in.Author = "" },
		"a pair of no season":    func(in *app.SealRequest) { in.Plan.Pairs = []string{"A", "Z"} },
		"too many trials":        func(in *app.SealRequest) { in.Plan.Trials = 3000 },
		"a key that nobody holds": func(in *app.SealRequest) {
			in.Keys = []app.SealTo{{Public: k.lead.Public, Holder: "Aoife Byrne"}, {Public: k.recovery.Public}}
		},
	} {
		if err := ask(change); !errors.As(err, &edit) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, change := range map[string]func(*app.SealRequest){
		"one key":   func(in *app.SealRequest) { in.Keys = in.Keys[:1] },
		"no key":    func(in *app.SealRequest) { in.Keys = nil },
		"one twice": func(in *app.SealRequest) { in.Keys[1] = in.Keys[0] },
		"a secret": func(in *app.SealRequest) {
			in.Keys[1].Public = strings.Fields(k.recovery.Secret)[len(strings.Fields(k.recovery.Secret))-1]
		},
	} {
		if err := ask(change); !errors.Is(err, app.ErrKey) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := ask(func(in *app.SealRequest) { in.Plan.Silent = 99 }); !errors.Is(err, app.ErrSchedule) {
		t.Errorf("a plan that cannot be: %v", err)
	}
	if err := ask(func(*app.SealRequest) {}); err != nil {
		t.Fatal(err)
	}
	if v := scheduleOf(t, b); len(v.Seals) != 2 || v.Seals[0].InForce || !v.Seals[1].InForce || v.Seals[1].Written.Reason != "one pair was moved" {
		t.Errorf("seals: %+v", v.Seals)
	}
	add(t, b, "trial", "T001", map[string]string{"start": "2026-06-01T08:00", "end": "2026-06-01T08:40"})
	if err := ask(func(*app.SealRequest) {}); !errors.As(err, &edit) {
		t.Errorf("drawn again after the first trial: %v", err)
	}
	shelf := newMemShelf()
	open := newStudies(t, shelf)
	importInto(t, open, shelf, "open", smallSeason(), app.ImportRequest{Author: "Aoife Byrne"})
	if _, err := openStudy(t, open, "open").SealSchedule(t.Context(), app.SealRequest{Plan: smallPlan(), Keys: k.sealTo(), Author: "Aoife Byrne"}); !errors.As(err, &edit) {
		t.Errorf("sealed in a study that is open: %v", err)
	}
}

// A schedule that was drawn and sealed on another machine is taken in whole, or
// not at all.
func TestTakeSchedule(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", beforeTrials(), app.ImportRequest{Author: "Aoife Byrne"})
	b := openStudy(t, s, "bay")
	k := newScheduleKeys(t, s, shelf)
	doc, err := app.DrawSchedule(app.ScheduleQuestion{Plan: smallPlan(), SealTo: []string{k.lead.Public, k.recovery.Public}}, k.sealer, shelf.random, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	take := func(d any, holders ...string) error {
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		_, err = b.TakeSchedule(t.Context(), app.TakeRequest{Document: string(text), Holders: holders, Author: "Aoife Byrne"})
		return err
	}
	opened, err := app.UnsealSchedule(&doc, k.recovery.Secret, k.sealer, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	if err := take(opened, "a", "b"); !errors.Is(err, app.ErrSchedule) {
		t.Errorf("an opened schedule: %v", err)
	}
	changed := doc
	changed.Plan.MostAlike = 2
	if err := take(changed, "a", "b"); !errors.Is(err, app.ErrNotSealed) {
		t.Errorf("a changed plan: %v", err)
	}
	if err := take("no schedule"); !errors.Is(err, app.ErrSchedule) {
		t.Errorf("no schedule: %v", err)
	}
	if err := take(doc, "Aoife Byrne", "in the safe"); err != nil {
		t.Fatal(err)
	}
	if v := scheduleOf(t, b); v.Seals[0].Seal != doc.Seal || v.Seals[0].Problem != "" {
		t.Errorf("seal: %+v", v.Seals[0])
	}
}

// The operator gets positions, one card at a time, and each is written down.
// The wiring and a card together say what was drawn.
func TestCards(t *testing.T) {
	b, _, k := sealedStudy(t, "T001")
	out, err := b.TakeCardsOut(t.Context(), app.CardsRequest{KeyProof: k.leads(), Author: "Ciarán Daly"})
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Trials) != 10 || out.Next != "T002" {
		t.Errorf("taken out: %+v", out)
	}
	drawn := drawnBy(t, b, k)
	wiring, err := b.Wiring(t.Context(), app.CardRequest{Token: out.Token})
	if err != nil {
		t.Fatal(err)
	}
	if len(wiring.Wires) != 3 { // two pairs, and a place for shams
		t.Fatalf("wiring: %+v", wiring)
	}
	all := slices.Concat(drawn.Trials, drawn.Spare)
	for i := range all {
		want := &all[i]
		card, err := b.Card(t.Context(), app.CardRequest{Token: out.Token, Trial: want.Trial})
		if err != nil {
			t.Fatal(err)
		}
		pair := "none"
		if card.Position > 0 && wiring.Wires[card.Position-1].Pair != "" {
			pair = wiring.Wires[card.Position-1].Pair
		}
		current := card.CurrentUA
		if card.Reversed {
			current = -current
		}
		if pair != want.ActivePair || current != *want.CurrentUA || card.Odour != *want.Odour || (card.Position == 0) != (want.Kind == "silent") {
			t.Errorf("card %+v of %+v", card, want)
		}
		if text, _ := json.Marshal(card); strings.Contains(string(text), "pair") || strings.Contains(string(text), want.Kind) {
			t.Errorf("a card tells more than positions: %s", text)
		}
	}
	list, err := b.AllCards(t.Context(), app.CardRequest{Token: out.Token})
	if err != nil || len(list.Cards) != 10 {
		t.Fatalf("%d cards, %v", len(list.Cards), err)
	}
	if _, err := b.Card(t.Context(), app.CardRequest{Token: out.Token, Trial: "T001"}); err != nil { // again: no second entry
		t.Fatal(err)
	}
	journal, err := b.Journal(t.Context(), 0, 100)
	if err != nil {
		t.Fatal(err)
	}
	shown := 0
	for _, e := range journal.Entries {
		if e.Kind == string(study.KindCard) {
			shown++
			if e.Author != "Ciarán Daly" {
				t.Errorf("card of %q", e.Author)
			}
		}
	}
	if shown != 1+1+10+1 { // taken out, wiring, ten cards, all printed
		t.Errorf("%d entries about cards", shown)
	}
	if _, err := b.PutCardsAway(t.Context(), app.CardRequest{Token: out.Token}); err != nil {
		t.Fatal(err)
	}
	for name, token := range map[string]string{"put away": out.Token, "a made up token": strings.Repeat("0", 64), "none": ""} {
		if _, err := b.Card(t.Context(), app.CardRequest{Token: token, Trial: "T001"}); !errors.Is(err, app.ErrNoCards) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Scoring is locked before anything is opened; what was drawn is then each
// trial's active pair, and what was recorded stays.
func TestOpenSealedSchedule(t *testing.T) {
	b, _, k := sealedStudy(t, "T001", "T002", "T003", "S001")
	drawn := drawnBy(t, b, k)
	var edit *app.EditError
	ask := app.OpeningRequest{Author: "Aoife Byrne", Reason: "scoring is done", KeyProof: k.printed()}
	if _, err := b.OpenActivePairs(t.Context(), ask); !errors.As(err, &edit) {
		t.Fatalf("opened before scoring was locked: %v", err)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "PT002", Field: "turned", From: "no", To: ""})
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Aoife Byrne", Reason: "all is scored"}); !errors.As(err, &edit) {
		t.Fatalf("locked with a pass that is not scored: %v", err)
	}
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Aoife Byrne", Reason: "all is scored", LeaveUnscored: true}); err != nil {
		t.Fatal(err)
	}
	change := app.EditRequest{Changes: []app.CellChange{{Kind: "pass", ID: "PT001", Field: "turned", From: "no", To: "yes"}}}
	if _, err := b.Edit(t.Context(), change); !errors.Is(err, app.ErrLocked) {
		t.Errorf("scored while scoring is locked: %v", err)
	}
	if _, err := b.UnlockScoring(t.Context(), app.UnlockRequest{Author: "Aoife Byrne", Reason: "one was forgotten"}); err != nil {
		t.Fatal(err)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "PT002", Field: "turned", From: "", To: "no"})
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Aoife Byrne", Reason: "all is scored"}); err != nil {
		t.Fatal(err)
	}
	for name, proof := range map[string]app.KeyProof{"no key": {}, "a wrong passphrase": {Key: k.lead.Secret, Passphrase: "x"}} {
		wrong := ask
		wrong.KeyProof = proof
		if _, err := b.OpenActivePairs(t.Context(), wrong); err == nil {
			t.Errorf("opened with %s", name)
		}
	}
	if v := scheduleOf(t, b); !v.Blind || v.Lock == nil || v.Lock.By != "Aoife Byrne" {
		t.Errorf("before the opening: %+v", v)
	}
	if _, err := b.OpenActivePairs(t.Context(), ask); err != nil {
		t.Fatal(err)
	}
	v := scheduleOf(t, b)
	if v.Blind || v.Balance == nil || v.Chance == nil || len(v.Openings) != 1 || v.Openings[0].Opened.Reason != "scoring is done" {
		t.Errorf("after the opening: %+v", v)
	}
	for i, row := range v.Trials {
		want := slices.Concat(drawn.Trials, drawn.Spare)[i]
		if row.Trial != want.Trial || row.ActivePair != want.ActivePair || *row.CurrentUA != *want.CurrentUA || row.Recorded != "" {
			t.Errorf("%+v was drawn, %+v is shown", want, row)
		}
		if row.Run {
			if pair := cell(t, b, "trial", row.Trial, "active_pair"); pair != want.ActivePair {
				t.Errorf("%s: the season says %q, %q was drawn", row.Trial, pair, want.ActivePair)
			}
			if block := cell(t, b, "trial", row.Trial, "block"); block != fmt.Sprint(row.Block) {
				t.Errorf("%s: block %q, want %d", row.Trial, block, row.Block)
			}
		}
	}
	doc := documentOf(t, b)
	if different := app.CheckSchedule(&doc); len(different) > 0 || doc.SeedHex == "" {
		t.Errorf("the opened schedule: %v, seed %q", different, doc.SeedHex)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "PT001", Field: "turned", From: "no", To: "yes"}) // allowed, and marked
	settled(t, b)
	if _, err := b.Findings(t.Context()); err != nil {
		t.Error(err)
	}
	if done, err := b.OpenActivePairs(t.Context(), ask); err != nil || len(done.Entries) > 0 {
		t.Errorf("opened again: %+v, %v", done, err)
	}
}

// What was run otherwise than drawn stays as it was recorded, and is told.
func TestRecordedOtherwiseThanDrawn(t *testing.T) {
	b, s, k := sealedStudy(t, "T001", "T002")
	drawn := drawnBy(t, b, k)
	other := "A"
	if drawn.Trials[0].ActivePair == "A" {
		other = "B"
	}
	folder := exported(t, b)
	folder["trials.csv"] = []byte("trial,start,end,active_pair,current_uA\nT001,2026-06-01T08:00:00,2026-06-01T08:40:00," + other + ",7\nT002,2026-06-01T09:00:00,2026-06-01T09:40:00,sealed,\n")
	plan := planOf(t, s, "bay", folder)
	if _, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay", Author: "Ciarán Daly"}); err != nil {
		t.Fatal(err)
	}
	if v := scheduleOf(t, b); !v.Blind {
		t.Fatal("an import opened what is sealed")
	}
	folder["study.toml"] = bytes.Replace(folder["study.toml"], []byte("rule = \"blocks\""), []byte("rule = \"uniform\" # "), 1)
	folder["study.toml"] = regexp.MustCompile(`(?m)^(block|most_alike) = .*$`).ReplaceAll(folder["study.toml"], nil)
	if again := planOf(t, s, "bay", folder); !slices.ContainsFunc(again.Warnings, func(w string) bool { return strings.Contains(w, "rule of the sealed schedule stays") }) {
		t.Errorf("another rule is not warned of: %q", again.Warnings)
	}
	plan = planOf(t, s, "bay", folder)
	if _, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay"}); err != nil {
		t.Fatal(err)
	}
	if rule := cell(t, b, "schedule", "", "rule"); rule != "blocks" {
		t.Errorf("an import changed the rule of what is sealed to %q", rule)
	}
	if _, err := b.OpenActivePairs(t.Context(), app.OpeningRequest{Author: "Aoife Byrne", Reason: "done", KeyProof: k.leads(), Lock: true}); err != nil {
		t.Fatal(err)
	}
	row := scheduleOf(t, b).Trials[0]
	if got := cell(t, b, "trial", "T001", "active_pair"); got != other {
		t.Errorf("recorded %q, and now %q", other, got)
	}
	if !strings.Contains(row.Recorded, "active pair "+other) || !strings.Contains(row.Recorded, "7 µA") {
		t.Errorf("told: %q", row.Recorded)
	}
}

// One trial is opened by itself where the protocol needs it; the others stay
// sealed in every answer, and are opened later all the same.
func TestPartialOpening(t *testing.T) {
	b, _, k := sealedStudy(t, "T001", "T002", "T003")
	drawn := drawnBy(t, b, k)
	ask := app.OpeningRequest{Author: "Aoife Byrne", Reason: "it was bitten", KeyProof: k.leads(), Trials: []string{"T002"}}
	if _, err := b.OpenActivePairs(t.Context(), ask); err != nil {
		t.Fatal(err)
	}
	v := scheduleOf(t, b)
	if !v.Blind || v.Balance != nil {
		t.Error("one trial opened them all")
	}
	for i, row := range v.Trials {
		if row.Opened != (row.Trial == "T002") || !row.Opened && row.ActivePair != "" {
			t.Errorf("%+v", row)
		}
		if row.Opened && row.ActivePair != drawn.Trials[i].ActivePair {
			t.Errorf("%+v, drawn %+v", row, drawn.Trials[i])
		}
	}
	if got := cell(t, b, "trial", "T002", "active_pair"); got != drawn.Trials[1].ActivePair {
		t.Errorf("T002: %q", got)
	}
	if got := cell(t, b, "trial", "T001", "active_pair"); got != "" {
		t.Errorf("T001 tells %q", got)
	}
	doc := documentOf(t, b)
	if different := app.CheckSchedule(&doc); len(different) > 0 || doc.SeedHex != "" {
		t.Errorf("document: %v, seed %q", different, doc.SeedHex)
	}
	settled(t, b)
	for id, role := range map[string]bool{"PT001": false, "PT002": true, "PT003": false} {
		p, err := b.Pass(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if (p.Row.Role != nil) != role {
			t.Errorf("%s: role %v", id, p.Row.Role)
		}
	}
	if done, err := b.OpenActivePairs(t.Context(), ask); err != nil || len(done.Entries) > 0 {
		t.Errorf("opened again: %+v, %v", done, err)
	}
	ask.Trials = []string{"T099"}
	var edit *app.EditError
	if _, err := b.OpenActivePairs(t.Context(), ask); !errors.As(err, &edit) {
		t.Errorf("a trial of no schedule: %v", err)
	}
	ask.Trials, ask.Lock, ask.KeyProof = nil, true, k.printed()
	if _, err := b.OpenActivePairs(t.Context(), ask); err != nil {
		t.Fatal(err)
	}
	for i, row := range scheduleOf(t, b).Trials {
		if want := slices.Concat(drawn.Trials, drawn.Spare)[i]; row.ActivePair != want.ActivePair {
			t.Errorf("%+v, drawn %+v", row, want)
		}
	}
}
