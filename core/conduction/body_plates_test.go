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
// make soak takes the long cases too.
func TestBodiesAgainstThickPlates(t *testing.T) {
	long(t)
	againstThickPlates(t, false)
}

func againstThickPlates(t *testing.T, long bool) {
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
		also   []Plate // as well
		asked  float64
		long   bool // only in make soak
	}{
		{"box in the water", sea, box, nil, nil, 0.005, true},
		{"box on the bottom", deep, lifted(box, 0.12), nil, nil, 0.005, true},
		{"box half in the bottom", sea, lifted(box, 0.06), nil, nil, 0.005, false},
		{"box buried, flush", deep, lifted(box, 0), nil, nil, 0.005, true},
		{"box on an insulating floor", floor, lifted(box, 0.12), nil, nil, 0.005, true},
		{"box through an insulating floor", floor, lifted(box, 0.07), nil, nil, 0.005, true},
		{"cylinder in the water", deep, disc, nil, nil, 0.005, true},
		{"cylinder half in the bottom", deep, lifted(disc, 0.04), nil, nil, 0.005, true},
		{"box in a tank", basin, box, nil, nil, 0.005, true},
		{"cylinder in a tank, half in sand", basin, lifted(disc, 0.05), nil, nil, 0.005, false},
		{"box beside a plate", sea, lifted(box, 0.13), []Plate{board}, nil, 0.02, false},
		{"box beside a cylinder", sea, lifted(box, 0.13), nil, []Plate{{DiameterM: 0.2, ThicknessM: 0.15, TopM: 0.2, CentreXM: -0.42, CentreYM: 0.05}}, 0.005, true},
		{"cylinder beside a plate in a tank", basin, lifted(disc, 0.2), []Plate{board}, nil, 0.005, true},
	} {
		if c.long && !long {
			continue
		}
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
		want, err := SolveOnPlates(c.m, append(append([]Plate{c.as}, c.also...), c.others...), pair, PlateOptions{RelativeTolerance: c.asked, Points: points})
		if err != nil {
			t.Fatal(c.name, err)
		}
		bodies := []Body{c.as.asBody()}
		for _, pl := range c.also {
			bodies = append(bodies, pl.asBody())
		}
		got, err := SolveWithBodies(c.m, c.others, bodies, pair, PlateOptions{RelativeTolerance: c.asked, Points: points})
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
		if !got.Reached() {
			t.Errorf("%s: estimate %.2e; expected %g to be reached", c.name, got.RelativeError(), c.asked)
		}
	}
}

// A body beside a wall is one with its mirror image beyond: a tank of half the size against the whole one with two bodies, in
// which no wall is near.
func bodyBesideAWall(t *testing.T) {
	half := Medium{WaterSPerM: 5, DepthM: 0.6, Enclosure: &Enclosure{SizeXM: 1, SizeYM: 1, CentreXM: 0.5}}
	whole := half
	whole.Enclosure = &Enclosure{SizeXM: 2, SizeYM: 1}
	for _, c := range []struct {
		name string
		body Body
	}{
		{"box", Body{SizeM: [3]float64{0.16, 0.2, 0.2}, Centre: Point{0.13, 0, 0.2}}},
	} {
		image := c.body
		image.Centre.X *= -1
		electrodes := []Electrode{{At: Point{0.35, 0.05, 0.1}, CurrentA: 1e-5}, {At: Point{0.38, 0.05, 0.1}, CurrentA: -1e-5}}
		both := append([]Electrode(nil), electrodes...)
		for _, e := range electrodes {
			e.At.X *= -1
			both = append(both, e)
		}
		var points []Point
		for _, p := range shell(c.body, 0.03, 24) {
			if p.X > 0 && p.Z > -0.2 {
				points = append(points, p)
			}
		}
		a := solvedWithBodies(t, half, nil, []Body{c.body}, electrodes, 0.02, points...)
		b := solvedWithBodies(t, whole, nil, []Body{c.body, image}, both, 0.02, points...)
		compared(t, c.name, a, b, points, a.RelativeError()+b.RelativeError())
	}
}
