package app_test

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"brinefield/core/optics"
	"brinefield/core/study"
	"brinefield/internal/app"
)

func TestWhoPlacedAFix(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	for i := range in.Fixes {
		in.Fixes[i].By = "Somebody Else" // a request cannot say who placed what
	}
	v, err := b.FootageFixes(t.Context(), in)
	if err != nil || v.Fixes[5].By != "Aoife Byrne" {
		t.Fatalf("%+v, %v", v.Fixes, err)
	}
	// Tom moves one and adds the eye: those are his, the rest stays hers.
	in.ETag, in.Author, in.Replace = v.ETag, "Tom Kett", false
	in.Fixes[10].Pixel[0]++
	in.Fixes = append(in.Fixes, app.FootageFix{Point: "eye", Frame: p1Starts + 5, How: "carried", Pixel: in.Fixes[5].Pixel})
	if v, err = b.FootageFixes(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	for _, f := range v.Fixes {
		want := "Aoife Byrne"
		if f.Frame == p1Starts+10 || f.Point == "eye" {
			want = "Tom Kett"
		}
		if f.By != want {
			t.Errorf("%s in frame %d: by %q, want %q", f.Point, f.Frame, f.By, want)
		}
	}
	// Erased, she is nobody by name, her fixes stay hers, and the journal holds together.
	if done, err := b.ErasePerson(t.Context(), "Aoife Byrne", "Tom Kett"); err != nil || done.Texts == 0 {
		t.Fatal(done, err)
	}
	if v, err = b.FootagePass(t.Context(), "P1"); err != nil || !strings.HasPrefix(v.Fixes[0].By, "erased person") {
		t.Errorf("after the erasure: by %q, %v", v.Fixes[0].By, err)
	}
	in.ETag = v.ETag
	in.Fixes[20].Pixel[1]++
	if v, err = b.FootageFixes(t.Context(), in); err != nil || !strings.HasPrefix(v.Fixes[0].By, "erased person") {
		t.Errorf("saved after the erasure: %v", err)
	}
	for line := range m.All(t.Context()) {
		if strings.Contains(string(line.Canonical), "Aoife") || strings.Contains(string(line.Canonical), "Tom Kett") {
			t.Fatalf("an entry holds a name: %.200s", line.Canonical)
		}
	}
	if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same {
		t.Errorf("verify: %v, %v", doc.Differences, err)
	}
}

func TestWhatIsRefusedOfFixes(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	entries := len(m.entries)
	for _, c := range []struct {
		what   string
		change func(in *app.FootageFixesRequest)
		says   string
	}{
		{"no such frame", func(in *app.FootageFixesRequest) { in.Fixes[3].Frame = 2400 }, "there is no frame 2400 in this clip"},
		{"the turn before the start", func(in *app.FootageFixesRequest) { in.OnsetFrame = new(p1Starts - 1) }, "is before the start"},
		{"no start", func(in *app.FootageFixesRequest) { in.StartFrame = nil }, "when the pass began to be watched is not marked"},
		{"the end before the turn", func(in *app.FootageFixesRequest) { in.EndFrame = new(p1Starts + 9) }, "is before the turn"},
		{"a point twice", func(in *app.FootageFixesRequest) { in.Fixes[1] = in.Fixes[0] }, "fixed twice"},
		{"no number", func(in *app.FootageFixesRequest) { in.Fixes[0].Pixel[0] = math.NaN() }, "no place in a picture"},
		{"no class", func(in *app.FootageFixesRequest) { in.Heights = app.FootageHeights{How: "class", Class: "very high"} }, `no class of height "very high"`},
		{"limits the wrong way", func(in *app.FootageFixesRequest) { in.Heights.HighCm = new(2.0) }, "below the lower one"},
		{"no length", func(in *app.FootageFixesRequest) {
			in.Heights = app.FootageHeights{How: "head width", LengthCm: new(0.0)}
		}, "which is no length"},
		{"a turn that is not scored", func(in *app.FootageFixesRequest) { in.Pass = "P2" }, "an onset is given, but turned is no"},
		{"the turn outside the track", func(in *app.FootageFixesRequest) { in.Fixes = in.Fixes[15:] }, "outside the pass's track"},
	} {
		in := p1(t, b, straightDown)
		in.Save, in.Replace = true, true
		c.change(&in)
		v, err := b.FootagePass(t.Context(), in.Pass)
		if err != nil {
			t.Fatal(err)
		}
		in.ETag = v.ETag
		var refused *app.EditError
		if _, err := b.FootageFixes(t.Context(), in); !errors.As(err, &refused) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want one that says %q", c.what, err, c.says)
		}
	}
	in := p1(t, b, straightDown)
	in.Save, in.ETag = true, `"another"`
	if _, err := b.FootageFixes(t.Context(), in); !errors.Is(err, app.ErrChangedMeanwhile) {
		t.Errorf("an old page: %v", err)
	}
	in.Clip = "C9"
	if _, err := b.FootageFixes(t.Context(), app.FootageFixesRequest{Pass: "P1", Clip: "C9", StartFrame: new(1)}); !errors.Is(err, app.ErrNoClip) {
		t.Errorf("no such clip: %v", err)
	}
	if _, err := b.FootagePass(t.Context(), "P99"); !errors.Is(err, app.ErrUnknownPass) {
		t.Errorf("no such pass: %v", err)
	}
	if len(m.entries) != entries {
		t.Errorf("%d entries were written", len(m.entries)-entries)
	}
	// A trial of the same says what a saving would be refused for.
	in = p1(t, b, straightDown)
	in.Pass = "P2"
	if v, err := b.FootageFixes(t.Context(), in); err != nil || !strings.Contains(strings.Join(v.Notes, "\n"), "it cannot be saved so: an onset is given") {
		t.Errorf("tried: %v, %v", v.Notes, err)
	}
}

