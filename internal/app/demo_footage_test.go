package app_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"brinefield/core/simulate"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// The demo's clip in a study: everything of it is there, the pass that was measured
// lies where its season has it, and the season itself is not changed. The track of
// the season carries an error of fix_sd_cm = 0.4 cm in each direction, the fixes
// those that they state; the bound on the root mean square of what is left, in
// units of both together, is 1.3, and 4 on each.
func TestDemoFootage(t *testing.T) {
	in, err := app.DemoSeason()
	if err != nil {
		t.Fatal(err)
	}
	shelf := newMemShelf()
	all := newStudies(t, shelf)
	importInto(t, all, shelf, "demo", in, app.ImportRequest{})
	s := openStudy(t, all, "demo")
	before := exported(t, s)
	if err := s.AddDemoFootage(t.Context()); err != nil {
		t.Fatal(err)
	}
	after := exported(t, s) // what footage adds stands beside the season
	for name := range before {
		if !bytes.Equal(before[name], after[name]) {
			t.Errorf("%s of the demo season is another one with its footage", name)
		}
	}
	view := must1(s.Footage(t.Context()))(t)
	clip := clipNamed(t, view, "north-pair")
	switch {
	case clip.Frames != 375 || clip.WidthPx != 640 || clip.HeightPx != 360 || clip.Chapters[0].Place != app.PlaceCopy:
		t.Errorf("the clip: %+v", clip)
	case len(clip.Sync) != 1 || clip.OffsetS == nil || *clip.OffsetS != 2.4:
		t.Errorf("its clock: %+v, %v", clip.Sync, clip.OffsetS)
	case len(clip.Poses) != 1 || clip.Poses[0].RMSPx == nil || *clip.Poses[0].RMSPx > 2 || len(clip.Poses[0].Marks) != 10:
		t.Errorf("its pose: %+v", clip.Poses)
	case !strings.Contains(strings.Join(clip.Notes, " "), "Invented"):
		t.Errorf("it does not say that it is invented: %q", clip.Notes)
	case !slices.Equal(clip.Passes, []string{"P017", "P018"}):
		t.Errorf("its passes: %q", clip.Passes)
	}
	left := view.Passes[slices.IndexFunc(view.Passes, func(p app.FootagePass) bool { return p.Pass == "P018" })]
	if left.Fixes != 0 || left.StartFrame == nil || *left.StartFrame != 270 || left.Track == 0 {
		t.Errorf("the pass that is left to be measured: %+v", left)
	}
	// The torch is seen in the frame that the event names: its clock is that of the
	// season, 2.4 s before the camera's.
	if e := clip.Sync[0]; e.Clock != "2025-07-07T10:25:27.3+01:00" {
		t.Errorf("the event: %+v", e)
	}

	season, _, err := simulate.Season(simulate.Demo(), app.DemoSeed)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(season.Tracks, func(tr study.Track) bool { return season.Passes[tr.Pass].ID == "P017" })
	pass, rows := season.Passes[season.Tracks[i].Pass], season.Tracks[i].Points[0].Fixes
	got := must1(s.FootagePass(t.Context(), "P017"))(t)
	if !got.Saved || !got.OtherTrack || len(got.Track) == 0 || got.TrackWhy != "" {
		t.Errorf("saved %v, the season's own track %v, %d points, %q", got.Saved, got.OtherTrack, len(got.Track), got.TrackWhy)
	}
	how, sum, off2, n := map[string]int{}, 0.0, 0.0, 0
	for _, f := range got.Fixes {
		how[f.How]++
		k := slices.IndexFunc(rows, func(r study.Fix) bool { return math.Abs(r.TimeS-*f.TS) < 1e-6 })
		if f.XCm == nil || f.TS == nil || k < 0 {
			if f.XCm == nil {
				t.Errorf("frame %d has no place: %s", f.Frame, f.Why)
			}
			continue
		}
		for axis, off := range []float64{*f.XCm - 100*rows[k].XM, *f.YCm - 100*rows[k].YM} {
			z := off / math.Sqrt(f.CovCm2[axis][axis]+0.4*0.4)
			if math.Abs(z) > 4 {
				t.Errorf("frame %d is %.2f cm off, %.1f standard deviations", f.Frame, off, z)
			}
			sum, off2, n = sum+z*z, off2+off*off, n+1
		}
	}
	t.Logf("%d differences, root mean square %.2f of what is stated, and %.2f cm", n, math.Sqrt(sum/float64(n)), math.Sqrt(off2/float64(n)))
	if r := math.Sqrt(sum / float64(n)); n < 40 || r > 1.3 {
		t.Errorf("%d differences from the season's track, root mean square %.2f of what is stated", n, r)
	}
	if how["placed"] < 5 || how["carried"] < 3 || how["filled"] < 5 || how["filled"] > how["placed"]+how["carried"] {
		t.Errorf("fixes: %v", how)
	}
	for _, f := range got.Fixes {
		if f.Frame == *got.OnsetFrame && math.Abs(*f.TS-pass.OnsetS.Value) > 1e-6 {
			t.Errorf("the turn begins at %.3f s, in the season at %.3f", *f.TS, pass.OnsetS.Value)
		}
	}
}
