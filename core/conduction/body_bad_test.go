package conduction

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestBadBodiesAreRefused(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{0.1, 1}, {inf, 0.5}}}
	tank := Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 1}}
	ring := Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{DiameterM: 2}}
	box := Body{SizeM: [3]float64{0.2, 0.2, 0.2}, Centre: Point{0, 0.3, 0.2}}
	with := func(change func(*Body)) []Body {
		b := box
		change(&b)
		return []Body{b}
	}
	at := func(x, y, z float64) Body {
		b := box
		b.Centre = Point{x, y, z}
		return b
	}
	pair := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	moved := func(x, y, z, diameter float64) []Electrode {
		return []Electrode{{At: Point{x, y, z}, CurrentA: 1e-5, DiameterM: diameter}, {At: Point{0.8, -0.3, 0.5}, CurrentA: -1e-5}}
	}
	board := []Plate{{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.01, TopM: 0.01}}
	for _, c := range []struct {
		name       string
		m          Medium
		plates     []Plate
		bodies     []Body
		electrodes []Electrode
		want       error
		says       []string
	}{
		{"no size", sea, nil, []Body{{}}, pair, ErrBody, []string{"body 1", "0 m by 0 m by 0 m", "above 0"}},
		{"negative size", sea, nil, []Body{box, {SizeM: [3]float64{0.1, -0.1, 0.1}}}, pair, ErrBody, []string{"body 2", "-0.1 m"}},
		{"no such shape", sea, nil, with(func(b *Body) { b.Shape = 3 }), pair, ErrBody, []string{"body 1", "shape 3", "box, a cylinder or a spheroid"}},
		{"shape below all", sea, nil, with(func(b *Body) { b.Shape = -1 }), pair, ErrBody, []string{"shape -1"}},
		{"oval cylinder", sea, nil, with(func(b *Body) { b.Shape, b.SizeM[2] = BodyCylinder, 0.1 }), pair, ErrBody, []string{"cylinder", "0.2 m by 0.1 m", "equal"}},
		{"oval spheroid", sea, nil, with(func(b *Body) { b.Shape, b.SizeM[2] = BodySpheroid, 0.1 }), pair, ErrBody, []string{"spheroid", "equal"}},
		{"a sheet", sea, nil, with(func(b *Body) { b.SizeM[2] = 0.001 }), pair, ErrBody, []string{"0.001 m", "50", "plate"}},
		{"negative conductivity", sea, nil, with(func(b *Body) { b.SPerM = -1 }), pair, ErrBody, []string{"-1 S/m", "at least 0"}},
		{"conductivity not a number", sea, nil, with(func(b *Body) { b.SPerM = nan }), pair, ErrBody, []string{"NaN"}},
		{"size not a number", sea, nil, with(func(b *Body) { b.SizeM[0] = nan }), pair, ErrNotFinite, []string{"body 1"}},
		{"size without end", sea, nil, with(func(b *Body) { b.SizeM[0] = inf }), pair, ErrNotFinite, []string{"body 1"}},
		{"centre not a number", sea, nil, with(func(b *Body) { b.Centre.Z = nan }), pair, ErrNotFinite, []string{"body 1"}},
		{"pitch without end", sea, nil, with(func(b *Body) { b.PitchDeg = inf }), pair, ErrNotFinite, []string{"body 1"}},
		{"through the surface", sea, nil, with(func(b *Body) { b.Centre.Z = 2.95 }), pair, ErrBody, []string{"3.05 m", "surface at 3 m"}},
		{"nose through the surface", sea, nil, with(func(b *Body) { b.Centre.Z, b.SizeM[0], b.PitchDeg = 2.8, 0.5, 60 }), pair, ErrBody, []string{"surface at 3 m"}},
		{"larger than the tank", tank, nil, with(func(b *Body) { b.SizeM[1] = 1.2 }), pair, ErrBody, []string{"body 1", "walls"}},
		{"turned into a wall", tank, nil, with(func(b *Body) { b.SizeM[0], b.YawDeg = 0.6, 90 }), pair, ErrBody, []string{"walls"}},
		{"through a round wall", ring, nil, []Body{at(0.7, 0.7, 0.2)}, pair, ErrBody, []string{"walls"}},
		{"two in one place", sea, nil, []Body{box, box}, pair, ErrBody, []string{"1 and 2 overlap"}},
		{"touching", sea, nil, []Body{box, at(5, 5, 0.2), at(0.2, 0.3, 0.2)}, pair, ErrBody, []string{"1 and 3", "touch", "0.001 m"}},
		{"one in the other", sea, nil, []Body{box, {Shape: BodySpheroid, SizeM: [3]float64{0.1, 0.05, 0.05}, Centre: box.Centre}}, pair, ErrBody, []string{"1 and 2"}},
		{"edge through edge", sea, nil, []Body{box, {SizeM: [3]float64{0.2, 0.2, 0.2}, Centre: Point{0.21, 0.3, 0.2}, YawDeg: 45}}, pair, ErrBody, []string{"1 and 2"}},
		{"on a plate", sea, board, []Body{at(0, 0.08, 0.11)}, moved(-0.15, -0.15, 0.01, 0), ErrBody, []string{"body 1", "plate 1", "0.001 m"}},
		{"through a plate", sea, board, []Body{at(0.2, 0, 0.05)}, moved(-0.15, -0.15, 0.01, 0), ErrBody, []string{"body 1", "plate 1"}},
		{"electrode inside", sea, nil, []Body{box}, moved(0, 0.3, 0.2, 0), ErrElectrode, []string{"electrode 1", "body 1", "0.001 m"}},
		{"electrode on the side", sea, nil, []Body{box}, moved(0.1, 0.3, 0.2, 0), ErrElectrode, []string{"electrode 1", "body 1"}},
		{"disc into the side", sea, nil, []Body{box}, moved(0.11, 0.3, 0.2, 0.03), ErrElectrode, []string{"electrode 1", "body 1"}},
		{"conducting through three layers", sea, nil, with(func(b *Body) { b.Centre.Z, b.SPerM = -0.05, 2 }), pair, ErrBody, []string{"3 layers", "two at most"}},
		{"far away", Medium{WaterSPerM: 5, DepthM: inf, WaterBelow: true}, nil, []Body{at(0, 0, 1e9)}, pair, ErrBody, []string{"thousand kilometres"}},
		{"a bad medium", Medium{}, nil, []Body{box}, pair, ErrMedium, []string{"water conductivity"}},
		{"no electrodes", sea, nil, []Body{box}, nil, ErrElectrode, []string{"none given"}},
	} {
		_, err := SolveWithBodies(c.m, c.plates, c.bodies, c.electrodes, PlateOptions{})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%s: %q does not say %q", c.name, err, s)
			}
		}
	}
	for _, tolerance := range []float64{-1, nan, inf} {
		if _, err := SolveWithBodies(sea, nil, []Body{box}, pair, PlateOptions{RelativeTolerance: tolerance}); !errors.Is(err, ErrMedium) {
			t.Errorf("tolerance %g: %v", tolerance, err)
		}
	}
}

