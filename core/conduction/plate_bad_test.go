package conduction

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestBadPlatesAreRefused(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{inf, 1}}}
	tank := Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 1}}
	square := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01}
	lying := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: 0.01}
	with := func(change func(*Plate)) []Plate {
		p := square
		change(&p)
		return []Plate{p}
	}
	shifted := func(x, y, z float64) Plate {
		p := square
		p.CentreXM, p.CentreYM, p.TopM = x, y, z
		return p
	}
	pair := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	at := func(x, y, z, diameter float64) []Electrode {
		return []Electrode{{At: Point{x, y, z}, CurrentA: 1e-5, DiameterM: diameter}, {At: Point{1, 1, 0.5}, CurrentA: -1e-5, DiameterM: 0}}
	}
	for _, c := range []struct {
		name       string
		m          Medium
		plates     []Plate
		electrodes []Electrode
		want       error
		says       []string
	}{
		{"no size", sea, []Plate{{ThicknessM: 0.01}}, pair, ErrPlate, []string{"plate 1", "size 0 m by 0 m", "above 0"}},
		{"one side", sea, []Plate{square, {SizeXM: 1, CentreXM: 3}}, pair, ErrPlate, []string{"plate 2", "size 1 m by 0 m"}},
		{"negative side", sea, with(func(p *Plate) { p.SizeYM = -0.6 }), pair, ErrPlate, []string{"plate 1", "-0.6 m"}},
		{"negative diameter", sea, []Plate{{DiameterM: -1}}, pair, ErrPlate, []string{"plate 1", "diameter -1 m", "above 0"}},
		{"size and diameter", sea, with(func(p *Plate) { p.DiameterM = 0.5 }), pair, ErrPlate, []string{"plate 1", "0.6 m by 0.6 m", "diameter 0.5 m", "one or the other"}},
		{"negative thickness", sea, with(func(p *Plate) { p.ThicknessM = -0.01 }), pair, ErrPlate, []string{"plate 1", "thickness -0.01 m", "at least 0"}},
		{"out of the water", sea, with(func(p *Plate) { p.TopM = 3.5 }), pair, ErrPlate, []string{"plate 1", "3.5 m", "surface at 3 m"}},
		{"larger than the tank", tank, with(func(p *Plate) { p.SizeYM = 1.2 }), pair, ErrPlate, []string{"plate 1", "tank (2 m by 1 m)"}},
		{"through a wall", tank, []Plate{shifted(0.8, 0, 0)}, at(0.8, 0, 0, 0), ErrPlate, []string{"plate 1", "tank"}},
		{"turned into a wall", tank, with(func(p *Plate) { p.SizeXM, p.SizeYM, p.YawDeg = 1.2, 0.2, 90 }), pair, ErrPlate, []string{"plate 1", "tank"}},
		{"two in one place", sea, []Plate{square, square}, pair, ErrPlate, []string{"1 and 2 overlap"}},
		{"overlap by a corner", sea, []Plate{square, {SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.01, CentreXM: 0.55, YawDeg: 45}}, pair, ErrPlate, []string{"1 and 2 overlap"}},
		{"touch", sea, []Plate{square, shifted(2, 0, 0), shifted(0, 0.6, 0)}, pair, ErrPlate, []string{"1 and 3", "touch"}},
		{"touch from above", sea, []Plate{square, shifted(0.1, 0.1, 0.01)}, at(0, 0, 0.01, 0), ErrPlate, []string{"1 and 2", "touch"}},
		{"discs touch", sea, []Plate{{DiameterM: 0.4}, {DiameterM: 0.2, CentreXM: 0.3}}, pair, ErrPlate, []string{"1 and 2", "touch"}},
		{"disc in a corner", sea, []Plate{square, {DiameterM: 0.2, CentreXM: 0.36, CentreYM: 0.36}}, pair, ErrPlate, []string{"1 and 2 overlap"}},

		{"electrode beside the plate", sea, []Plate{lying}, at(0.4, 0, 0.01, 0), ErrElectrode, []string{"electrode 1", "(0.4, 0) m", "off the plate", "plate 1"}},
		{"electrode on the edge", sea, []Plate{square}, at(0.3, 0, 0, 0), ErrElectrode, []string{"electrode 1", "(0.3, 0) m"}},
		{"electrode over the edge", sea, []Plate{square}, at(0.295, 0, 0, 0.02), ErrElectrode, []string{"electrode 1", "over the edge of plate 1", "0.02 m"}},
		{"electrode inside", sea, []Plate{square}, at(0.1, 0, -0.004, 0), ErrInPlate, []string{"electrode 1", "-0.004", "plate 1"}},
		{"electrode under the face", sea, []Plate{square}, at(0.1, 0, -1e-8, 0), ErrInPlate, []string{"electrode 1", "plate 1"}},
		{"electrode on the bottom face", sea, []Plate{square}, at(0.1, 0, -0.01, 0), ErrInPlate, []string{"electrode 1", "plate 1"}},
		{"electrode in the air", sea, []Plate{square}, at(0.1, 0, 4, 0), ErrOutside, []string{"electrode 1", "4 m"}},
		{"no electrodes", sea, []Plate{square}, nil, ErrElectrode, []string{"none given"}},
		{"currents left over in a tank", tank, []Plate{lying}, []Electrode{{At: Point{Z: 0.01}, CurrentA: 1e-5, DiameterM: 0}}, ErrCurrents, []string{"1e-05 A"}},
		{"currents left over in a closed column", Medium{WaterSPerM: 5, DepthM: 1}, []Plate{lying}, []Electrode{{At: Point{Z: 0.01}, CurrentA: 1e-5, DiameterM: 0}}, ErrCurrents, []string{"1e-05 A"}},
		{"no conductivity", Medium{DepthM: 3}, []Plate{square}, pair, ErrMedium, []string{"water conductivity 0 S/m"}},
		{"negative conductivity", Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{inf, -1}}}, []Plate{square}, pair, ErrMedium, []string{"layer 1", "-1 S/m"}},
		{"NaN conductivity", Medium{WaterSPerM: nan, DepthM: 3}, []Plate{square}, pair, ErrMedium, []string{"NaN S/m"}},
		{"infinite current", sea, []Plate{square}, []Electrode{{At: Point{}, CurrentA: inf, DiameterM: 0}}, ErrNotFinite, []string{"electrode 1"}},
		{"NaN place", sea, []Plate{square}, at(nan, 0, 0, 0), ErrNotFinite, []string{"electrode 1"}},
		{"infinite diameter", sea, []Plate{square}, at(0, 0, 0, inf), ErrNotFinite, []string{"electrode 1"}},
	} {
		_, err := SolveOnPlates(c.m, c.plates, c.electrodes, PlateOptions{RelativeTolerance: 0.05})
		checkRefusal(t, c.name, err, c.want, c.says...)
	}
	// NaN and infinity in every number of a plate.
	for name, field := range map[string]func(*Plate) *float64{
		"size x": func(p *Plate) *float64 { return &p.SizeXM }, "size y": func(p *Plate) *float64 { return &p.SizeYM },
		"diameter": func(p *Plate) *float64 { return &p.DiameterM }, "thickness": func(p *Plate) *float64 { return &p.ThicknessM },
		"centre x": func(p *Plate) *float64 { return &p.CentreXM }, "centre y": func(p *Plate) *float64 { return &p.CentreYM },
		"top": func(p *Plate) *float64 { return &p.TopM }, "yaw": func(p *Plate) *float64 { return &p.YawDeg },
	} {
		for _, bad := range []float64{nan, inf, -inf} {
			_, err := SolveOnPlates(sea, with(func(p *Plate) { *field(p) = bad }), pair, PlateOptions{})
			checkRefusal(t, name, err, ErrPlate, "plate 1")
			checkRefusal(t, name, err, ErrNotFinite)
		}
	}
	for _, bad := range []float64{nan, inf, -0.01} {
		_, err := SolveOnPlates(sea, []Plate{square}, pair, PlateOptions{RelativeTolerance: bad})
		checkRefusal(t, "tolerance", err, ErrMedium, "relative tolerance")
	}
}

