package reach_test

import (
	"errors"
	"math"
	"runtime"
	"strings"
	"sync"
	"testing"

	"brinefield/core/reach"
)

// Over the middle of a free dipole E = p/(4πσr³), on its axis twice that: the
// moment for a wanted field is 4πσr³E and half of it, whatever the separation,
// where the field per ampere is the separation's dipole. Source: closed form.
func TestCurrentsFor(t *testing.T) {
	perAmpere := func(d float64) (reach.Field, error) { return dipole(vector{X: d}, point{X: 1}), nil }
	const want = 2e-6 // 20 nV/cm
	for _, c := range []struct {
		at   reach.Target
		size float64
	}{
		{reach.Target{AboveM: 0.1}, 1e-3 * 4 * math.Pi * sigma},
		{reach.Target{BesideM: 0.2, AzimuthDeg: 180}, 8e-3 * 4 * math.Pi * sigma / 2},
		{reach.Target{BesideM: 0.2, AzimuthDeg: 90}, 8e-3 * 4 * math.Pi * sigma},
		// 45° off the axis: √(1 + 3/2).
		{reach.Target{AboveM: 0.1, BesideM: 0.1}, math.Pow(0.02, 1.5) * 4 * math.Pi * sigma / math.Sqrt(2.5)},
	} {
		at := c.at.From(point{X: 1})
		needs, err := reach.CurrentsFor(want, at, []float64{0.005, 0.01, 0.1}, perAmpere)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range needs {
			near(t, "moment", n.DipoleMomentAM, want*c.size, 1e-12)
			near(t, "current", n.CurrentA, want*c.size/n.SeparationM, 1e-12)
			back := magnitude(t, dipole(vector{X: n.SeparationM * n.CurrentA}, point{X: 1}), at) // and back
			near(t, "the field that it makes", back, want, 1e-12)
		}
	}
}

func TestNoCurrent(t *testing.T) {
	nothing := func(v vector) func(float64) (reach.Field, error) {
		return func(float64) (reach.Field, error) { return each(func(point) vector { return v }), nil }
	}
	for _, v := range []vector{{}, {X: math.NaN()}, {X: 1e-320}} {
		needs, err := reach.CurrentsFor(1e-6, point{}, []float64{0.01}, nothing(v))
		if err != nil || !math.IsNaN(needs[0].CurrentA) || !math.IsNaN(needs[0].DipoleMomentAM) {
			t.Errorf("a field of %v per ampere: %+v, %v", v, needs, err)
		}
	}
	broken := errors.New("no water")
	for _, c := range []struct {
		target, separation float64
		per                func(float64) (reach.Field, error)
		is                 error
		says               string
	}{
		{-1, 0.01, nothing(vector{X: 1}), reach.ErrSearch, "-1 V/m"},
		{math.Inf(1), 0.01, nothing(vector{X: 1}), reach.ErrSearch, "+Inf"},
		{1e-6, 0, nothing(vector{X: 1}), reach.ErrSearch, "separation 1 is 0 m"},
		{1e-6, 0.01, func(float64) (reach.Field, error) { return nil, broken }, broken, "0.01 m apart"},
		{1e-6, 0.01, func(float64) (reach.Field, error) { return func([]vector, []point) error { return broken }, nil }, broken, "0.01 m apart"},
	} {
		if _, err := reach.CurrentsFor(c.target, point{}, []float64{c.separation}, c.per); !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%g V/m, %g m: %v", c.target, c.separation, err)
		}
	}
}

// The range of a dipole is (2p/4πσx)^⅓: the conductivity by ±10 % moves it by
// 0.9^−⅓ and 1.1^−⅓, the moment by ±2 % less, the depth not at all.
func TestVary(t *testing.T) {
	type water struct{ sigma, moment, depth float64 }
	base := water{sigma, moment, 8}
	rows := []reach.Change[water]{
		{What: "depth", Said: "± 1 m", Low: water{sigma, moment, 7}, High: water{sigma, moment, 9}},
		{What: "current", Said: "± 2 %", Low: water{sigma, 0.98 * moment, 8}, High: water{sigma, 1.02 * moment, 8}},
		{What: "site", Said: "other", Low: water{sigma, moment, 8}, High: water{sigma, moment, 8.5}},
		{What: "water", Said: "± 10 %", Low: water{0.9 * sigma, moment, 8}, High: water{1.1 * sigma, moment, 8}},
		{What: "switch", Said: "off", Low: water{sigma, 0, 8}, High: base},
	}
	reachOf := func(w water) float64 { return math.Cbrt(2 * w.moment / (4 * math.Pi * w.sigma * 5e-7)) }
	measure := func(w water) (reach.Measured, error) {
		got := reach.Measured{RangeM: reachOf(w), FieldVPerM: w.moment / w.sigma}
		if w.moment == 0 {
			got.RangeM = math.NaN()
		}
		return got, nil
	}
	for _, workers := range []int{0, 1, 3, 100} {
		got, effects, err := reach.Vary(base, rows, workers, measure)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "base", got.RangeM, reachOf(base), 1e-15)
		order := ""
		for _, e := range effects {
			order += e.What + " " + e.Said + "; "
		}
		if order != "switch off; water ± 10 %; current ± 2 %; depth ± 1 m; site other; " {
			t.Errorf("%d workers: %s", workers, order)
		}
		near(t, "low", effects[1].Low.RangeM/got.RangeM, 1/math.Cbrt(0.9), 1e-12)
		near(t, "high", effects[1].High.RangeM/got.RangeM, 1/math.Cbrt(1.1), 1e-12)
	}
}

