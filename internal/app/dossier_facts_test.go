package app_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// What a study recorded beside its season stands in the facts of its package, and
// nothing that it did not.
func TestFactsOfADossier(t *testing.T) {
	long(t)
	s, _ := dossierStudy(t, secretSeason(t))
	facts := func(spec string) dossier.Facts {
		t.Helper()
		say(t, s, spec, "")
		made, err := s.MakePackage(t.Context(), tellingPrinter{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		var f dossier.Facts
		if err := json.Unmarshal([]byte(fileOf(t, made, dossier.FactsFile)), &f); err != nil {
			t.Fatal(err)
		}
		return f
	}
	bare := facts("")
	if bare.Journal == nil || len(bare.Journal.Devices) != 1 || len(bare.Journal.Devices[0].Head) != 64 || bare.Journal.From == "" {
		t.Errorf("journal: %+v", bare.Journal)
	}
	if bare.Rig != nil || bare.Background != nil || bare.Calibration != nil || bare.Schedule == nil || bare.Schedule.Sealed || len(bare.Schedule.Openings) != 1 || bare.Footage != nil || bare.Deck != nil || len(bare.Permits)+len(bare.Bench) != 0 {
		t.Errorf("a study with nothing beside its season states %+v", bare)
	}
	if len(bare.Scorers) != 2 || bare.Scorers[0] != (dossier.ScorerFact{Who: "Person 1", Passes: 2}) || bare.Place.Coarsened || bare.Place.Latitude == nil || *bare.Place.Latitude != 53.34561 {
		t.Errorf("%+v, %+v", bare.Scorers, bare.Place)
	}

	rig := must(json.Marshal(must(s.Rig(t.Context())).Spec))
	background := must(s.Background(t.Context())).Spec
	set(t, s, "",
		app.CellChange{Kind: "rig", Field: "spec", To: string(rig)},
		app.CellChange{Kind: "background", Field: "spec", To: string(must(json.Marshal(background)))},
		app.CellChange{Kind: "protocol", Field: "method", To: "Tom Kett dives, then a trial of forty minutes"},
	)
	if _, err := s.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{
		{Kind: "permit", ID: "1", Fields: map[string]string{"what": "licence (invented)", "animals_most": "40", "holder": "Tom Kett"}},
	}}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{
		{Kind: "count", ID: "c1", Fields: map[string]string{"permit": "1", "animals": "3", "time": "2026-06-01T21:20:00+01:00"}},
		{Kind: "count", ID: "c2", Fields: map[string]string{"permit": "1", "animals": "4", "time": "2026-06-02T21:20:00+01:00"}},
		{Kind: "bench", ID: "b1", Fields: map[string]string{"date": "2026-05-30", "position": "1", "current_uA": "8.9"}},
	}}); err != nil {
		t.Fatal(err)
	}
	f := facts(`{"coarsen_km":50}`)
	if len(f.Permits) != 1 || f.Permits[0].Animals == nil || *f.Permits[0].Animals != 7 || *f.Permits[0].AnimalsMost != 40 || f.Permits[0].Hours != nil {
		t.Errorf("%+v", f.Permits)
	}
	if len(f.Bench) != 1 || *f.Bench[0].CurrentUA != 8.9 || f.Protocol.Method != "Person 2 dives, then a trial of forty minutes" {
		t.Errorf("%+v, %q", f.Bench, f.Protocol.Method)
	}
	if f.Rig == nil || len(f.Rig.Positions) == 0 || f.Rig.Supply == "" || f.Rig.Cable == "" || f.Rig.Electrodes == "" {
		t.Fatalf("%+v", f.Rig)
	}
	for _, p := range f.Rig.Positions {
		if !(p.LowUA <= p.NominalUA && p.NominalUA <= p.HighUA) {
			t.Errorf("position %s: %g µA in %g to %g", p.Label, p.NominalUA, p.LowUA, p.HighUA)
		}
	}
	// The Earth's field is that of the coarse place, as the command background has it.
	lat, lon, half := app.Coarsened(53.34561, -9.87654, 50)
	if !f.Place.Coarsened || *f.Place.Latitude != lat || *f.Place.Longitude != lon || *f.Place.UncertaintyM != half {
		t.Errorf("%+v; want %g, %g", f.Place, lat, lon)
	}
	swim := 0.3
	background.SwimMPerS = &swim
	exact := *background.Site.Latitude
	set(t, s, "", app.CellChange{Kind: "background", Field: "spec", From: string(must(json.Marshal(must(s.Background(t.Context())).Spec))), To: string(must(json.Marshal(background)))})
	f = facts(`{"coarsen_km":50}`)
	background.Site.Latitude, background.Site.Longitude = &lat, &lon
	want := must(app.MeasureBackground("spec", must(json.Marshal(background)), app.Program{})).Motional.Swim.LargestNV
	i := slices.IndexFunc(f.Background.Sources, func(b dossier.BackgroundSource) bool {
		return b.Where != "" && b.NVPerCm != nil && want != nil && *b.NVPerCm == *want
	})
	if i < 0 || math.Abs(exact-53.34561) > 1e-9 {
		t.Errorf("no source of %v nV/cm at the coarse place: %+v", want, f.Background)
	}
}
