package dossier

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

var close9 = numtest.Tolerance{Abs: 1e-9}

// A head 12 cm beyond the positive end of a pair that points along +y lies 12 cm
// along its axis; one at larger x lies to the right of the axis, at negative across.
// Distance, angle and height give the plan distance by Pythagoras.
func TestPlacesRoundThePair(t *testing.T) {
	in := Input{Study: &study.Study{Pairs: []study.Pair{{Label: "A", CentreXM: 0.1, CentreYM: 0.2, AzimuthDeg: 90, HeightM: 0.01}}}}
	head := Pass{Pair: "A", HeadXCm: ptr(14.0), HeadYCm: ptr(32.0)}
	at, ok := placeOf(&in, &head, watched{})
	if !ok || !at.sided {
		t.Fatal("no place")
	}
	numtest.Check(t, "along", at.at.X, 12, close9)
	numtest.Check(t, "across", at.at.Y, -4, close9)

	old := Pass{Pair: "A", DistanceCm: ptr(13.0), AngleDeg: ptr(90.0), HeightCm: ptr(6.0)}
	at, ok = placeOf(&in, &old, watched{})
	if !ok || at.sided {
		t.Fatalf("%v, %v", ok, at)
	}
	numtest.Check(t, "along, of an angle of 90°", at.at.X, 0, close9)
	numtest.Check(t, "plan distance of 13 cm, 5 cm above the pair", at.plan, 12, close9)

	old.HeightCm = nil
	if _, ok := placeOf(&in, &old, watched{}); ok {
		t.Error("a place without a height or a distance along the bottom")
	}
}

// A straight track that passes a pair 5 cm off is closest there, between its fixes.
func TestClosestPlaceOfATrack(t *testing.T) {
	pair := &study.Pair{CentreXM: 0.3, CentreYM: 0.1}
	track := &study.Track{Points: []study.PointTrack{
		{Name: "nose", Fixes: []study.Fix{{XM: 0, YM: 0.15}, {XM: 1, YM: 0.15}}},
		{Name: "eye", Fixes: []study.Fix{{XM: 0, YM: 0.4}, {XM: 1, YM: 0.4}}},
	}}
	for _, c := range []struct {
		point string
		y     float64
	}{{"", 15}, {"largest", 15}, {"nose", 15}, {"eye", 40}} {
		at, ok := closest(track, pair, c.point)
		if !ok {
			t.Fatalf("%q: no place", c.point)
		}
		numtest.Check(t, "x of "+c.point, at.X, 30, close9)
		numtest.Check(t, "y of "+c.point, at.Y, c.y, close9)
	}
	if _, ok := closest(track, pair, "tail"); ok {
		t.Error("a place of a point that was not followed")
	}
}

// Of a plate of 1.2 m by 0.8 m, whatever its yaw, the edge lies 40 cm from the
// middle at the nearest and half the diagonal at the furthest; a plane through the
// middle, turned by the angle a from its long side, cuts it over 2·60/cos a cm
// while that meets the short sides. A disc is cut over its diameter.
func TestPlateGeometry(t *testing.T) {
	tol := numtest.Tolerance{Abs: 1e-9}
	for _, yaw := range []float64{0, 30, 117} {
		plate := study.Plate{SizeXM: 1.2, SizeYM: 0.8, CentreXM: 2, CentreYM: -1, YawDeg: yaw}
		pair := study.Pair{CentreXM: 2, CentreYM: -1, AzimuthDeg: yaw + 20}
		near, far, ok := edgeDistances(&study.Study{Plates: []study.Plate{plate}}, &pair)
		if !ok {
			t.Fatal("the pair is not on its plate")
		}
		numtest.Check(t, "nearest edge", near, 40, tol)
		numtest.Check(t, "furthest corner", far, math.Hypot(60, 40), tol)
		from, to, ok := cut(&plate, &pair)
		if !ok {
			t.Fatal("the plane misses the plate")
		}
		numtest.Check(t, "length of the cut", to-from, 120/math.Cos(20*math.Pi/180), tol)
	}
	disc := study.Plate{Disc: true, DiameterM: 1}
	pair := study.Pair{AzimuthDeg: 33}
	from, to, _ := cut(&disc, &pair)
	numtest.Check(t, "cut of a disc, drawn with 96 sides", to-from, 100, numtest.Tolerance{Abs: 0.06})
	if _, _, ok := edgeDistances(&study.Study{Plates: []study.Plate{disc}}, &study.Pair{CentreXM: 3}); ok {
		t.Error("a pair beside the plate has a distance to its edge")
	}
}

