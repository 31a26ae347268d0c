package conduction

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// One layer: k = nπ/H, ∫σZ² = σH/2. Two: σ₁ tan kh₁ + σ₂ tan kh₂ = 0. Source: by hand.
func TestStandingWavesByHand(t *testing.T) {
	one := newStack(Medium{WaterSPerM: 4, DepthM: 0.8})
	u := newStanding(one, 100)
	if len(u.k) != 25 {
		t.Errorf("%d waves up to 100/m, expected 25", len(u.k))
	}
	for n, k := range u.k {
		numtest.Check(t, "k", k, math.Pi*float64(n+1)/0.8, numtest.Tolerance{Rel: 1e-15})
		numtest.Check(t, "∫σZ²", u.norm[n], 4*0.8/2, numtest.Tolerance{Rel: 1e-13})
	}
	two := newStack(Medium{WaterSPerM: 5, DepthM: 0.8, Layers: []Layer{{0.3, 0.7}, {math.Inf(1), 0}}})
	u = newStanding(two, 200)
	if len(u.k) < 68 || len(u.k) > 72 { // 200·1.1/π = 70
		t.Errorf("%d waves up to 200/m", len(u.k))
	}
	for _, k := range u.k {
		s1, c1 := math.Sincos(k * 0.8)
		s2, c2 := math.Sincos(k * 0.3)
		numtest.Check(t, "condition", 5*s1*c2+0.7*s2*c1, 0, numtest.Tolerance{Abs: 1e-12 * (1 + k)})
	}
}

// Over random layers: each n once, in order; Z and σZ′ continuous; no slope at the ends;
// ∫σZ_mZ_n = 0. Source: Sturm and Liouville.
func TestStandingWavesInLayers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Medium{WaterSPerM: rapid.Float64Range(0.05, 8).Draw(t, "water"), DepthM: rapid.Float64Range(0.1, 2).Draw(t, "depth")}
		for range rapid.IntRange(0, 3).Draw(t, "layers") {
			m.Layers = append(m.Layers, Layer{rapid.Float64Range(0.02, 1).Draw(t, "thickness"), math.Exp(rapid.Float64Range(-7, 2).Draw(t, "ln σ"))})
		}
		m.Layers = append(m.Layers, Layer{math.Inf(1), 0})
		checkStanding(t, m)
	})
}

// Layers that differ much: the phase goes in steps, round which Newton's method alone
// ran to and fro and missed the sixth wave.
func TestStandingWavesWhereThePhaseGoesInSteps(t *testing.T) {
	checkStanding(t, Medium{WaterSPerM: 0.44921875, DepthM: 1.00396728515625, Layers: []Layer{
		{0.14080810546875, math.Exp(0.00390625)}, {0.0968017578125, math.Exp(-1.0625)}, {1, math.Exp(-5.3125)}, {math.Inf(1), 0},
	}})
}

func checkStanding(t rapid.TB, m Medium) {
	t.Helper()
	st := newStack(m)
	height := st.height()
	u := newStanding(st, 40/height)
	if len(u.k) < 12-len(st.slabs) || len(u.k) > 13+len(st.slabs) {
		t.Fatalf("%d waves up to 40 over the height, of %d layers", len(u.k), len(st.slabs))
	}
	for n, k := range u.k {
		if n > 0 && k <= u.k[n-1] {
			t.Fatalf("k falls from %g to %g", u.k[n-1], k)
		}
		_, top := u.at(n, 0, m.DepthM)
		last := len(st.slabs) - 1
		_, bottom := u.at(n, last, st.slabs[last].bottomM)
		// k, and the phase in every layer up to four times, is rounded to 1 in 2⁵³, and the phase at
		// the floor bends by that times its slope; the slope there is amp·k·sin of what is left of it.
		flux := 0.0
		for i, s := range st.slabs {
			flux = math.Max(flux, s.sigma*k*u.amp[i][n])
		}
		_, bend := u.phase(k)
		rounded := bend * k * float64(4*len(st.slabs)) * 0x1p-53
		numtest.Check(t, "slope at the top", top, 0, numtest.Tolerance{Abs: 1e-13 * k})
		numtest.Check(t, "slope at the floor", bottom, 0, numtest.Tolerance{Abs: 1e-11*flux/st.slabs[last].sigma + k*u.amp[last][n]*rounded})
		for i := range last {
			a, da := u.at(n, i, st.slabs[i].bottomM)
			b, db := u.at(n, i+1, st.slabs[i].bottomM)
			big := math.Max(u.amp[i][n], u.amp[i+1][n])
			numtest.Check(t, "Z", a, b, numtest.Tolerance{Abs: 1e-12 * big})
			numtest.Check(t, "σZ′", st.slabs[i].sigma*da, st.slabs[i+1].sigma*db, numtest.Tolerance{Abs: 1e-12 * k * big * math.Max(st.slabs[i].sigma, st.slabs[i+1].sigma)})
		}
	}
	for _, pair := range [][2]int{{0, 1}, {1, 4}, {2, 7}, {3, 3}} {
		sum := 0.0
		for i, s := range st.slabs {
			zs, ws := panel(nil, nil, s.bottomM, (s.bottomM+s.topM)/2)
			zs, ws = panel(zs, ws, (s.bottomM+s.topM)/2, s.topM)
			for q, z := range zs {
				a, _ := u.at(pair[0], i, z)
				b, _ := u.at(pair[1], i, z)
				sum += ws[q] * s.sigma * a * b
			}
		}
		want := 0.0
		if pair[0] == pair[1] {
			want = u.norm[pair[0]]
		}
		numtest.Check(t, "∫σZZ", sum, want, numtest.Tolerance{Abs: 1e-8 * math.Sqrt(u.norm[pair[0]]*u.norm[pair[1]])})
	}
}
