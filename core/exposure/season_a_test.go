package exposure

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

const checkDir = "../../testdata/check"

// readCSV reads one file of season A as maps from column to text.
func readCSV(tb tester, name string) []map[string]string {
	tb.Helper()
	f, err := os.Open(filepath.Join("../../testdata/season-a", name))
	if err != nil {
		tb.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	var out []map[string]string
	for _, r := range records[1:] {
		m := make(map[string]string)
		for i, column := range records[0] {
			m[column] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func number(tb tester, text string, exponent int) study.Opt[float64] {
	tb.Helper()
	if text == "" {
		return study.Opt[float64]{}
	}
	v, err := strconv.ParseFloat(text+"e"+strconv.Itoa(exponent), 64)
	if err != nil {
		tb.Fatal(err)
	}
	return study.Some(v)
}

// seasonA is the check season, read with a reader of this test's own so that
// core/season is not needed to judge this package.
func seasonA(tb tester) *study.Study {
	tb.Helper()
	s := &study.Study{
		Site:     study.Site{DepthM: 0.9},
		Species:  []study.Species{{Name: "Scyliorhinus canicula"}, {Name: "Raja clavata"}},
		Schedule: study.ScheduleRule{Kind: study.ScheduleUniform},
		Analysis: study.Analysis{PassRadiusM: 0.16, ReactionTimeS: study.Some(0.08)},
		Pairs: []study.Pair{
			{Label: "A", CentreXM: 0.4, CentreYM: 0.4, SeparationM: 0.01},
			{Label: "B", CentreXM: -0.4, CentreYM: 0.4, AzimuthDeg: 90, SeparationM: 0.01},
			{Label: "C", CentreXM: -0.4, CentreYM: -0.4, SeparationM: 0.01},
			{Label: "D", CentreXM: 0.4, CentreYM: -0.4, AzimuthDeg: 90, SeparationM: 0.01},
		},
	}
	pairs := map[string]int{"A": 0, "B": 1, "C": 2, "D": 3}
	species := map[string]int{"S. canicula": 0, "R. clavata": 1}
	trials, passes := map[string]int{}, map[string]int{}
	for i, r := range readCSV(tb, "trials.csv") {
		t := study.Trial{ID: r["trial"], CurrentA: number(tb, r["current_uA"], -6)}
		switch a := r["active_pair"]; a {
		case "none":
		case "sealed":
			t.Sealed = true
		default:
			for label := range strings.SplitSeq(a, "+") {
				t.ActivePairs = append(t.ActivePairs, pairs[label])
			}
		}
		trials[t.ID] = i
		s.Trials = append(s.Trials, t)
	}
	answer := map[string]study.Answer{"yes": study.Yes, "no": study.No, "": study.NotScored}
	for i, r := range readCSV(tb, "passes.csv") {
		when, err := time.Parse("2006-01-02T15:04:05", r["time"])
		if err != nil {
			tb.Fatal(err)
		}
		passes[r["pass"]] = i
		s.Passes = append(s.Passes, study.Pass{
			ID: r["pass"], Trial: trials[r["trial"]], Time: when, Individual: r["individual"],
			Species: species[r["species"]], Pair: pairs[r["pair"]], Turned: answer[r["turned"]], Bit: answer[r["bit"]],
			Visit: r["visit"], OnsetS: number(tb, r["onset_s"], 0), WatchedS: number(tb, r["watched_s"], 0),
		})
	}
	at := map[int]int{}
	for _, r := range readCSV(tb, "tracks.csv") {
		p := passes[r["pass"]]
		if _, ok := at[p]; !ok {
			at[p] = len(s.Tracks)
			s.Tracks = append(s.Tracks, study.Track{Pass: p, Points: []study.PointTrack{{}}})
		}
		fixes := &s.Tracks[at[p]].Points[0].Fixes
		*fixes = append(*fixes, study.Fix{
			TimeS: number(tb, r["t_s"], 0).Value, XM: number(tb, r["x_cm"], -2).Value, YM: number(tb, r["y_cm"], -2).Value,
			HeightM: number(tb, r["height_cm"], -2),
		})
	}
	return s
}

// shallow is a pair of points on an insulating floor under water of a depth,
// per ampere: φ = ±1/(2πσ)·Σ_n 1/|p − s − 2nh ẑ| over the images in floor and
// surface, here as the field. Far images are dipoles seen broadside, and their
// sum is Σ_{n>N} n⁻³ ≈ 1/(2(N+½)²).
type shallow struct {
	sigma, depth float64 // depth +Inf: a half-space
	plus, minus  vec
}

func (h shallow) At(x, y, z float64) (ex, ey, ez float64) {
	p := vec{x, y, z}
	add := func(s vec, sign float64) {
		d := p.minus(s)
		k := sign / (2 * math.Pi * h.sigma * math.Pow(d.dot(d), 1.5))
		ex, ey, ez = ex+k*d.x, ey+k*d.y, ez+k*d.z
	}
	add(h.plus, 1)
	add(h.minus, -1)
	if math.IsInf(h.depth, 1) {
		return ex, ey, ez
	}
	const images = 40
	for n := 1; n <= images; n++ {
		for _, side := range [...]float64{1, -1} {
			up := vec{0, 0, side * 2 * float64(n) * h.depth}
			add(h.plus.plus(up), 1)
			add(h.minus.plus(up), -1)
		}
	}
	tail := 1 / (2 * math.Pi * h.sigma * 8 * math.Pow(h.depth, 3) * (images + 0.5) * (images + 0.5))
	d := h.plus.minus(h.minus)
	return ex - tail*d.x, ey - tail*d.y, ez - tail*d.z
}

// shallowFields is the closed-form field for every trial of a study whose
// pairs lie on an insulating floor.
func shallowFields(tb tester, s *study.Study, sigma, depth float64) *Fields {
	tb.Helper()
	water := make([]TrialWater, len(s.Trials))
	for i := range water {
		water[i] = TrialWater{WaterSPerM: sigma, DepthM: math.Min(depth, 50)}
	}
	f, err := FieldsFrom(s, water, func(_, pair int) UnitField {
		e := electrodesOf(&s.Pairs[pair])
		return shallow{sigma, depth, e[0].at, e[1].at}
	})
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

type expectedPass struct {
	Pass        string   `json:"pass"`
	Role        string   `json:"role"`
	Used        *bool    `json:"used"`
	Low         *float64 `json:"low"`
	High        *float64 `json:"high"`
	PhantomLow  *float64 `json:"phantom_low"`
	PhantomHigh *float64 `json:"phantom_high"`
}

func expectedSeasonA(tb tester) []expectedPass {
	tb.Helper()
	raw, err := os.ReadFile(filepath.Join(checkDir, "season-a.expected.json"))
	if err != nil {
		tb.Fatal(err)
	}
	var doc struct {
		Passes []expectedPass `json:"passes"`
	}
	if err := json.Unmarshal(raw, &doc); err != nil {
		tb.Fatal(err)
	}
	return doc.Passes
}

// Source: testdata/check/season-a.md, good to about 1e-4.
func TestSeasonA(t *testing.T) {
	s := seasonA(t)
	got, warnings, err := Compute(s, shallowFields(t, s, 4.31, 0.9), Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range warnings {
		t.Log(w)
	}
	want := expectedSeasonA(t)
	if len(got) != len(want) || len(want) != 646 {
		t.Fatalf("%d exposures, %d expected", len(got), len(want))
	}
	worst := map[string]float64{}
	for i := range want {
		w, g := &want[i], &got[i]
		id := s.Passes[g.Pass].ID
		if w.Pass != id || w.Role != g.Role.String() || w.Used == nil || *w.Used != g.Used {
			t.Errorf("%s: role %s, used %v; want %+v", id, g.Role, g.Used, w)
		}
		if (w.High != nil) != g.HighKnown || !g.Known {
			t.Errorf("%s: known %v, high known %v; want %+v", id, g.Known, g.HighKnown, w)
		}
		for _, q := range []struct {
			name string
			got  float64
			want *float64
		}{{"low", g.Low, w.Low}, {"high", g.High, w.High}, {"phantom low", g.PhantomLow, w.PhantomLow}, {"phantom high", g.PhantomHigh, w.PhantomHigh}} {
			if q.want == nil {
				continue
			}
			v := q.got * 1e7 // V/m to nV/cm
			numtest.Check(t, id+" "+q.name, v, *q.want, numtest.Tolerance{Rel: 1e-4})
			if *q.want > 0 {
				worst[q.name] = math.Max(worst[q.name], math.Abs(v/(*q.want)-1))
			}
		}
	}
	t.Logf("largest relative differences: %v", worst)
}
