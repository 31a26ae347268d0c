package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

func dossierHeading() dossier.Heading {
	return dossier.Heading{Format: 1, Made: "2026-11-29T12:00:00+01:00", Seed: 1, Invented: true, Program: dossier.Build{Version: "test", Commit: "none", OSArch: "any"}}
}

func dossierOf(t testing.TB, in app.Input) dossier.Input {
	t.Helper()
	d, h, err := app.SeasonDossier(t.Context(), in, "bay", dossierHeading(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if h.Name != "bay" || d.Name != "bay" {
		t.Fatalf("%q, %q", h.Name, d.Name)
	}
	return d
}

// The findings of a package are those of analyse, to the byte, and the field on
// its map crosses a threshold where its range ends.
func TestDossierOfTheDemo(t *testing.T) {
	long(t)
	in := must(app.DemoSeason())
	d := dossierOf(t, in)
	s := must(app.ReadSeason(d.Season))
	a := must(app.Analyse(t.Context(), d.Season, s, app.AnalyseOptions{Seed: 1, Program: app.Program{Version: "test", Commit: "none", OSArch: "any"}}))
	var want bytes.Buffer
	encoder := json.NewEncoder(&want)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", " ")
	if err := encoder.Encode(a.Findings); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want.Bytes(), d.Results["findings.json"]) {
		t.Error("findings.json is not what analyse prints")
	}
	if len(d.Passes) != len(s.Passes) || d.Passes[0].Role == "" || d.Passes[0].HeadXCm == nil || len(d.Findings.Detection) != 2 || len(d.Findings.Curves) != 2 {
		t.Errorf("%d passes, %+v", len(d.Passes), d.Passes[0])
	}
	plan, section := &d.Maps[0], &d.Maps[1]
	if plan.Why != "" || section.Why != "" || plan.Plane != "plan" || section.Plane != "section" || plan.CurrentUA != 6 {
		t.Fatalf("%q %q %g µA", plan.Why, section.Why, plan.CurrentUA)
	}
	r := &d.Ranges[0]
	if r.ThresholdNVPerC != 5 || r.HeightCm[0] != 0 || r.ReachCm[0] == nil {
		t.Fatalf("%+v", r)
	}
	// The range at a height lies along the axis or across it, or between: the
	// largest distance on the map at the height of its plan, to a cell of it.
	at := heightNear(r.HeightCm, plan.HeightCm)
	cell := plan.X[1] - plan.X[0]
	cx, cy := middle(plan.X), middle(plan.Y)
	farthest := 0.0
	for row, y := range plan.Y {
		for column, x := range plan.X {
			if plan.NVPerCm[row][column] >= 5 {
				farthest = math.Max(farthest, math.Hypot(x-cx, y-cy))
			}
		}
	}
	if reach := *r.ReachCm[at]; math.Abs(farthest-reach) > 1.5*cell {
		t.Errorf("5 nV/cm reaches %g cm at a height of %g cm, on the map at %g cm it reaches %g cm", reach, r.HeightCm[at], plan.HeightCm, farthest)
	}
}

func heightNear(heights []float64, h float64) int {
	best := 0
	for i := range heights {
		if math.Abs(heights[i]-h) < math.Abs(heights[best]-h) {
			best = i
		}
	}
	return best
}

func middle(x []float64) float64 { return (x[0] + x[len(x)-1]) / 2 }

// Nothing of it depends on the number of cores. NaN of a map are equal here by
// their text.
func TestDossierDoesNotDependOnCores(t *testing.T) {
	in := roundTank(t)
	one := func(cores int) dossier.Input {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		return dossierOf(t, in)
	}
	a, b := one(1), one(3)
	if fmt.Sprint(a.Maps) != fmt.Sprint(b.Maps) || !reflect.DeepEqual(a.Ranges, b.Ranges) || !reflect.DeepEqual(a.Results, b.Results) || !reflect.DeepEqual(a.Passes, b.Passes) {
		t.Error("the input of a dossier differs with the number of cores")
	}
}

func TestDossierSaysWhatIsWrong(t *testing.T) {
	in := smallSeason()
	broken := with(t, in, "study.toml", "depth_m", "depht_m")
	if _, _, err := app.SeasonDossier(t.Context(), broken, "bay", dossierHeading(), nil); !errors.Is(err, app.ErrFaults) {
		t.Errorf("%v", err)
	}
	h := dossierHeading()
	h.Made = "yesterday"
	if _, _, err := app.SeasonDossier(t.Context(), in, "bay", h, nil); err == nil {
		t.Error("a time that cannot be read is taken")
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, _, err := app.SeasonDossier(ctx, in, "bay", dossierHeading(), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
