package conduction

import (
	"errors"
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// One kernel serves pairs of any azimuth, place and current.
func TestKernelServesEveryPairOfItsMedium(t *testing.T) {
	m := threeLayers()
	k, err := NewKernel(m, 0, 0.002, Region{RhoMaxM: 4, ZMinM: 0, ZMaxM: 2}, 1e-7)
	if err != nil {
		t.Fatal(err)
	}
	if k.Exact() || k.RelativeError() > 1e-7 || k.RelativeError() <= 0 {
		t.Errorf("exact %v, measured error %g; expected a table within 1e-7", k.Exact(), k.RelativeError())
	}
	for _, pair := range []Pair{
		{Centre: Point{0.4, 0.4, 0}, SeparationM: 0.01, DiameterM: 0.002},
		{Centre: Point{-0.4, 0.1, 0}, AzimuthDeg: 77, SeparationM: 0.05, DiameterM: 0.002},
	} {
		electrodes := pair.Electrodes(8e-6)
		f, err := NewFastField(electrodes, k)
		if err != nil {
			t.Fatal(err)
		}
		s := mustSolve(t, m, electrodes...)
		for _, p := range []Point{{0.5, 0.3, 0.02}, {0, 0, 0}, {1.5, -1, 1.9}, {0.1, 0.2, 2}, {9, 0, 1}, {0.2, 0.2, -0.4}} {
			want := mustField(t, s, p)
			e, err := f.FieldAt(p)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "|δE|/|E|", e.Add(want.Scale(-1)).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 3e-7})
		}
	}
}

func TestKernelsThatDoNotFit(t *testing.T) {
	region := Region{RhoMaxM: 1, ZMinM: 0, ZMaxM: 1}
	k, err := NewKernel(threeLayers(), 0, 0, region, 0)
	if err != nil {
		t.Fatal(err)
	}
	other := threeLayers()
	other.DepthM = 3
	k2, err := NewKernel(other, 0.1, 0, region, 0)
	if err != nil {
		t.Fatal(err)
	}
	pair := Pair{SeparationM: 0.01}.Electrodes(1)
	if _, err := NewFastField(pair, k, k2); !errors.Is(err, ErrMedium) {
		t.Errorf("kernels of two media: %v", err)
	}
	if _, err := NewFastField(Pair{Centre: Point{Z: 0.2}, SeparationM: 0.01}.Electrodes(1), k); !errors.Is(err, ErrElectrode) {
		t.Errorf("no kernel for the height: %v", err)
	}
	if _, err := NewFastField(pair); !errors.Is(err, ErrElectrode) {
		t.Errorf("no kernels: %v", err)
	}
	tank := Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 2}}
	if _, err := NewKernel(tank, 0, 0, region, 0); !errors.Is(err, ErrNotYet) {
		t.Errorf("kernel in a tank: %v", err)
	}
	for _, r := range []Region{{0, 0, 1}, {1, 1, 0}, {math.NaN(), 0, 1}, {1, 0, math.Inf(1)}} {
		if _, err := NewKernel(threeLayers(), 0, 0, r, 0); !errors.Is(err, ErrMedium) {
			t.Errorf("region %+v: %v", r, err)
		}
	}
}

// In a tank the full calculation answers outside the region asked for, and
// refuses what it refuses.
func TestFastInATankOutsideItsRegion(t *testing.T) {
	s := mustSolve(t, Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 2}}, Pair{SeparationM: 0.01}.Electrodes(1)...)
	f, err := s.Fast(Region{1, 0, 0.5}, 0)
	if err != nil {
		t.Fatal(err)
	}
	p := Point{0.3, 0.2, 0.7}
	if got, err := f.FieldAt(p); err != nil || got != mustField(t, s, p) {
		t.Errorf("%v, %v; expected the solution's own field", got, err)
	}
	for _, p := range []Point{{1.1, 0, 0.1}, {0, 0, -0.1}, {0.005, 0, 0}, {math.NaN(), 0, 0.1}} {
		if got, err := f.FieldAt(p); err == nil {
			t.Errorf("at %v: %v; expected an error", p, got)
		}
	}
}

// A table of one height, and one that reaches into the sediment.
func TestTableOfOneHeightAndOfSeveralLayers(t *testing.T) {
	s := mustSolve(t, threeLayers(), Pair{SeparationM: 0.01}.Electrodes(1e-5)...)
	for _, r := range []Region{{3, 0.1, 0.1}, {3, -1.4, 2}} {
		f, err := s.Fast(r, 1e-6)
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range []float64{0.1, 0.1, -0.2, -1, -1.3} {
			if z < r.ZMinM {
				continue
			}
			p := Point{0.7, -0.3, z}
			want := mustField(t, s, p)
			e, err := f.FieldAt(p)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "|δE|/|E|", e.Add(want.Scale(-1)).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-6})
		}
	}
}

func TestKeyTellsMediaApartByRatios(t *testing.T) {
	m := threeLayers()
	twice := threeLayers()
	twice.WaterSPerM *= 2
	for i := range twice.Layers {
		twice.Layers[i].SPerM *= 2
	}
	other := threeLayers()
	other.DepthM = 2.1
	if m.Key() != twice.Key() || m.Key() == other.Key() {
		t.Errorf("keys %q, %q (all conductivities doubled), %q (deeper)", m.Key(), twice.Key(), other.Key())
	}
	pair := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	p := Point{0.3, 0.1, 0.2}
	numtest.Check(t, "field of the doubled medium", mustField(t, mustSolve(t, twice, pair...), p).X,
		mustField(t, mustSolve(t, m, pair...), p).X/2, numtest.Tolerance{Rel: 1e-12})
}

// The quadrature that takes over far away, against far more images than are
// ever used.
func TestFarQuadratureAgreesWithManyImages(t *testing.T) {
	for _, m := range []Medium{
		{WaterSPerM: 5, DepthM: 2.3, Layers: []Layer{{0.37, 1}, {1.1, 2}, {math.Inf(1), 1e-3}}},
		{WaterSPerM: 5, DepthM: 1, Layers: nil},
		{WaterSPerM: 0.05, DepthM: 1.3, Layers: []Layer{{0.2, 0.001}, {math.Inf(1), 0.3}}},
	} {
		st := newStack(m)
		few, many := newSource(st, 0.01, 0), newSource(st, 0.01, 0)
		few.limit, many.limit = 20, 12000
		for _, rho := range []float64{1, 4, 8} {
			for _, z := range []float64{0, 0.3, 1} {
				if _, far := few.expansionAt(0, rho*rho, z); !far && rho > 3 {
					t.Fatalf("the quadrature was not put to the test at %g m", rho)
				}
				u, v := many.unitAt(0, rho*rho, z), few.unitAt(0, rho*rho, z)
				d := math.Hypot((u.rho-v.rho)*rho, u.z-v.z) / math.Hypot(u.rho*rho, u.z)
				numtest.Check(t, "|δE|/|E|", d, 0, numtest.Tolerance{Abs: 1e-11})
				numtest.Check(t, "φ", v.pot, u.pot, numtest.Tolerance{Rel: 1e-11, Abs: 1e-12})
			}
		}
	}
}
