package conduction

import (
	"errors"
	"math"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
)

// A plate in a round tank 60 m across is a plate in open water: what the wall sends
// back of a pair of length d falls as d/R². Source: the solution without walls.
func TestPlateInAVeryLargeRoundTank(t *testing.T) {
	plates := []Plate{{SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.02, TopM: 0.1}}
	electrodes := Pair{Centre: Point{Z: 0.1}, SeparationM: 0.02}.Electrodes(1e-5)
	m := Medium{WaterSPerM: 5, DepthM: 0.6, Layers: []Layer{{math.Inf(1), 1}}}
	open := solvePlates(t, m, plates, electrodes, 0.01)
	m.Enclosure = &Enclosure{DiameterM: 60}
	tank := solvePlates(t, m, plates, electrodes, 0.01)
	for _, p := range []Point{{0.05, 0.02, 0.15}, {0.25, 0, 0.1}, {0.1, 0.1, 0.3}} {
		want, err := open.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		got, err := tank.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "|δE|/|E|", got.Sub(want).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 3e-4})
	}
}

// Nothing flows through the wall of a round tank with a plate in it, to the error that
// the solution owns to. Source: the problem.
func TestPlateInARoundTank(t *testing.T) {
	long(t)
	wall := &Enclosure{DiameterM: 1.4, CentreXM: 0.1, CentreYM: 0.05}
	for _, c := range []struct {
		name  string
		plate Plate
	}{
		{"board", Plate{SizeXM: 0.5, SizeYM: 0.4, ThicknessM: 0.02, TopM: 0.1, YawDeg: 20}},
		{"disc", Plate{DiameterM: 0.5, ThicknessM: 0.02, TopM: 0.1}},
	} {
		m := Medium{WaterSPerM: 5, DepthM: 0.5, Enclosure: wall}
		electrodes := Pair{Centre: Point{X: 0.05, Z: 0.1}, SeparationM: 0.04, AzimuthDeg: 30}.Electrodes(1e-5)
		var points []Point
		for n := range 7 {
			sin, cos := math.Sincos(float64(n))
			points = append(points, Point{wall.CentreXM + 0.7*cos, wall.CentreYM + 0.7*sin, 0.06 + 0.06*float64(n)})
		}
		s := solvePlates(t, m, []Plate{c.plate}, electrodes, 0.005, points...)
		if s.RelativeError() > 0.02 {
			t.Errorf("%s: own estimate %.2g", c.name, s.RelativeError())
		}
		for n, p := range points {
			e, err := s.FieldAt(p)
			if err != nil {
				t.Fatal(c.name, err)
			}
			sin, cos := math.Sincos(float64(n))
			numtest.Check(t, c.name+" E through the wall", (e.X*cos+e.Y*sin)/e.Norm(), 0, numtest.Tolerance{Abs: s.RelativeError()})
		}
	}
}

// A plate that reaches almost to the wall: the estimate says that it knows less.
func TestPlateNearARoundWallSaysSo(t *testing.T) {
	far, near := Plate{DiameterM: 0.4, ThicknessM: 0.02, TopM: 0.1}, Plate{DiameterM: 1.3, ThicknessM: 0.02, TopM: 0.1}
	m := Medium{WaterSPerM: 5, DepthM: 0.5, Enclosure: &Enclosure{DiameterM: 1.4}}
	st := newStack(m)
	left := func(pl Plate) float64 {
		s := &stage{st: st, near: newEchoes(st, 0.08, 0.1, 1)}
		return s.wallLeft(m, []Plate{pl}, 1)
	}
	if a, b := left(far), left(near); a > 3e-4 || b < 0.01 {
		t.Errorf("far from the wall %.2g, near it %.2g", a, b)
	}
}

func TestPlateBeyondARoundWall(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 0.5, Enclosure: &Enclosure{DiameterM: 1.4}}
	electrodes := Pair{Centre: Point{Z: 0.1}, SeparationM: 0.02}.Electrodes(1)
	for _, pl := range []Plate{
		{DiameterM: 1.4, ThicknessM: 0.01, TopM: 0.1},
		{DiameterM: 0.5, ThicknessM: 0.01, TopM: 0.1, CentreXM: 0.5},
		{SizeXM: 1, SizeYM: 1, ThicknessM: 0.01, TopM: 0.1},
	} {
		_, err := SolveOnPlates(m, []Plate{pl}, electrodes, PlateOptions{})
		if !errors.Is(err, ErrPlate) || !strings.Contains(err.Error(), "plate 1 does not fit between the walls of the tank (round, 1.4 m across)") {
			t.Errorf("%+v: %v", pl, err)
		}
	}
}