// checkRefusal: the right kind of error, in one line that says what it is
// about.
func checkRefusal(t *testing.T, name string, err, want error, says ...string) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("%s: %v; expected %v", name, err, want)
		return
	}
	if strings.ContainsAny(err.Error(), "\n\r") {
		t.Errorf("%s: %q is more than a line", name, err)
	}
	for _, s := range says {
		if !strings.Contains(err.Error(), s) {
			t.Errorf("%s: %q does not say %q", name, err, s)
		}
	}
}

func TestPointsRoundPlatesThatHaveNoField(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	plates := []Plate{{SizeXM: 0.6, SizeYM: 0.4, ThicknessM: 0.02, TopM: 0.01, YawDeg: 90}, {DiameterM: 0.3, CentreXM: 1, ThicknessM: 0.02, TopM: 0.01}}
	s := solvePlates(t, sea, plates, Pair{Centre: Point{Z: 0.01}, SeparationM: 0.05, DiameterM: 0.01}.Electrodes(1e-5), 0.05)
	for _, c := range []struct {
		p    Point
		want error
		says string
	}{
		{Point{0, 0.1, 0}, ErrInPlate, "plate 1"},
		{Point{0.1, -0.25, -0.005}, ErrInPlate, "plate 1"},
		{Point{0, 0.1, -0.01}, ErrInPlate, "plate 1"}, // on its bottom
		{Point{0.2, 0.1, 0.005}, ErrInPlate, "plate 1"},
		{Point{1.1, 0, 0}, ErrInPlate, "plate 2"},
		{Point{0.025, 0, 0.01}, ErrInElectrode, "electrode 1"},
		{Point{-0.021, 0, 0.01}, ErrInElectrode, "electrode 2"},
		{Point{0, 0, 3.5}, ErrOutside, "3.5"},
		{Point{math.NaN(), 0, 0.1}, ErrNotFinite, "NaN"},
		{Point{0, math.Inf(-1), 0.1}, ErrNotFinite, "Inf"},
		{Point{0, 0, math.Inf(1)}, ErrNotFinite, "Inf"},
	} {
		_, err := s.FieldAt(c.p)
		checkRefusal(t, "FieldAt", err, c.want, c.says)
		_, err = s.PotentialAt(c.p)
		checkRefusal(t, "PotentialAt", err, c.want, c.says)
		dst := []Vector{{1, 2, 3}, {4, 5, 6}}
		checkRefusal(t, "Fields", s.Fields(dst, []Point{{0, 0, 0.5}, c.p}), c.want, c.says)
		if dst[0] != (Vector{1, 2, 3}) || dst[1] != (Vector{4, 5, 6}) {
			t.Errorf("%v: dst was written, although there is an error: %v", c.p, dst)
		}
	}
	// On a face, beside a side, under the bottom, on the line of an edge: fields.
	for _, p := range []Point{
		{0.15, 0.2, 0.01}, {0.2, 0.3, 0.01}, {0.2 + 1e-6, 0.1, 0}, {0, 0.1, -0.01 - 1e-6}, {1.15, 0, 0.01}, {0.2, 0.3, 0.011},
	} {
		e, err := s.FieldAt(p)
		if err != nil && !errors.Is(err, ErrNotFinite) {
			t.Errorf("FieldAt %v: %v", p, err)
		}
		if err == nil && !(e.Norm() > 0 && !math.IsInf(e.Norm(), 0)) {
			t.Errorf("FieldAt %v: %v", p, e)
		}
	}
}