// While scoring is locked nothing that is measured changes, nor a pose that tracks
// hang on; what was measured is still shown.
func TestLockedFixesStay(t *testing.T) {
	b, m, _ := blindBay(t)
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	if _, err := b.FootageFixes(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Tom Kett", Reason: "all is scored", LeaveUnscored: true}); err != nil {
		t.Fatal(err)
	}
	in = p1(t, b, straightDown)
	in.Save = true
	if _, err := b.FootageFixes(t.Context(), in); !errors.Is(err, app.ErrLocked) {
		t.Errorf("fixes: %v", err)
	}
	pose := app.FootagePoseRequest{Author: "Tom Kett", Clip: "C1", ETag: clipOf(t, b).ETag, Poses: []app.FootagePoseSpec{poseOf(t, 0, above(0.1))}, Save: true}
	if _, err := b.FootagePoses(t.Context(), pose); !errors.Is(err, app.ErrLocked) {
		t.Errorf("a pose: %v", err)
	}
	if v, err := b.Footage(t.Context()); err != nil || !v.Locked || v.Passes[0].Fixes != 31 {
		t.Errorf("%+v, %v", v.Passes, err)
	}
}

// A pose or a camera that is corrected makes the tracks again that hang on it, in
// the same edit; a camera in use is not withdrawn.
func TestACorrectedPoseMovesItsTracks(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	before, err := b.FootageFixes(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	old := p1Track(t, b)
	if _, err := b.FootagePoses(t.Context(), app.FootagePoseRequest{Author: "Tom Kett", Clip: "C1", ETag: clipOf(t, b).ETag, Poses: []app.FootagePoseSpec{poseOf(t, 0, above(0.05))}, Save: true}); err != nil {
		t.Fatal(err)
	}
	after, err := b.FootagePass(t.Context(), "P1")
	if err != nil || len(after.Notes) > 0 || after.OtherTrack {
		t.Fatalf("%q, %v", after.Notes, err)
	}
	if d := *after.Fixes[0].XCm - *before.Fixes[0].XCm; math.Abs(d-5) > 0.01 || p1Track(t, b) == old {
		t.Errorf("moved by %.3f cm, want 5: the camera stood 5 cm farther out", d)
	}
	v, err := b.Footage(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	camera := app.FootageCameraRequest{Author: "Tom Kett", ID: "lander", ETag: v.Cameras[0].ETag, Remove: true}
	if _, err := b.FootageCamera(t.Context(), camera); err == nil || !strings.Contains(err.Error(), "1 pose was worked out with it") {
		t.Errorf("withdrawn in use: %v", err)
	}
	old = p1Track(t, b)
	camera.Remove, camera.Spec = false, lander
	camera.Spec.FxPx *= 1.01
	if _, err := b.FootageCamera(t.Context(), camera); err != nil || p1Track(t, b) == old {
		t.Errorf("another focal length moved nothing: %v", err)
	}
	camera.Spec = optics.Camera{WidthPx: 1920, HeightPx: 1080}
	if _, err := b.FootageCamera(t.Context(), camera); err == nil {
		t.Error("a camera without a focal length was taken, by an old page at that")
	}
}

func p1Track(t testing.TB, b *app.Study) string {
	t.Helper()
	rows, err := json.Marshal(string(exported(t, b)["tracks.csv"]))
	if err != nil {
		t.Fatal(err)
	}
	return string(rows)
}

// Without fixes, start, turn and end, a pass is as if it had never been measured.
func TestAllFixesTakenAway(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	v, err := b.FootageFixes(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	v, err = b.FootageFixes(t.Context(), app.FootageFixesRequest{Author: "Tom Kett", Pass: "P1", Clip: "C1", ETag: v.ETag, Heights: app.FootageHeights{How: "class"}, Fixes: []app.FootageFix{}, Save: true})
	if err != nil || len(v.Fixes) > 0 || v.OtherTrack {
		t.Fatalf("%+v, %v", v, err)
	}
	if st, err := m.State(t.Context(), study.KindTrack, "P1"); err != nil || !st.Removed {
		t.Errorf("its track: %+v, %v", st, err)
	}
	if got := cell(t, b, "pass", "P1", "onset_s"); got != "" {
		t.Errorf("onset %q", got)
	}
}

// Events set the clock: by a camera that loses 120 ppm, the last pass of two hours
// comes 0.86 s later (closed form 7200 s · 120e-6) than without the drift.
func TestTheClockOfAClip(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	withClip(t, m)
	sync := func(events ...app.FootageEvent) (app.FootageClip, error) {
		return b.FootageSync(t.Context(), app.FootageSyncRequest{Author: "Tom Kett", Clip: "C1", ETag: clipOf(t, b).ETag, Start: "2026-06-01T21:00:00", Events: events})
	}
	torch := app.FootageEvent{Frame: 100, Clock: "2026-06-01T21:00:14.5+01:00", What: "torch switched on"}
	c, err := sync(torch)
	if err != nil || c.OffsetS == nil || *c.OffsetS != 4.5 || c.DriftPPM != nil || len(c.Sync) != 1 || c.Sync[0].ResidualS != nil || c.Sync[0].ClipS != 10 {
		t.Fatalf("one event: %+v, %v", c, err)
	}
	// P1, at 21:03:00, is 175.5 s into the clip now.
	if v, err := b.FootagePass(t.Context(), "P1"); err != nil || v.Clip != "C1" || v.StartFrame == nil || *v.StartFrame != 1755 {
		t.Errorf("P1 begins at %+v, %v", v, err)
	}
	late := app.FootageEvent{Frame: 2300, Clock: "2026-06-01T21:03:54.5264+01:00", What: "torch switched off"} // 220 s later, 26.4 ms late
	c, err = sync(torch, late)
	if err != nil || c.DriftPPM == nil || math.Abs(*c.DriftPPM-120) > 0.01 || math.Abs(*c.OffsetS-4.4988) > 1e-5 || c.Sync[1].ResidualS == nil || math.Abs(*c.Sync[1].ResidualS) > 1e-5 {
		t.Fatalf("two events: %+v, %v", c, err)
	}
	season := exported(t, b)
	if !strings.Contains(string(season["clips.csv"]), ",4.4988,120,") && !strings.Contains(string(season["clips.csv"]), ",4.4988,120\n") {
		t.Errorf("clips.csv: %s", season["clips.csv"])
	}
	// The clip of events that cannot be is refused, and nothing is written.
	entries := len(m.entries)
	late.Clock = "2026-06-01T21:03:56+01:00"
	if _, err := sync(torch, late); err == nil || !strings.Contains(err.Error(), "slow by 1.5 s within 220 s") || len(m.entries) != entries {
		t.Errorf("%v", err)
	}
	if c, err = sync(); err != nil || c.OffsetS != nil || c.DriftPPM != nil || len(c.Sync) != 0 {
		t.Errorf("without events: %+v, %v", c, err)
	}
}

// What the page shows while the trials are sealed is the same bytes, whatever was
// drawn for them, and holds the field of each µA alone.
func TestFootageTellsNothingOfASealedTrial(t *testing.T) {
	var shown []string
	for _, allocation := range []string{"A,9.0", "B,6.5"} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		importInto(t, s, shelf, "bay", with(t, smallSeason(), "trials.csv", "A,9.0", allocation), app.ImportRequest{Blind: true})
		b, m := openStudy(t, s, "bay"), shelf.studies["bay"]
		posedBay(t, b, m)
		in := p1(t, b, straightDown)
		in.Save, in.Replace = true, true
		v, err := b.FootageFixes(t.Context(), in)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range v.Track {
			if p.Field != nil || p.Phantom != nil || p.PerUA == nil || !(*p.PerUA > 0) {
				t.Fatalf("a point of a sealed trial: %+v", p)
			}
		}
		page, err := b.Footage(t.Context())
		if err != nil || !page.Blind {
			t.Fatal(err)
		}
		all, err := json.Marshal([]any{v.Fixes, v.Track, v.TrackWhy, v.Notes, v.FixSDCm, page.Passes, page.KnownMarks, page.Clips[0].Poses, exported(t, b)})
		if err != nil {
			t.Fatal(err)
		}
		shown = append(shown, string(all))
	}
	if shown[0] != shown[1] {
		t.Error("what is shown depends on what was drawn")
	}
}

// The trial of 200 fixes and their field, warm (no time is asserted; the brief's bound
// is 150 ms).
func BenchmarkTryFixes(bench *testing.B) {
	b, m := benchBay(bench)
	posedBay(bench, b, m)
	in := p1(bench, b, straightDown)
	in.Fixes = nil
	in.EndFrame = nil
	for f := range 200 {
		in.Fixes = append(in.Fixes, app.FootageFix{Point: "snout", Frame: p1Starts + f, How: "placed", Pixel: seen(bench, above(0), p1Swims(float64(f)/100))})
	}
	if v, err := b.FootageFixes(bench.Context(), in); err != nil || v.TrackWhy != "" {
		bench.Fatal(v.TrackWhy, err)
	}
	for bench.Loop() {
		if _, err := b.FootageFixes(bench.Context(), in); err != nil {
			bench.Fatal(err)
		}
	}
}

func benchBay(bench *testing.B) (*app.Study, *memStudy) {
	shelf := newMemShelf()
	s := newStudies(bench, shelf)
	importInto(bench, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	return openStudy(bench, s, "bay"), shelf.studies["bay"]
}

// The card of a study has a step of footage where there are clips.
func TestTheStepOfFootage(t *testing.T) {
	b, m, s := bay(t, app.ImportRequest{})
	step := func() app.StepView {
		t.Helper()
		home, err := s.Home(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range home.Studies[0].Steps {
			if step.Step == "footage" {
				return step
			}
		}
		return app.StepView{}
	}
	if got := step(); got.Step != "" {
		t.Errorf("without a clip: %+v", got)
	}
	posedBay(t, b, m)
	if got := step(); got.State != "done" || got.Say != "1 clip, and no pass names one." {
		t.Errorf("every pass has a track: %+v", got)
	}
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	if _, err := b.FootageFixes(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	if got := step(); got.State != "done" || got.Say != "1 pass in 1 clip has a track, 1 measured here." {
		t.Errorf("measured: %+v", got)
	}
}