// Where +x points east (a bearing of 90°) north is +y; where it points north, +x.
func TestNorth(t *testing.T) {
	p := Panel{X: Axis{Min: 0, Max: 100}, Y: Axis{Min: 0, Max: 100}}
	for bearing, want := range map[float64]XY{90: {0, 1}, 0: {1, 0}, 180: {-1, 0}} {
		st := &study.Study{Site: study.Site{XAxisBearingDeg: study.Some(bearing)}}
		for _, l := range northArrow(st, &p) {
			if a, ok := l.(Arrow); ok {
				dx, dy := a.To.X-a.From.X, a.To.Y-a.From.Y
				d := math.Hypot(dx, dy)
				numtest.Check(t, fmt.Sprintf("x of north at %g°", bearing), dx/d, want.X, close9)
				numtest.Check(t, fmt.Sprintf("y of north at %g°", bearing), dy/d, want.Y, close9)
			}
		}
	}
	if northArrow(&study.Study{}, &p) != nil {
		t.Error("north is drawn where no bearing was recorded")
	}
}

// Levels of the sample's map: at most 1600 nV/cm (2e5/5³), at least 2.5 nV/cm in its
// corners. A single spot, 0.1 % of the map, brings no further lines.
func TestContourLevels(t *testing.T) {
	m := sampleMaps()[0]
	m.NVPerCm[15][15] = 1e6
	levels := contourLevels(soundGrid(&m))
	if got, want := fmt.Sprint(levels), "[5 10 20 50 100 200 500 1000]"; got != want {
		t.Errorf("levels %s, want %s", got, want)
	}
}

// A trial from 21:00 to 00:30 is two boxes; days are civil days, also where one has
// 23 hours (Ireland, 30 March 2025).
func TestTimelineDays(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Skip("no time zones here")
	}
	at := func(text string) time.Time {
		v, err := time.ParseInLocation("2006-01-02 15:04", text, zone)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	in := Input{Study: &study.Study{Site: study.Site{Zone: zone}, Trials: []study.Trial{
		{ID: "T1", Start: at("2025-03-29 21:00"), End: at("2025-03-30 00:30")},
		{ID: "T2", Start: at("2025-03-31 09:00"), End: at("2025-03-31 10:00"), Sealed: true},
	}}}
	p := figureOf(t, in, "timeline").Panels[0]
	var boxes []Area
	for _, l := range p.Layers {
		if a, ok := l.(Area); ok {
			boxes = append(boxes, a)
		}
	}
	if len(boxes) != 3 {
		t.Fatalf("%d boxes, want 3", len(boxes))
	}
	for i, want := range [][4]float64{{0, 21, 1, 24}, {1, 0, 2, 0.5}, {2, 9, 3, 10}} {
		a, b := boxes[i].At[0], boxes[i].At[2]
		if a.X < want[0] || b.X > want[2] || a.Y != want[1] || b.Y != want[3] {
			t.Errorf("box %d: %v to %v, want within day %g from %g h to %g h", i, a, b, want[0], want[1], want[3])
		}
	}
	if p.X.Ticks[0].Label != "29 Mar" || p.X.Max != 3 {
		t.Errorf("axis %+v", p.X)
	}
	if boxes[2].Look != sealedLook || boxes[0].Look != silentLook {
		t.Error("a sealed trial does not look sealed, or a silent one not silent")
	}
}

