package exposure

import (
	"errors"
	"math"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

func waterOf(s *study.Study, w TrialWater) []TrialWater {
	out := make([]TrialWater, len(s.Trials))
	for i := range out {
		out[i] = w
	}
	return out
}

// Season A through the whole engine. Source: testdata/check/season-a.md.
func TestSeasonAThroughTheFieldEngine(t *testing.T) {
	s := seasonA(t)
	f, err := NewFields(s, waterOf(s, TrialWater{WaterSPerM: 4.31, DepthM: 0.9}), FieldOptions{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := Compute(s, f, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i, w := range expectedSeasonA(t) {
		g := &got[i]
		for _, q := range []struct {
			name string
			got  float64
			want *float64
		}{{"low", g.Low, w.Low}, {"high", g.High, w.High}, {"phantom low", g.PhantomLow, w.PhantomLow}, {"phantom high", g.PhantomHigh, w.PhantomHigh}} {
			if q.want != nil {
				numtest.Check(t, w.Pass+" "+q.name, q.got*1e7, *q.want, numtest.Tolerance{Rel: 1e-5})
				if *q.want > 0 {
					worst = math.Max(worst, math.Abs(q.got*1e7 / *q.want - 1))
				}
			}
		}
	}
	t.Logf("largest relative difference %.2g", worst)
}

// Every kind of bottom, with and without walls, against the engine asked
// directly; trials at two depths keep their own water.
func TestNewFieldsAgreesWithTheEngine(t *testing.T) {
	for _, c := range []struct {
		name   string
		bottom study.Bottom
		layers func(w TrialWater) []conduction.Layer
		tank   bool
	}{
		{name: "insulating"},
		{name: "sediment", bottom: study.Bottom{Kind: study.BottomSediment}, layers: func(w TrialWater) []conduction.Layer {
			return []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: w.BottomSPerM}}
		}},
		{name: "sand on rock", bottom: study.Bottom{Kind: study.BottomSediment, ThicknessM: study.Some(0.7), BasementSPerM: study.Some(0.01)}, layers: func(w TrialWater) []conduction.Layer {
			return []conduction.Layer{{ThicknessM: 0.7, SPerM: w.BottomSPerM}, {ThicknessM: math.Inf(1), SPerM: 0.01}}
		}},
		{name: "tank", tank: true},
	} {
		w := newWorld(t)
		w.s.Bottom = c.bottom
		w.s.Pairs[1].ElectrodeDiameterM, w.s.Pairs[1].HeightM = 0.004, 0.02
		m := conduction.Medium{}
		if c.tank {
			w.s.Enclosure = &study.Enclosure{SizeXM: 3, SizeYM: 2, CentreXM: 0.3}
			m.Enclosure = &conduction.Enclosure{SizeXM: 3, SizeYM: 2, CentreXM: 0.3}
		}
		w.swim("0 40 30 8, 1 -30 -20 4")
		water := waterOf(w.s, TrialWater{WaterSPerM: 4, BottomSPerM: 1.1, DepthM: 1.5})
		water[1] = TrialWater{WaterSPerM: 4.2, BottomSPerM: 1.2, DepthM: 2.5}
		water[2] = TrialWater{WaterSPerM: 6, BottomSPerM: 1.65, DepthM: 1.5} // the first, half as conductive again
		f, err := NewFields(w.s, water, FieldOptions{})
		if err != nil {
			t.Fatal(c.name, err)
		}
		for trial := range 3 {
			m.WaterSPerM, m.DepthM = water[trial].WaterSPerM, water[trial].DepthM
			if c.layers != nil {
				m.Layers = c.layers(water[trial])
			}
			for pair, p := range w.s.Pairs {
				solved, err := conduction.Solve(m, conduction.Pair{
					Centre:     conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM},
					AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
				}.Electrodes(1), conduction.Options{})
				if err != nil {
					t.Fatal(c.name, err)
				}
				for _, at := range []vec{{0.3, 0.2, 0.05}, {-0.25, 0.1, 0.08}, {0.05, -0.04, 0.01}, {0.4, -0.3, 0.3}} {
					want, err := solved.FieldAt(conduction.Point{X: at.x, Y: at.y, Z: at.z})
					if err != nil {
						t.Fatal(err)
					}
					ex, ey, ez := f.Pair(trial, pair).At(at.x, at.y, at.z)
					off := vec{ex - want.X, ey - want.Y, ez - want.Z}.length()
					numtest.Check(t, c.name+": |δE|/|E|", off/want.Norm(), 0, numtest.Tolerance{Abs: 2e-6})
				}
			}
		}
	}
}

func TestNewFieldsRefuses(t *testing.T) {
	good := TrialWater{WaterSPerM: 4, DepthM: 2}
	for _, c := range []struct {
		name   string
		change func(s *study.Study, water []TrialWater) []TrialWater
		is     error
	}{
		{"a trial without water", func(_ *study.Study, w []TrialWater) []TrialWater { return w[1:] }, nil},
		{"fresh air", func(_ *study.Study, w []TrialWater) []TrialWater { w[2].WaterSPerM = 0; return w }, nil},
		{"dry land", func(_ *study.Study, w []TrialWater) []TrialWater { w[2].DepthM = math.NaN(); return w }, nil},
		{"a bottom of −1 S/m", func(s *study.Study, w []TrialWater) []TrialWater {
			s.Bottom.Kind, w[0].BottomSPerM = study.BottomSediment, -1
			return w
		}, nil},
		{"a pair above the surface", func(s *study.Study, w []TrialWater) []TrialWater { s.Pairs[0].HeightM = 3; return w }, conduction.ErrOutside},
	} {
		w := newWorld(t)
		_, err := NewFields(w.s, c.change(w.s, waterOf(w.s, good)), FieldOptions{})
		if err == nil || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
}