// Insulating and perfectly conducting bodies may reach through any number of layers; what lies
// in an insulator, or is as the water, changes nothing.
func TestBodiesInOddPlaces(t *testing.T) {
	long(t)
	inf := math.Inf(1)
	pair := Pair{Centre: Point{0.4, 0, 0.05}, SeparationM: 0.02}.Electrodes(1e-5)
	layered := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{0.05, 2}, {0.04, 1}, {inf, 0.3}}}
	floor := Medium{WaterSPerM: 5, DepthM: 2}
	slant := Body{Shape: BodyCylinder, SizeM: [3]float64{0.4, 0.1, 0.1}, PitchDeg: 35, YawDeg: 80}
	s := solvedWithBodies(t, layered, nil, []Body{slant}, pair, 0.05)
	if s.RelativeError() > 0.05 || s.Unknowns() < 100 {
		t.Errorf("through four layers: estimate %g with %d unknowns", s.RelativeError(), s.Unknowns())
	}
	none := solvedWithBodies(t, floor, nil, []Body{{SizeM: [3]float64{0.2, 0.2, 0.1}, Centre: Point{Z: -0.05}}}, pair, 0.01)
	if none.Unknowns() != 0 {
		t.Errorf("%d unknowns for a body in an insulator", none.Unknowns())
	}
	// A ball that lies on an insulating bottom, and one that looks out of it.
	for _, z := range []float64{0.1, 0.04, -0.03} {
		ball := Body{Shape: BodySpheroid, SizeM: [3]float64{0.2, 0.2, 0.2}, Centre: Point{Z: z}, YawDeg: 10, PitchDeg: 25}
		s := solvedWithBodies(t, floor, nil, []Body{ball}, pair, 0.02)
		if s.RelativeError() > 0.02 {
			t.Errorf("ball at %g m: estimate %g", z, s.RelativeError())
		}
		if _, err := s.FieldAt(Point{Z: z + 0.05}); !errors.Is(err, ErrInBody) && !errors.Is(err, ErrOutside) {
			t.Errorf("in a ball at %g m: %v", z, err)
		}
	}
}

func TestStoppingBodies(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	asked := 0
	_, err := SolveWithBodies(sea, nil, []Body{{SizeM: [3]float64{0.2, 0.2, 0.2}, Centre: Point{Y: 0.3, Z: 0.2}}}, Pair{SeparationM: 0.01}.Electrodes(1e-5), PlateOptions{
		RelativeTolerance: 1e-6, Stop: func() bool { asked++; return asked > 3 },
	})
	if !errors.Is(err, ErrStopped) {
		t.Errorf("%v; want it stopped", err)
	}
}

func TestFieldAtSkinOfNoBody(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 3}
	s := solvedWithBodies(t, sea, nil, []Body{{SizeM: [3]float64{0.2, 0.2, 0.1}, Centre: Point{Y: 0.3, Z: -0.1}}}, Pair{SeparationM: 0.01}.Electrodes(1e-5), 0.05)
	for _, c := range []struct{ body, n int }{{-1, 10}, {1, 10}, {0, 0}, {0, -5}} {
		if _, _, err := s.FieldAtSkin(c.body, c.n); !errors.Is(err, ErrBody) {
			t.Errorf("body %d, %d places: %v", c.body, c.n, err)
		}
	}
	// All of it lies in the insulating bottom.
	if _, _, err := s.FieldAtSkin(0, 50); !errors.Is(err, ErrBody) {
		t.Errorf("in the bottom: %v", err)
	}
}