func TestPlatesStop(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	plates := []Plate{{SizeXM: 0.3, SizeYM: 0.3}, {SizeXM: 0.3, SizeYM: 0.3, CentreXM: 0.5}}
	pair := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	for after := range 6 {
		asked := 0
		_, err := SolveOnPlates(sea, plates, pair, PlateOptions{Stop: func() bool { asked++; return asked > after }})
		checkRefusal(t, "Stop", err, ErrStopped, "stopped")
		if asked != after+1 {
			t.Errorf("asked %d times after it said stop at %d", asked, after+1)
		}
	}
}

// What cannot be reached is said, with what was reached.
func TestPlatesSayWhatTheyDidNotReach(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), 1}}}
	s := solvePlates(t, sea, []Plate{{SizeXM: 0.3, SizeYM: 0.3}}, Pair{SeparationM: 0.01}.Electrodes(1e-5), 1e-9)
	if s.Reached() || !(s.RelativeError() > 1e-9 && s.RelativeError() < 1e-2) {
		t.Errorf("a tolerance of 1e-9: reached %v, estimate %g", s.Reached(), s.RelativeError())
	}
	if s := solvePlates(t, sea, []Plate{{SizeXM: 0.3, SizeYM: 0.3}}, Pair{SeparationM: 0.01}.Electrodes(1e-5), 0); !s.Reached() || s.RelativeError() > 0.005 {
		t.Errorf("the usual tolerance: reached %v, estimate %g", s.Reached(), s.RelativeError())
	}
}
