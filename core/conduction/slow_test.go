package conduction

import (
	"errors"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
)

// 503.29/√(σf) m, and its values at 4 and 5 S/m. Sources: an oil-industry
// glossary's formula; Hayt and Buck, Engineering Electromagnetics, 8th edition, p. 391 (sea
// water of 4 S/m: 0.25 m at 1 MHz, 80 m at 10 Hz); the rest recomputed from the formula.
func TestSkinDepth(t *testing.T) {
	for _, c := range []struct{ f, sigma, want, rel float64 }{
		{1, 1, 503.29, 1e-5},
		{1e6, 4, 0.25, 0.01},
		{10, 4, 80, 0.01},
		{10, 4, 79.577, 1e-5},
		{1, 4, 251.646, 1e-5},
		{100, 4, 25.1646, 1e-5},
		{1, 5, 225.079, 1e-5},
		{50, 5, 31.8310, 1e-5},
		{60, 5, 29.0576, 1e-5},
		{1000, 5, 7.11762, 1e-5},
	} {
		numtest.Check(t, "skin depth", SkinDepthM(c.f, c.sigma), c.want, numtest.Tolerance{Rel: c.rel})
	}
	if d := SkinDepthM(0, 5); !math.IsInf(d, 1) {
		t.Errorf("of a steady current %g m; expected no end", d)
	}
	// Hayt and Buck, ibid.: a loss tangent of 890 at 1 MHz, 4 S/m, with 81; recomputed at 1 kHz with 80.
	numtest.Check(t, "loss tangent", 1/DisplacementRatio(1e6, 4, 81), 8.9e2, numtest.Tolerance{Rel: 0.005})
	numtest.Check(t, "displacement", DisplacementRatio(1e3, 4, 80), 1.1127e-6, numtest.Tolerance{Rel: 1e-4})
}

// At a tenth of the skin depth the radial factor is 0.06 % weaker and 0.5° late
// (both as rounded towards 0, from the project's list of check values), and the change
// at both ends follows the first terms of the series by hand: −x²/2 and +x²/2.
func TestHarmonicFactorsNearTheDipole(t *testing.T) {
	radial, _ := HarmonicFactors(0.1)
	numtest.Check(t, "amplitude, %", 100*(cmplx.Abs(radial)-1), -0.06, numtest.Tolerance{Abs: 0.01})
	numtest.Check(t, "phase, degrees", cmplx.Phase(radial)*180/math.Pi, -0.5, numtest.Tolerance{Abs: 0.05})
	a, b := HarmonicFactors(0)
	if a != 1 || b != 1 {
		t.Errorf("at the dipole %v and %v; expected 1", a, b)
	}
	for _, q := range []float64{1e-9, 1e-6, 1e-4, 1e-3} {
		a, b := harmonicChange(q)
		numtest.Check(t, "radial change", imag(a), -q*q, numtest.Tolerance{Rel: 1.5 * q})
		numtest.Check(t, "transverse change", imag(b), q*q, numtest.Tolerance{Rel: 3 * q})
	}
	if a, b := harmonicChange(1e9); a != -1 || b != -1 {
		t.Errorf("far away %v and %v; expected −1: nothing arrives", a, b)
	}
}

// Series and closed form meet where one takes over from the other, and the
// series agrees with one of many terms in a plain sum, at either side.
func TestHarmonicChangeAgainstPlainSeries(t *testing.T) {
	for _, q := range []float64{0.01, 0.1, 0.3, 0.5, 0.5000001, 0.8, 1.5} {
		x := complex(q, q)
		var radial, transverse complex128
		power, factorial := complex(1, 0), 1.0 // (−x)ⁿ and n!
		for n := range 60 {
			if n > 0 {
				power *= -x
				factorial *= float64(n)
			}
			term := power / complex(factorial, 0)
			radial += term + x*term
			transverse += term + x*term + x*x*term
		}
		a, b := harmonicChange(q)
		if off := cmplx.Abs(a - (radial - 1)); off > 1e-15+1e-14*cmplx.Abs(a) {
			t.Errorf("radial at %g: off by %g", q, off)
		}
		if off := cmplx.Abs(b - (transverse - 1)); off > 1e-15+1e-14*cmplx.Abs(b) {
			t.Errorf("transverse at %g: off by %g", q, off)
		}
	}
}