// Where a range is the same the field decides; one without a field comes last.
func TestVaryByField(t *testing.T) {
	rows := []reach.Change[float64]{{What: "none", Low: math.NaN(), High: 1}, {What: "small", Low: 0.9, High: 1}, {What: "large", Low: 1, High: 2}}
	_, effects, err := reach.Vary(1, rows, 2, func(x float64) (reach.Measured, error) { return reach.Measured{RangeM: 1, FieldVPerM: x}, nil })
	if err != nil || effects[0].What != "large" || effects[1].What != "small" || effects[2].What != "none" {
		t.Errorf("%v, %v", effects, err)
	}
}

func TestVaryFails(t *testing.T) {
	broken := errors.New("no such water")
	rows := []reach.Change[int]{{What: "salinity", Low: 1, High: 2}, {What: "depth", Low: 3, High: 4}}
	for bad, says := range map[int]string{0: "the setting itself", 1: "salinity at its low end", 2: "salinity at its high end", 3: "depth at its low end", 4: "depth at its high end"} {
		_, _, err := reach.Vary(0, rows, runtime.NumCPU(), func(k int) (reach.Measured, error) {
			if k >= bad { // the first in the order given counts, not the first to fail
				return reach.Measured{}, broken
			}
			return reach.Measured{}, nil
		})
		if !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), says+": ") {
			t.Errorf("broken at %d: %v", bad, err)
		}
	}
	defer func() {
		if p := recover(); p != "wet" {
			t.Errorf("a panic of measure arrives as %v", p)
		}
	}()
	var once sync.Once
	_, _, _ = reach.Vary(0, rows, 3, func(int) (reach.Measured, error) {
		once.Do(func() { panic("wet") })
		return reach.Measured{}, nil
	})
	t.Error("a panic of measure is lost")
}

func TestBadSearches(t *testing.T) {
	never := func([]vector, []point) error { t.Error("the field was asked"); return nil }
	nan := math.NaN()
	for says, change := range map[string]func(*reach.Search, *[]float64){
		"threshold 2 is 0 V/m":        func(_ *reach.Search, x *[]float64) { *x = []float64{1, 0} },
		"threshold 1 is NaN":          func(_ *reach.Search, x *[]float64) { *x = []float64{nan} },
		"centre of the pair":          func(s *reach.Search, _ *[]float64) { s.Centre.Y = nan },
		"height 2 is +Inf":            func(s *reach.Search, _ *[]float64) { s.HeightsM = []float64{0, math.Inf(1)} },
		"0 directions":                func(s *reach.Search, _ *[]float64) { s.Directions = 0 },
		"4000 directions":             func(s *reach.Search, _ *[]float64) { s.Directions = 4000 },
		"as far as -1 m":              func(s *reach.Search, _ *[]float64) { s.MostM = -1 },
		"as far as NaN":               func(s *reach.Search, _ *[]float64) { s.MostM = nan },
		"between 1 m and 0 m":         func(s *reach.Search, _ *[]float64) { s.LowestM, s.HighestM = 1, 0 },
		"between NaN m":               func(s *reach.Search, _ *[]float64) { s.LowestM = nan },
		"tolerance 0.5":               func(s *reach.Search, _ *[]float64) { s.Tolerance = 0.5 },
		"-3 points":                   func(s *reach.Search, _ *[]float64) { s.MostPoints = -3 },
		"1001 places":                 func(s *reach.Search, _ *[]float64) { s.Sharp = make([]point, 1001) },
		"place 1 to look closely at ": func(s *reach.Search, _ *[]float64) { s.Sharp = []point{{Z: nan}} },
	} {
		s, xs := still(reach.Search{}), []float64{1e-6}
		change(&s, &xs)
		if _, err := reach.Ranges(never, xs, s); !errors.Is(err, reach.ErrSearch) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", says, err)
		}
	}
	if got, err := reach.Ranges(never, nil, still(reach.Search{})); err != nil || len(got) != 0 {
		t.Errorf("no thresholds: %v, %v", got, err)
	}
}