// The shares and the log odds ratio of the sample: 3.3 ± 1.959964·0.6; where the
// mixed model says why not, the penalised estimate stands, unbounded upwards.
func TestPreferenceFigure(t *testing.T) {
	f := figureOf(t, sampleInput(), "preference")
	text := captionOf(f)
	for _, want := range []string{
		"All species: 15 turns in 20 passes at the active pair, 4 turns in 40 passes at control pairs, exact p\u00a0<\u00a00.001, randomisation p\u00a0=\u00a00.012 (9999 draws), log odds ratio 3.30 (2.12 to 4.48).",
		"not the test", "Scyliorhinus canicula: 15 turns in 22 passes", "log odds ratio 4.10 (2.20 or more).", "Triangles",
	} {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			t.Errorf("the caption lacks %q: %s", want, text)
		}
	}
	found := false
	for _, l := range f.Panels[1].Layers {
		if p, ok := l.(Points); ok && p.Look == penalisedLook {
			found = true
			if p.Low[0] != 2.2 || !math.IsInf(p.High[0], 1) {
				t.Errorf("penalised interval %g to %g", p.Low[0], p.High[0])
			}
		}
	}
	if !found {
		t.Error("no penalised estimate is drawn")
	}
}

// Five thousand passes are drawn with a bounded number of marks, and the caption
// says how many; all of them are in the data.
func TestManyPassesAreThinned(t *testing.T) {
	in := sampleInput()
	few := in.Passes
	for len(in.Passes) < 5000 {
		in.Passes = append(in.Passes, few...)
	}
	f := figureOf(t, in, "turns")
	for _, p := range f.Panels {
		marks := 0
		for _, l := range p.Layers {
			if points, ok := l.(Points); ok {
				marks += len(points.At)
			}
		}
		if marks > 2*turnsMost {
			t.Errorf("%s: %d marks", p.Title, marks)
		}
	}
	if text := captionOf(f); !strings.Contains(text, "evenly chosen") {
		t.Errorf("the caption does not say that marks were left out: %s", text)
	}
	if n := len(f.Data[0].Rows); n < 4000 {
		t.Errorf("%d places in the data", n)
	}
}

// A season of more trials than have room for a bar each has bars by day, which
// count every pass and turn.
func TestManyTrialsAreBarsByDay(t *testing.T) {
	st := &study.Study{}
	in := Input{Study: st}
	start := time.Date(2025, 6, 1, 6, 0, 0, 0, time.UTC)
	for i := range barsMost + 1 {
		trial := study.Trial{ID: fmt.Sprintf("T%d", i), Start: start.Add(time.Duration(i) * 3 * time.Hour)}
		trial.End = trial.Start.Add(time.Hour)
		st.Trials = append(st.Trials, trial)
		in.Passes = append(in.Passes, Pass{Trial: trial.ID, Responded: i%2 == 0}, Pass{Trial: trial.ID})
	}
	f := figureOf(t, in, "timeline")
	var sums [2]float64
	for i := range 2 {
		bars, ok := f.Panels[1].Layers[i].(Bars)
		if !ok || len(bars.X) != 16 { // 121 trials, eight a day, from six in the morning
			t.Fatalf("layer %d: %+v", i, bars)
		}
		for _, h := range bars.High {
			sums[i] += h
		}
	}
	if sums[0] != 2*(barsMost+1) || sums[1] != barsMost/2+1 {
		t.Errorf("%g passes and %g turns in the bars", sums[0], sums[1])
	}
	if text := captionOf(f); !strings.Contains(text, "on each day") {
		t.Error(text)
	}
}

func TestRowsOfAnimals(t *testing.T) {
	groups := make([]animalGroup, 3)
	for i, n := range []int{5, 60, 60} {
		groups[i].rows = make([]*Individual, n)
	}
	if got := rowsEach(groups); got != 17 { // 5 + 17 + 17 = 39
		t.Errorf("%d rows each", got)
	}
	in := sampleInput()
	for i := range 90 {
		in.Findings.Individuals = append(in.Findings.Individuals, Individual{ID: fmt.Sprintf("X%d", i), Species: "Raja clavata", PassesActive: 1, LowestTurn: ptr(float64(i + 1))})
	}
	if text := captionOf(figureOf(t, in, "individuals")); !strings.Contains(text, "Left out for want of room") {
		t.Error(text)
	}
}