// The field obeys Maxwell's equations without displacement currents off the
// dipole: div E = 0 and ∇²E = γ²E, by central differences of the fourth order.
func TestHarmonicFieldObeysMaxwell(t *testing.T) {
	gamma := complex(1, 1) // δ = 1
	field := func(p [3]float64) (e [3]complex128) {
		r := math.Sqrt(p[0]*p[0] + p[1]*p[1] + p[2]*p[2])
		radial, transverse := HarmonicFactors(r)
		for k := range e { // dipole along z: E_r r̂ + E_θ θ̂ with cosθ r̂ − ẑ = sinθ θ̂
			along, rhat := 0.0, p[k]/r
			if k == 2 {
				along = 1
			}
			c := p[2] / r
			e[k] = complex(2*c*rhat/(r*r*r), 0)*radial + complex((c*rhat-along)/(r*r*r), 0)*transverse
		}
		return e
	}
	const h = 2e-3
	first := map[int]float64{-2: 1. / 12, -1: -2. / 3, 1: 2. / 3, 2: -1. / 12}
	second := map[int]float64{-2: -1. / 12, -1: 4. / 3, 0: -5. / 2, 1: 4. / 3, 2: -1. / 12}
	for _, p := range [][3]float64{{0.3, 0.1, 0.2}, {0.5, -0.4, 0.9}, {1, 1, 0}, {0.1, 0, 1.6}} {
		var div complex128
		var lap [3]complex128
		here := field(p)
		size := math.Sqrt(cmplx.Abs(here[0])*cmplx.Abs(here[0]) + cmplx.Abs(here[1])*cmplx.Abs(here[1]) + cmplx.Abs(here[2])*cmplx.Abs(here[2]))
		for axis := range 3 {
			for _, step := range []int{-2, -1, 0, 1, 2} {
				q := p
				q[axis] += float64(step) * h
				e := field(q)
				div += complex(first[step]/h, 0) * e[axis]
				for k := range lap {
					lap[k] += complex(second[step]/(h*h), 0) * e[k]
				}
			}
		}
		if cmplx.Abs(div) > 1e-6*size {
			t.Errorf("at %v: div E = %v beside |E| = %g", p, div, size)
		}
		for k := range lap {
			if off := cmplx.Abs(lap[k] - gamma*gamma*here[k]); off > 1e-5*size {
				t.Errorf("at %v, component %d: ∇²E − γ²E = %g beside |E| = %g", p, k, off, size)
			}
		}
	}
}

// The change grows up to its peak, and is the largest there.
func TestLargestChangeNeverFalls(t *testing.T) {
	last := 0.0
	for q := 0.001; q < 30; q += 0.001 {
		now := LargestChange(q)
		if now < last {
			t.Fatalf("at %g skin depths %.12g after %.12g", q, now, last)
		}
		last = now
		a, b := harmonicChange(q)
		if size := math.Max(cmplx.Abs(a), cmplx.Abs(b)); size > now*(1+1e-9) {
			t.Fatalf("at %g skin depths %.12g, above the largest, %.12g", q, size, now)
		}
	}
	for _, share := range []float64{1e-6, 0.01, 0.1, 0.5, 0.999} {
		q, err := StaticTo(share)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "change at the end of the steady field", LargestChange(q), share, numtest.Tolerance{Rel: 1e-12})
	}
	// By the series the change is q² to within 4q/3 of itself: 1 % at about a tenth.
	q, _ := StaticTo(0.01)
	numtest.Check(t, "1 % in skin depths", q, 0.1, numtest.Tolerance{Rel: 0.07})
}

// Peak, r.m.s. and mean against the course in time, summed over a period.
func TestStrengthIsThatOfTheCourse(t *testing.T) {
	const peak, steps = -6e-6, 100000
	for name, c := range map[string]struct {
		w  Waveform
		at func(phase float64) float64
	}{
		"direct":        {Waveform{Kind: WaveDirect}, func(float64) float64 { return 1 }},
		"sine":          {Waveform{Kind: WaveSine, FrequencyHz: 3}, func(x float64) float64 { return math.Sin(2 * math.Pi * x) }},
		"square":        {Waveform{Kind: WaveSquare, FrequencyHz: 3}, func(x float64) float64 { return math.Copysign(1, 0.5-x) }},
		"uneven square": {Waveform{Kind: WaveSquare, FrequencyHz: 3, Duty: 0.2}, func(x float64) float64 { return math.Copysign(1, 0.2-x) }},
		"pulses":        {Waveform{Kind: WavePulses, FrequencyHz: 3, Duty: 0.2}, func(x float64) float64 { return (math.Copysign(1, 0.2-x) + 1) / 2 }},
	} {
		var sum, squares float64
		for k := range steps {
			i := peak * c.at((float64(k)+0.5)/steps)
			sum, squares = sum+i/steps, squares+i*i/steps
		}
		c.w.PeakA = peak
		got := c.w.Strength()
		numtest.Check(t, name+": mean", got.MeanA, sum, numtest.Tolerance{Rel: 1e-9, Abs: 1e-15})
		numtest.Check(t, name+": r.m.s.", got.RMSA, math.Sqrt(squares), numtest.Tolerance{Rel: 1e-9})
		if got.PeakA != peak {
			t.Errorf("%s: peak %g A; expected %g", name, got.PeakA, peak)
		}
	}
}

