package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/internal/app"
)

func rigStartOf(t *testing.T, in app.Input, how app.ImportRequest) (app.RigStart, string) {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", in, how)
	got, err := openStudy(t, s, "bay").Rig(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(got)
	if err != nil {
		t.Fatal(err)
	}
	return got, string(text)
}

// The page begins with the study's water, pairs and currents, and what it begins
// with can be worked out as it is.
func TestRigStartIsTheStudy(t *testing.T) {
	got, _ := rigStartOf(t, smallSeason(), app.ImportRequest{})
	if got.Saved || got.SpecText != "" || got.Spec.WaterSPerM != 4.2 || len(got.Bench) != 0 || len(got.From) < 5 {
		t.Errorf("%+v", got)
	}
	if diff := cmp.Diff([]float64{9, 6}, got.Spec.Ladder.WantedUA); diff != "" {
		t.Errorf("currents:\n%s", diff)
	}
	if len(got.Spec.Pairs) != 2 || got.Spec.Pairs[1].Label != "B" || got.Spec.Pairs[1].AzimuthDeg != 90 || got.Spec.Electrodes.On != "plate" {
		t.Errorf("pairs: %+v", got.Spec.Pairs)
	}
	d := rigOf(t, got.Spec)
	rigNear(t, "first position", d.Positions[0].NominalUA, 9, 0.05)
}

// Whichever pair was active, and where pairs are sealed whatever the currents
// are, the page begins with the same bytes.
func TestRigStartTellsNoActivePair(t *testing.T) {
	swapped := with(t, smallSeason(), "trials.csv", "21:40,A,", "21:40,B,")
	swapped = with(t, swapped, "trials.csv", "21:40,B,6", "21:40,A,6")
	_, open := rigStartOf(t, smallSeason(), app.ImportRequest{})
	_, openSwapped := rigStartOf(t, swapped, app.ImportRequest{})
	if diff := cmp.Diff(open, openSwapped); diff != "" {
		t.Errorf("the start tells which pair was active:\n%s", diff)
	}
	other := with(t, swapped, "trials.csv", "21:40,B,9.0,sine", "21:40,none,12,square")
	_, sealed := rigStartOf(t, smallSeason(), app.ImportRequest{Blind: true})
	_, sealedOther := rigStartOf(t, other, app.ImportRequest{Blind: true})
	if diff := cmp.Diff(sealed, sealedOther); diff != "" {
		t.Errorf("the start tells what is sealed:\n%s", diff)
	}
	if !strings.Contains(sealed, "sealed with the active pairs") {
		t.Errorf("it does not say that the currents are sealed: %s", sealed)
	}
}

// A rig is saved as one record and read back to the letter; measurements stand
// beside it, oldest first, with the names of people.
func TestRigIsSavedAndMeasured(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	text, err := json.Marshal(oneRig(t))
	if err != nil {
		t.Fatal(err)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "rig", Field: "spec", To: string(text)})
	add := app.EditRequest{Author: "Tom Kett", Add: []app.NewRow{
		{Kind: "bench", ID: "m2", Fields: map[string]string{"date": "2026-06-02", "position": "5", "pair": "A", "current_uA": "5.91", "supply_V": "9.1", "by": "Aoife Byrne"}},
		{Kind: "bench", ID: "m1", Fields: map[string]string{"date": "2026-05-30", "position": "5", "current_uA": "6.02", "offset_mV": "-0.4", "silent_uA": "0", "water_S_per_m": "4.2", "note": "in a bucket"}},
	}}
	if _, err := b.Edit(t.Context(), add); err != nil {
		t.Fatal(err)
	}
	got, err := b.Rig(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !got.Saved || got.SpecText != string(text) || len(got.Bench) != 2 {
		t.Fatalf("%+v", got)
	}
	if diff := cmp.Diff(oneRig(t), got.Spec); diff != "" {
		t.Errorf("the rig came back changed:\n%s", diff)
	}
	if m := got.Bench[0]; m.ID != "m1" || *m.OffsetMV != -0.4 || *m.SilentUA != 0 || m.SupplyV != nil || m.Note != "in a bucket" {
		t.Errorf("%+v", m)
	}
	if m := got.Bench[1]; m.ID != "m2" || m.By != "Aoife Byrne" || *m.CurrentUA != 5.91 {
		t.Errorf("%+v", m)
	}
	got.Spec.Measured = got.Bench
	if c := rigOf(t, got.Spec).Positions[4].Currents; c[0].UsedUA != 5.91 || c[1].UsedUA != 6.02 {
		t.Errorf("%+v", c)
	}
}

// What cannot be worked out is not saved.
func TestRigIsCheckedWhenSaved(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	broken := oneRig(t)
	broken.Limiting.Ohm[0] = -1
	text, err := json.Marshal(broken)
	if err != nil {
		t.Fatal(err)
	}
	bench := func(fields map[string]string) app.EditRequest {
		return app.EditRequest{Add: []app.NewRow{{Kind: "bench", ID: "m1", Fields: fields}}}
	}
	spec := func(to string) app.EditRequest {
		return app.EditRequest{Changes: []app.CellChange{{Kind: "rig", Field: "spec", To: to}}}
	}
	for _, c := range []struct {
		in        app.EditRequest
		at, wrong string
	}{
		{spec(string(text)), "rig//spec", "rig/limiting/ohm/0: found -1"},
		{spec("{"), "rig//spec", "ends too early"},
		{spec(`{"volts": 9}`), "rig//spec", "volts"},
		{bench(map[string]string{"position": "1", "current_uA": "6"}), "bench/m1/date", "missing"},
		{bench(map[string]string{"date": "30 May", "position": "1"}), "bench/m1/date", "30 May"},
		{bench(map[string]string{"date": "2026-05-30", "position": "1", "current_uA": "six"}), "bench/m1/current_uA", "six"},
		{bench(map[string]string{"date": "2026-05-30", "position": "1", "current_uA": "NaN"}), "bench/m1/current_uA", "NaN"},
		{bench(map[string]string{"date": "2026-05-30", "current_uA": "6"}), "bench/m1/position", "missing"},
	} {
		_, err := b.Edit(t.Context(), c.in)
		var refused *app.EditError
		if !errors.As(err, &refused) {
			t.Errorf("%s: %v", c.at, err)
			continue
		}
		f := refused.Faults[0]
		if at := f.Kind + "/" + f.ID + "/" + f.Field; at != c.at || !strings.Contains(f.Wrong, c.wrong) || f.Expected == "" {
			t.Errorf("%s: %+v", c.at, f)
		}
	}
}
