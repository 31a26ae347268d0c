package app_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

func roundTank(t testing.TB) app.Input { return readFolder(t, "../../examples/03-round-tank") }

// A season in a round tank, from its folder to what each animal met. Source: the
// engine asked by itself at the printed places, in a tank with its wall; 1e-5,
// since the program asks it through a table good to 1e-6. Without the wall the
// field is the same near the pair and another far from it.
func TestSeasonInARoundTank(t *testing.T) {
	in := roundTank(t)
	f := analyse(t, in, app.AnalyseOptions{})
	open := roundTank(t)
	open["study.toml"] = []byte(strings.Replace(string(open["study.toml"]), "[enclosure]\ndiameter_m = 3.2\n", "", 1))
	without := byPass(analyse(t, open, app.AnalyseOptions{Only: []string{"passes"}}))
	s, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	solved := map[string]*conduction.Solution{}
	for _, p := range s.Pairs {
		solved[p.Label], err = conduction.Solve(
			conduction.Medium{WaterSPerM: 4.42, DepthM: 0.75, Enclosure: &conduction.Enclosure{DiameterM: 3.2}},
			conduction.Pair{Centre: conduction.Point{X: p.CentreXM, Y: p.CentreYM}, AzimuthDeg: p.AzimuthDeg, SeparationM: 0.01, DiameterM: 0.002}.Electrodes(1),
			conduction.Options{})
		if err != nil {
			t.Fatal(err)
		}
	}
	checked, nearest, farthest := 0, 0.0, 0.0
	for _, row := range f.Passes {
		if row.Position == nil {
			continue
		}
		var trial, pair int
		for i := range s.Trials {
			if s.Trials[i].ID == row.Trial {
				trial = i
			}
		}
		for i := range s.Pairs {
			if s.Pairs[i].Label == row.Pair {
				pair = i
			}
		}
		// The place, from its distance, angle and height as seen from the pair; which
		// side of the axis it was on follows from the field's component across.
		current, _ := s.Trials[trial].DrivenCurrentA()
		p := &s.Pairs[pair]
		along := *row.DistanceCm / 100 * math.Cos(*row.AngleDeg*math.Pi/180)
		across := math.Sqrt(math.Max(math.Pow(*row.HorizontalCm/100, 2)-along*along, 0))
		best := math.Inf(1)
		for _, side := range []float64{1, -1} {
			a := p.AzimuthDeg * math.Pi / 180
			at := conduction.Point{
				X: p.CentreXM + along*math.Cos(a) - side*across*math.Sin(a), Y: p.CentreYM + along*math.Sin(a) + side*across*math.Cos(a), Z: *row.HeightCm / 100,
			}
			e, err := solved[p.Label].FieldAt(at)
			if err != nil {
				continue // the other side may lie beyond the wall
			}
			best = math.Min(best, math.Abs(e.Norm()*current*1e7/(*row.Position)-1))
		}
		numtest.Check(t, fmt.Sprintf("pass %s, at %.3g cm: field", row.Pass, *row.DistanceCm), best, 0, numtest.Tolerance{Abs: 1e-5})
		checked++
		if o := without[row.Pass]; o != nil && o.Position != nil && math.Abs(*o.DistanceCm-*row.DistanceCm) < 1e-6 {
			change := math.Abs(*o.Position/(*row.Position) - 1)
			if *row.DistanceCm < 10 {
				nearest = math.Max(nearest, change)
			} else {
				farthest = math.Max(farthest, change)
			}
		}
	}
	if checked < 100 || nearest > 0.01 || farthest < 2*nearest || farthest == 0 {
		t.Errorf("%d places checked; the wall changes the field by up to %.3g within 10 cm, %.3g beyond", checked, nearest, farthest)
	}
	t.Logf("%d places checked; the wall changes the field by up to %.3g within 10 cm, %.3g beyond", checked, nearest, farthest)
	// The truth that the season was drawn from (its README) is in both intervals.
	for i, truth := range []float64{17, 31} {
		d := f.Detection[i]
		if d.Median == nil || d.CI95 == nil || d.CI95.NotEstimable != "" || !(d.CI95.Low < truth && truth < d.CI95.High) {
			t.Errorf("%s: median %v, interval %+v, truth %g", d.Species, d.Median, d.CI95, truth)
		}
	}
}

// Through a study and out again it is the same folder with the same findings.
func TestRoundTankThroughAStudy(t *testing.T) {
	in := roundTank(t)
	shelf := newMemShelf()
	studies := newStudies(t, shelf)
	importInto(t, studies, shelf, "rossmore", in, app.ImportRequest{})
	study := openStudy(t, studies, "rossmore")
	sameFolder(t, "exported", canonical(t, in), exported(t, study))
	got, err := study.AnalyseStudy(t.Context(), app.AnalyseOptions{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	want := analyse(t, in, app.AnalyseOptions{})
	for i, d := range want.Detection {
		if g := got.Findings.Detection[i]; *g.Median != *d.Median || *g.CI95 != *d.CI95 {
			t.Errorf("%s: median %g as a folder, %g as a study", d.Species, *d.Median, *g.Median)
		}
	}
	season, err := study.Season(t.Context())
	if err != nil || season.Enclosure == nil || season.Enclosure.DiameterCm == nil || *season.Enclosure.DiameterCm != 320 || !season.StatesUncertainty {
		t.Errorf("%v, enclosure %+v", err, season.Enclosure)
	}
}

// Sand over the plate in the folder is the plate buried in study.toml: the same
// fields; and the column comes back out of a study. The board of the first case
// of the finite elements, flush. 1e-9: the same solutions, in another frame.
func TestSandOverThePlateOfASeason(t *testing.T) {
	long(t)
	c := femCases(t)[0]
	sanded := seasonOfCase(&c, true, ",sand_over_plate_mm", ",5")
	bare := seasonOfCase(&c, true, "", "")
	buried := seasonOfCase(&c, true, "", "")
	toml := strings.Replace(string(buried["study.toml"]), "top_above_bottom_m = 0\n", "top_above_bottom_m = -0.005\n", 1)
	toml = strings.Replace(toml, fmt.Sprintf("depth_m = %g\n", c.Params.H), fmt.Sprintf("depth_m = %.10g\n", c.Params.H-0.005), 1)
	buried["study.toml"] = []byte(toml)
	only := app.AnalyseOptions{Only: []string{"passes"}}
	with, without, deep := byPass(analyse(t, sanded, only)), byPass(analyse(t, bare, only)), byPass(analyse(t, buried, only))
	most := 0.0
	for id, row := range with {
		if row.Position == nil {
			continue
		}
		numtest.Check(t, id+": field under 5 mm of sand", *row.Position, *deep[id].Position, numtest.Tolerance{Rel: 1e-9})
		most = math.Max(most, math.Abs(*row.Position/(*without[id].Position)-1))
	}
	if most < 0.02 {
		t.Errorf("5 mm of sand change no field by more than %.2g", most)
	}
	t.Logf("5 mm of sand change the field by up to %.3g", most)
	shelf := newMemShelf()
	studies := newStudies(t, shelf)
	importInto(t, studies, shelf, "sand", sanded, app.ImportRequest{})
	out := exported(t, openStudy(t, studies, "sand"))
	sameFolder(t, "exported", canonical(t, sanded), out)
	if !strings.Contains(string(out["trials.csv"]), "sand_over_plate_mm") {
		t.Errorf("trials.csv without its sand: %s", out["trials.csv"])
	}
}
