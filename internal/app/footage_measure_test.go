package app_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric"
	"brinefield/core/optics"
	"brinefield/core/season"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// The clip of these tests: two files of 1200 frames, ten a second, from 21:00. What
// it shows is worked out by optics, whose own tests hold it against closed forms.
const (
	measuredRate = 10
	p1Starts     = 1800 // P1 comes at 21:03
)

var lander = optics.Camera{
	WidthPx: 1920, HeightPx: 1080, FxPx: 1180, FyPx: 1180, CxPx: 960, CyPx: 540, K1: -0.04,
	Port: &optics.Port{AirGapM: 0.02, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: 1.34},
}

// above is the lander camera, looking straight down from 1.4 m, aside of the origin
// in x.
func above(aside float64) *optics.Posed {
	return &optics.Posed{Camera: lander, Pose: optics.Pose{
		R: [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, T: [3]float64{-aside, 0, 1.4},
	}}
}

func seen(t testing.TB, p *optics.Posed, at [3]float64) [2]float64 {
	t.Helper()
	px, err := p.Project(at)
	if err != nil {
		t.Fatal(err)
	}
	return px
}

// withClip lays the clip into a study: its record of the season, its files, and the
// times of their frames.
func withClip(t testing.TB, m *memStudy) {
	t.Helper()
	var chapters []map[string]any
	for i := range 2 {
		sha := strings.Repeat(strconv.Itoa(i+1), 64)
		p := &app.Probed{Container: "mp4", Codec: "h264", WidthPx: 1920, HeightPx: 1080, TimeBase: [2]int64{1, measuredRate}, Keyframes: []int{0}, Notes: []string{}}
		for f := range int64(1200) {
			p.PTS = append(p.PTS, f)
		}
		if err := m.footage.PutProbed(sha, p); err != nil {
			t.Fatal(err)
		}
		chapters = append(chapters, map[string]any{
			"name": "GX0" + strconv.Itoa(i+1) + ".MP4", "sha256": sha, "bytes": 1000, "frames": 1200, "first_pts": 0, "last_pts": 1199,
			"time_base": []int{1, measuredRate}, "width_px": 1920, "height_px": 1080, "codec": "h264", "rotation_deg": 0,
		})
	}
	text, err := json.Marshal(chapters)
	if err != nil {
		t.Fatal(err)
	}
	put(t, m, "Tom Kett", recorded(study.KindClip, "C1", map[string]string{"file": "GX01.MP4", "start": "2026-06-01T21:00:00"}))
	put(t, m, "Tom Kett", recorded(study.KindFootage, "C1", map[string]string{"chapters": string(text)}))
}

func poseOf(t testing.TB, from int, p *optics.Posed) app.FootagePoseSpec {
	t.Helper()
	spec := app.FootagePoseSpec{FromFrame: from, Camera: "lander", ClickSDPx: 0.5}
	for i, at := range [][3]float64{{0.505, 0, 0}, {0.495, 0, 0}, {-0.5, 0.005, 0}, {0.3, 0.35, 0}, {-0.3, 0.35, 0}, {0.3, -0.35, 0}, {-0.3, -0.35, 0.02}} {
		spec.Marks = append(spec.Marks, app.FootagePoseMark{Name: "mark " + strconv.Itoa(i), AtM: at, Pixel: seen(t, p, at)})
	}
	return spec
}

func clipOf(t testing.TB, b *app.Study) app.FootageClip {
	t.Helper()
	v, err := b.Footage(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Clips) != 1 {
		t.Fatalf("clips: %+v", v.Clips)
	}
	return v.Clips[0]
}

// posedBay is a study with the clip, its camera and its pose.
func posedBay(t testing.TB, b *app.Study, m *memStudy, poses ...app.FootagePoseSpec) {
	t.Helper()
	withClip(t, m)
	v, err := b.FootageCamera(t.Context(), app.FootageCameraRequest{Author: "Tom Kett", ID: "lander", Spec: lander, Note: "invented"})
	if err != nil || len(v.Cameras) != 1 || v.Cameras[0].Spec.FxPx != 1180 {
		t.Fatalf("%+v, %v", v.Cameras, err)
	}
	if len(poses) == 0 {
		poses = []app.FootagePoseSpec{poseOf(t, 0, above(0))}
	}
	done, err := b.FootagePoses(t.Context(), app.FootagePoseRequest{Author: "Tom Kett", Clip: "C1", ETag: clipOf(t, b).ETag, Poses: poses, Save: true})
	if err != nil || !done.Saved {
		t.Fatal(done, err)
	}
	for _, p := range done.Poses {
		if p.Why != "" || *p.RMSPx > 1e-6 || math.Abs(p.CentreM[2]-1.4) > 1e-6 || *p.TiltDeg > 1e-4 || !(*p.GroundSDCm > 0) {
			t.Fatalf("pose: %+v", p)
		}
	}
}

// p1Swims is where the snout of P1 is, in metres, s seconds after it came.
func p1Swims(s float64) [3]float64 {
	return [3]float64{0.30 + 0.12*s, 0.05 - 0.03*s + 0.01*s*s, 0.06}
}

// p1 is P1 as a person fixes it: 3 s of it every fifth frame, the turn at 1 s,
// clicks off by half a pixel.
func p1(t testing.TB, b *app.Study, at func(frame int) *optics.Posed) app.FootageFixesRequest {
	t.Helper()
	v, err := b.FootagePass(t.Context(), "P1")
	if err != nil {
		t.Fatal(err)
	}
	r := numeric.Stream(1, "clicks of P1")
	low := 6.0
	in := app.FootageFixesRequest{
		Author: "Aoife Byrne", Pass: "P1", Clip: "C1", ETag: v.ETag, StartFrame: new(p1Starts), OnsetFrame: new(p1Starts + 10), EndFrame: new(p1Starts + 30),
		Heights: app.FootageHeights{How: "limits", LowCm: &low, HighCm: &low},
	}
	for f := p1Starts; f <= p1Starts+30; f++ {
		fix := app.FootageFix{Point: "snout", Frame: f, How: "filled"}
		if (f-p1Starts)%5 == 0 {
			px := seen(t, at(f), p1Swims(float64(f-p1Starts)/measuredRate))
			fix.How, fix.Pixel = "placed", [2]float64{px[0] + 0.5*r.NormFloat64(), px[1] + 0.5*r.NormFloat64()}
		}
		in.Fixes = append(in.Fixes, fix)
	}
	return in
}

func straightDown(int) *optics.Posed { return above(0) }

// analysed is the pass as Exposures shows it, from the season that the study writes.
func analysed(t testing.TB, in app.Input, pass string) app.PassExposure {
	t.Helper()
	s, faults := season.Read(season.Files(in), season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	a, err := app.Analyse(t.Context(), in, s, app.AnalyseOptions{Only: []string{"passes"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range a.Findings.Passes {
		if p.Pass == pass {
			return p
		}
	}
	t.Fatalf("no pass %s", pass)
	return app.PassExposure{}
}

// truth is the season with the true track of P1 at the times of the fixes.
func truth(t testing.TB, in app.Input) app.Input {
	t.Helper()
	rows := []string{"pass,t_s,x_cm,y_cm,height_cm"}
	for f := range 31 {
		s := float64(f) / measuredRate
		at := p1Swims(s)
		rows = append(rows, strings.Join([]string{"P1", strconv.FormatFloat(s, 'f', -1, 64), strconv.FormatFloat(at[0]*100, 'f', -1, 64), strconv.FormatFloat(at[1]*100, 'f', -1, 64), "6"}, ","))
	}
	out := app.Input{}
	for name, data := range in {
		out[name] = data
	}
	out["tracks.csv"] = []byte(strings.Join(rows, "\n") + "\n")
	return out
}

func TestFixesBecomeATrackOfTheSeason(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	before := exported(t, b)
	in := p1(t, b, straightDown)

	// Tried: the same answer, and nothing written.
	entries := len(m.entries)
	in.ETag = ""
	tried, err := b.FootageFixes(t.Context(), in)
	if err != nil || tried.Saved || len(m.entries) != entries || !tried.OtherTrack || tried.TrackWhy != "" || len(tried.Track) < 100 || len(tried.Fixes) != 31 {
		t.Fatalf("tried: %+v, %v", tried, err)
	}

	// P1 has a track that was imported: it is replaced on a person's word alone.
	in = p1(t, b, straightDown)
	in.Save = true
	var refused *app.EditError
	if _, err := b.FootageFixes(t.Context(), in); !errors.As(err, &refused) || !strings.Contains(err.Error(), "3 rows stands that was not measured here") || len(m.entries) != entries {
		t.Fatalf("%v, want that the track that stands is told", err)
	}
	in.Replace = true
	v, err := b.FootageFixes(t.Context(), in)
	if err != nil || !v.Saved || v.OtherTrack || len(m.entries) != entries+3 {
		t.Fatalf("%+v, %v: %d entries", v, err, len(m.entries)-entries)
	}
	if len(v.Track) != len(tried.Track) || *v.Track[40].Field != *tried.Track[40].Field || len(v.Notes) > 0 {
		t.Errorf("saved it differs from what was tried; notes %q", v.Notes)
	}
	if v.Fixes[7].By != "Aoife Byrne" || v.Fixes[7].How != "filled" || math.Abs(*v.Fixes[7].TS-0.7) > 1e-9 {
		t.Errorf("fix: %+v", v.Fixes[7])
	}

	// The season's track is the truth within its own sd (99.9 %: 3.7 in two directions).
	far := 0.0
	for _, f := range v.Fixes {
		at := p1Swims(*f.TS)
		far = math.Max(far, math.Hypot(*f.XCm-at[0]*100, *f.YCm-at[1]*100) / *f.SDCm)
	}
	if far > 3.7 || *v.FixSDCm > 0.12 || *v.FixSDCm < 0.02 {
		t.Errorf("farthest from the truth: %.2f sd; sd %.3f cm, where half a pixel at 1.34 m is 0.06 cm", far, *v.FixSDCm)
	}

	// Exposures agree with those of the true track. 0.2 cm (three sd) of 15 cm are 4 % of
	// a field that falls with the third power.
	after := exported(t, b)
	got, want := analysed(t, withoutFootage(after), "P1"), analysed(t, truth(t, withoutFootage(after)), "P1")
	for _, c := range []struct{ got, want *float64 }{{got.FieldLow, want.FieldLow}, {got.FieldHigh, want.FieldHigh}, {got.PhantomLow, want.PhantomLow}} {
		if c.got == nil || c.want == nil || math.Abs(*c.got / *c.want - 1) > 0.04 {
			t.Errorf("field %v nV/cm, of the true track %v", deref(c.got), deref(c.want))
		}
	}
	if *got.WatchedS != 3 || !bytes.Contains(after["passes.csv"], []byte(",1,3,")) || !bytes.Contains(after["passes.csv"], []byte("C1")) {
		t.Errorf("passes: %s", after["passes.csv"])
	}
	// What the season writes is canonical as it stands.
	if again := canonical(t, withoutFootage(after)); !bytes.Equal(again["tracks.csv"], after["tracks.csv"]) {
		t.Error("the track is not as the canonical season writes it")
	}

	// The same again writes nothing.
	same := p1(t, b, straightDown)
	same.Save, entries = true, len(m.entries)
	if _, err := b.FootageFixes(t.Context(), same); err != nil || len(m.entries) != entries {
		t.Errorf("%d entries of the same again, %v", len(m.entries)-entries, err)
	}

	doc, err := b.Verify(t.Context(), nil)
	if err != nil || !doc.Same {
		t.Errorf("verify: %v, %v", doc.Differences, err)
	}

	// One undo takes all three back, from whichever entry; another brings them again.
	for _, kind := range []string{"track", "fixes"} {
		undoLast(t, b, kind, "P1")
		if diff := differ(before, exported(t, b)); diff != "" {
			t.Errorf("after the undo of %s: %s differs", kind, diff)
		}
		undoLast(t, b, "pass", "P1")
		if diff := differ(after, exported(t, b)); diff != "" {
			t.Errorf("after the undo of the undo: %s differs", diff)
		}
	}
}

func deref(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

func withoutFootage(in app.Input) app.Input {
	out := app.Input{}
	for name, data := range in {
		if name != "fixes.csv" && name != "footage.json" {
			out[name] = data
		}
	}
	return out
}

// differ names a file that differs, "" for none.
func differ(a, b app.Input) string {
	for name := range a {
		if !bytes.Equal(a[name], b[name]) {
			return name
		}
	}
	for name := range b {
		if a[name] == nil {
			return name
		}
	}
	return ""
}

func undoLast(t testing.TB, b *app.Study, kind, id string) {
	t.Helper()
	h, err := b.History(t.Context(), kind, id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Author: "Tom Kett", Entry: h.Entries[len(h.Entries)-1].Entry}); err != nil {
		t.Fatal(err)
	}
}

// Cameras that were knocked have two poses; two animals are fixed in one clip.
func TestAKnockedCameraAndTwoAnimals(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	knocked := func(frame int) *optics.Posed {
		if frame >= p1Starts+15 {
			return above(0.02)
		}
		return above(0)
	}
	posedBay(t, b, m, poseOf(t, 0, above(0)), poseOf(t, p1Starts+15, above(0.02)))
	in := p1(t, b, knocked)
	in.Save, in.Replace = true, true
	v, err := b.FootageFixes(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, f := range v.Fixes {
		if f.XCm == nil {
			continue
		}
		found++
		at := p1Swims(*f.TS)
		if d := math.Hypot(*f.XCm-at[0]*100, *f.YCm-at[1]*100); d > 4**f.SDCm {
			t.Errorf("frame %d: %.3f cm from the truth, sd %.3f", f.Frame, d, *f.SDCm)
		}
	}
	if found != 27 { // of 31: frames 1811 to 1814 lie between fixes of two poses
		t.Errorf("%d fixes with a place, want 27: nothing is filled across the knock", found)
	}
	other := app.FootageFixesRequest{Author: "Tom Kett", Pass: "P2", Clip: "C1", StartFrame: new(p1Starts), Heights: app.FootageHeights{How: "head width", LengthCm: new(18.0), SDCm: new(0.5)}, Save: true, Replace: true}
	for f := p1Starts; f < p1Starts+15; f += 7 {
		for point, y := range map[string]float64{"head left edge": 0.09, "head right edge": -0.09, "snout": 0, "scar": 0.02} {
			other.Fixes = append(other.Fixes, app.FootageFix{Point: point, Frame: f, How: "placed", Pixel: seen(t, above(0), [3]float64{-0.3, y, 0.2})})
		}
	}
	was, err := b.FootagePass(t.Context(), "P2")
	if err != nil {
		t.Fatal(err)
	}
	other.ETag = was.ETag
	v, err = b.FootageFixes(t.Context(), other)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range v.Fixes {
		if f.HeightCm == nil || math.Abs(*f.HeightCm-20) > 0.01 || math.Abs(*f.XCm+30) > 0.01 || !(*f.LowCm < 20 && *f.HighCm > 20) {
			t.Errorf("%s: %+v, want it 20 cm high and 30 cm to the left, to 0.01 cm", f.Point, f)
		}
	}
	season := exported(t, b)
	if rows := bytes.Count(season["tracks.csv"], []byte("P2,")); rows != 9 {
		t.Errorf("%d rows of P2, want 3 frames of 3 points: the scar only measures", rows)
	}
	table, err := csv.NewReader(bytes.NewReader(season["fixes.csv"])).ReadAll()
	if err != nil || len(table) != 1+27+12 || table[1][0] != "P1" || table[1][9] != "Aoife Byrne" {
		t.Errorf("fixes.csv: %d rows, %v", len(table), err)
	}
	var doc struct {
		Cameras, Clips, Passes []map[string]any
	}
	if err := json.Unmarshal(season["footage.json"], &doc); err != nil || len(doc.Cameras) != 1 || len(doc.Clips) != 1 || len(doc.Passes) != 2 {
		t.Errorf("footage.json: %v, %v", doc, err)
	}
	if c := clipOf(t, b); !slices.Equal(c.Passes, []string{"P1", "P2"}) {
		t.Errorf("passes of the clip: %v", c.Passes)
	}
}

// What an export puts beside a season is neither read nor warned of by an import.
func TestAnExportedSeasonWithFootageIsImportedAgain(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	if _, err := b.FootageFixes(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	first := unzipped(t, b)
	if first["fixes.csv"] == nil || first["footage.json"] == nil {
		t.Fatal("the export lacks what was measured")
	}
	for _, name := range []string{"GX01", "lander"} {
		if !bytes.Contains(first["footage.json"], []byte(name)) {
			t.Errorf("footage.json does not name %s", name)
		}
	}
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	plan := planOf(t, s, "", first)
	if said := strings.Join(plan.Warnings, "\n"); strings.Contains(said, "fixes.csv") || strings.Contains(said, "footage.json") {
		t.Errorf("warnings: %s", said)
	}
	importInto(t, s, shelf, "again", first, app.ImportRequest{})
	if diff := differ(withoutFootage(exported(t, b)), withoutFootage(exported(t, openStudy(t, s, "again")))); diff != "" {
		t.Errorf("%s differs after export and import", diff)
	}
}