// The highest frequency that matters against a direct Fourier sum of the course in
// time: below it lies 99 % of the changing current's power, without its last harmonic less.
func TestHighestFrequencyHolds99Percent(t *testing.T) {
	for _, w := range []Waveform{
		{Kind: WaveSquare, FrequencyHz: 5},
		{Kind: WaveSquare, FrequencyHz: 5, Duty: 0.7},
		{Kind: WavePulses, FrequencyHz: 2, Duty: 0.1},
		{Kind: WavePulses, FrequencyHz: 2, Duty: 0.9},
	} {
		d, steps := w.duty(), 20000
		on := int(math.Round(d * float64(steps)))
		total := d * (1 - d) // of pulses of height 1; a square wave is twice as high and shifted
		share := func(harmonics int) float64 {
			sum := 0.0
			for n := 1; n <= harmonics; n++ {
				var c complex128
				for k := range on {
					c += cmplx.Exp(complex(0, -2*math.Pi*float64(n)*(float64(k)+0.5)/float64(steps))) / complex(float64(steps), 0)
				}
				sum += 2 * real(c*cmplx.Conj(c))
			}
			return sum / total
		}
		n := int(math.Round(w.HighestHz() / w.FrequencyHz))
		if with, without := share(n), share(n-1); with < 0.99-1e-6 || without >= 0.99+1e-6 {
			t.Errorf("%+v: %d harmonics hold %.6f, %d hold %.6f; expected 0.99 between", w, n, with, n-1, without)
		}
	}
	// An even square wave has 8/(π²n²) in each odd harmonic (Fourier): 41 of them.
	if got := (Waveform{Kind: WaveSquare, FrequencyHz: 5}).HighestHz(); got != 205 {
		t.Errorf("even square wave of 5 Hz: %g Hz; expected 205", got)
	}
	// A short pulse has ∫sinc² for its spectrum, of which 99 % lies below 10.3/w (1/(π²u) beyond u, so about 10).
	for _, duty := range []float64{1e-3, 1e-4, 1e-7, 1 - 1e-4} {
		w := Waveform{Kind: WavePulses, FrequencyHz: 1, Duty: duty}
		numtest.Check(t, "highest frequency × length", w.HighestHz()*math.Min(duty, 1-duty), 10.29, numtest.Tolerance{Rel: 2e-3})
		numtest.Check(t, "corner × length", w.CornerHz()*math.Min(duty, 1-duty), 1/math.Pi, numtest.Tolerance{Rel: 1e-12})
	}
}

// 0.5 m in water of 5 S/m is a tenth of a skin depth at about 2.03 kHz (the project's
// list of check values): a sine there has changed by 1 %.
func TestSlowness(t *testing.T) {
	s, err := Waveform{Kind: WaveSine, FrequencyHz: 2026.4, PeakA: 1e-5}.Slowness(5, 0.5, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "skin depth", s.SkinDepthM, 5, numtest.Tolerance{Rel: 1e-4})
	numtest.Check(t, "change", s.LargestChange, 0.01, numtest.Tolerance{Rel: 0.15})
	numtest.Check(t, "steady to", s.StaticToM, 0.5, numtest.Tolerance{Rel: 0.07})
	numtest.Check(t, "displacement", s.DisplacementRatio, 2*math.Pi*2026.4*8.854e-12*80/5, numtest.Tolerance{Rel: 1e-4})
	if s.ChangeAtCorner != s.LargestChange || s.CornerHz != 2026.4 || s.HighestHz != 2026.4 {
		t.Errorf("a sine has one frequency: %+v", s)
	}
	// Pulses of 1 ms ten times a second: harmonics up to 10 kHz count, ten pulses a second or not.
	p, err := Waveform{Kind: WavePulses, FrequencyHz: 10, Duty: 0.01, PeakA: 1e-5}.Slowness(5, 0.5, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "corner", p.CornerHz, 1000/math.Pi, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "highest", p.HighestHz, 10300, numtest.Tolerance{Rel: 0.01})
	if p.LargestChange <= p.ChangeAtCorner || p.LargestChange < 0.03 || p.StaticToM >= 0.5 {
		t.Errorf("pulses: %+v", p)
	}
	d, err := Waveform{PeakA: 1}.Slowness(5, 100, 0.01)
	if err != nil || d.LargestChange != 0 || d.ChangeAtCorner != 0 || d.DisplacementRatio != 0 || !math.IsInf(d.SkinDepthM, 1) || !math.IsInf(d.StaticToM, 1) {
		t.Errorf("a steady current is steady everywhere: %+v, %v", d, err)
	}
}

