package conduction

import (
	"math"
	"testing"
)

// asBody is a thick plate as a body.
func (pl Plate) asBody() Body {
	s := pl.solid()
	return s.Body
}

// A thick insulating plate is an insulating box or an upright cylinder. The two ways of
// solving share images and rest, but neither mesh, unknowns nor equations.
func TestBodiesAgainstThickPlates(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 1.5, Layers: []Layer{{0.8, 1}, {math.Inf(1), 0.1}}}
	deep := Medium{WaterSPerM: 4, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), 1.2}}}
	basin := Medium{WaterSPerM: 5, DepthM: 0.8, Layers: []Layer{{0.2, 1}, {math.Inf(1), 0}}, Enclosure: &Enclosure{SizeXM: 2.5, SizeYM: 1.8}}
	floor := Medium{WaterSPerM: 5, DepthM: 1}
	box := Plate{SizeXM: 0.3, SizeYM: 0.2, ThicknessM: 0.12, YawDeg: 25, TopM: 0.3}
	disc := Plate{DiameterM: 0.25, ThicknessM: 0.1, TopM: 0.35}
	lifted := func(p Plate, top float64) Plate {
		p.TopM = top
		return p
	}
	board := Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.01, CentreXM: -0.45}
	for _, c := range []struct {
		name   string
		m      Medium
		as     Plate // which is also solved as a body
		others []Plate
	}{
		{"box in the water", sea, box, nil},
		{"box on the bottom", deep, lifted(box, 0.12), nil},
		{"box half in the bottom", sea, lifted(box, 0.06), nil},
		{"box buried, flush", deep, lifted(box, 0), nil},
		{"box on an insulating floor", floor, lifted(box, 0.12), nil},
		{"box through an insulating floor", floor, lifted(box, 0.07), nil},
		{"cylinder in the water", deep, disc, nil},
		{"cylinder half in the bottom", deep, lifted(disc, 0.04), nil},
		{"box in a tank", basin, box, nil},
		{"cylinder in a tank, half in sand", basin, lifted(disc, 0.05), nil},
		{"box beside a plate", sea, lifted(box, 0.13), []Plate{board}},
		{"cylinder beside a plate in a tank", basin, lifted(disc, 0.2), []Plate{board}},
	} {
		pair := []Electrode{{At: Point{0.3, 0.1, 0.1}, CurrentA: 1e-5}, {At: Point{0.32, 0.1, 0.1}, CurrentA: -1e-5}}
		if len(c.others) > 0 {
			pair = Pair{Centre: Point{X: -0.4}, SeparationM: 0.02}.Electrodes(1e-5)
		}
		var points []Point
		for _, p := range shell(c.as.asBody(), 0.04, 30) {
			if p.Z > 0 {
				points = append(points, p)
			}
		}
		points = append(points, Point{0.1, 0.5, 0.2}, Point{-0.3, -0.4, 0.5}, Point{0.5, 0.3, 0.02})
		want, err := SolveOnPlates(c.m, append([]Plate{c.as}, c.others...), pair, PlateOptions{RelativeTolerance: 0.002, Points: points})
		if err != nil {
			t.Fatal(c.name, err)
		}
		got, err := SolveWithBodies(c.m, c.others, []Body{c.as.asBody()}, pair, PlateOptions{RelativeTolerance: 0.003, Points: points})
		if err != nil {
			t.Fatal(c.name, err)
		}
		plates := make([]Vector, len(points))
		if err := want.Fields(plates, points); err != nil {
			t.Fatal(c.name, err)
		}
		truth := worstOf(t, got, points, func(k int) Vector { return plates[k] })
		t.Logf("%s: apart by %.1e; own estimates %.1e (body, %d unknowns) and %.1e (plate)", c.name, truth, got.RelativeError(), got.Unknowns(), want.RelativeError())
		if truth > got.RelativeError()+want.RelativeError() {
			t.Errorf("%s: body and plate are %.2e apart, more than both estimates, %.2e and %.2e", c.name, truth, got.RelativeError(), want.RelativeError())
		}
		if got.RelativeError() > 0.01 {
			t.Errorf("%s: estimate %.2e; expected 1 %% at least to be reached", c.name, got.RelativeError())
		}
	}
}