func TestBadWaveforms(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	sine := Waveform{Kind: WaveSine, FrequencyHz: 5, PeakA: 1}
	for _, c := range []struct {
		name                   string
		w                      Waveform
		sigma, distance, share float64
		says                   string
	}{
		{"kind", Waveform{Kind: 9}, 5, 1, 0.01, "kind 9"},
		{"direct with a frequency", Waveform{FrequencyHz: 3}, 5, 1, 0.01, "3 Hz"},
		{"direct with a duty", Waveform{Duty: 0.5}, 5, 1, 0.01, "duty of 0.5"},
		{"no frequency", Waveform{Kind: WaveSine}, 5, 1, 0.01, "0 Hz"},
		{"NaN frequency", Waveform{Kind: WaveSquare, FrequencyHz: nan}, 5, 1, 0.01, "NaN Hz"},
		{"endless frequency", Waveform{Kind: WaveSquare, FrequencyHz: inf}, 5, 1, 0.01, "+Inf Hz"},
		{"sine with a duty", Waveform{Kind: WaveSine, FrequencyHz: 1, Duty: 0.5}, 5, 1, 0.01, "duty of 0.5"},
		{"pulses without a duty", Waveform{Kind: WavePulses, FrequencyHz: 1}, 5, 1, 0.01, "duty of 0"},
		{"pulses without an end", Waveform{Kind: WavePulses, FrequencyHz: 1, Duty: 1}, 5, 1, 0.01, "duty of 1"},
		{"negative duty", Waveform{Kind: WaveSquare, FrequencyHz: 1, Duty: -0.1}, 5, 1, 0.01, "duty of -0.1"},
		{"NaN duty", Waveform{Kind: WavePulses, FrequencyHz: 1, Duty: nan}, 5, 1, 0.01, "duty of NaN"},
		{"NaN peak", Waveform{PeakA: nan}, 5, 1, 0.01, "peak of NaN"},
		{"radio", Waveform{Kind: WaveSine, FrequencyHz: 1e300}, 5, 1, 0.01, "1e+300 Hz count"},
		{"pulses of no length", Waveform{Kind: WavePulses, FrequencyHz: 1, Duty: 5e-324}, 5, 1, 0.01, "+Inf Hz count"},
		{"no conductivity", sine, 0, 1, 0.01, "0 S/m"},
		{"NaN conductivity", sine, nan, 1, 0.01, "NaN S/m"},
		{"no distance", sine, 5, 0, 0.01, "0 m"},
		{"endless distance", sine, 5, inf, 0.01, "+Inf m"},
		{"no share", sine, 5, 1, 0, "share of 0"},
		{"all of it", sine, 5, 1, 1, "share of 1"},
		{"NaN share", sine, 5, 1, nan, "share of NaN"},
	} {
		_, err := c.w.Slowness(c.sigma, c.distance, c.share)
		if !errors.Is(err, ErrWave) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; expected %q", c.name, err, c.says)
		}
	}
	// What is extreme but allowed stays finite.
	for _, w := range []Waveform{{Kind: WavePulses, FrequencyHz: 1e-300, Duty: 1e-12}, {Kind: WaveSine, FrequencyHz: 1e9}, {Kind: WaveSquare, FrequencyHz: 1e-300}} {
		s, err := w.Slowness(5, 1e6, 0.01)
		if err != nil || !finite(s.LargestChange, s.StaticToM, s.SkinDepthM, s.DisplacementRatio, s.ChangeAtCorner) {
			t.Errorf("%+v: %+v, %v", w, s, err)
		}
	}
}
