package inference

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// drawPasses draws a table of every kind of pass.
func drawPasses(t *rapid.T, fewest, most int) []DetectionRow {
	rows := make([]DetectionRow, rapid.IntRange(fewest, most).Draw(t, "n"))
	for i := range rows {
		field := func(name string) float64 {
			if rapid.IntRange(0, 4).Draw(t, "no field") == 0 {
				return 0
			}
			return math.Exp(rapid.Float64Range(-3, 6).Draw(t, name))
		}
		r := DetectionRow{
			Cluster: rapid.StringMatching(`[a-h]`).Draw(t, "cluster"), Identified: true,
			Low: field("low"), WatchedS: rapid.Float64Range(0.5, 5).Draw(t, "watched"),
		}
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0, 1:
		case 2:
			r.Turned, r.Onset, r.High = true, true, field("high") // may be falling
		case 3:
			r.Turned, r.Onset, r.High = true, true, r.Low*math.Exp(rapid.Float64Range(0.01, 3).Draw(t, "rise"))
		case 4:
			r.Turned, r.High = true, field("high")
		}
		if r.Onset {
			r.OnsetBeforeS = rapid.Float64Range(0, 3).Draw(t, "before")
			r.OnsetS = r.OnsetBeforeS + rapid.Float64Range(0.04, 0.5).Draw(t, "window")
		}
		rows[i] = r
	}
	return rows
}

func drawPoint(t *rapid.T) [detectionSize]float64 {
	return [detectionSize]float64{
		rapid.Float64Range(-5, 3).Draw(t, "logit lapse"), rapid.Float64Range(-7, 1).Draw(t, "ln h"),
		rapid.Float64Range(-1, 5).Draw(t, "mu"), rapid.Float64Range(-1.5, 1).Draw(t, "ln sigma"),
	}
}

// The definition, written out as it stands: S(x) = lapse + (1 − lapse)(1 − F).
func plainLogLikelihood(rows []DetectionRow, x [detectionSize]float64) float64 {
	lapse, h, mu, sigma := 1/(1+math.Exp(-x[0])), math.Exp(x[1]), x[2], math.Exp(x[3])
	s := func(field float64) float64 {
		return lapse + (1-lapse)*0.5*math.Erfc((math.Log(field)-mu)/sigma/math.Sqrt2)
	}
	sum := 0.0
	for _, r := range rows {
		switch {
		case r.Onset:
			sum += math.Log(math.Exp(-h*r.OnsetBeforeS)*s(r.Low) - math.Exp(-h*r.OnsetS)*s(math.Max(r.Low, r.High)))
		case r.Turned:
			sum += math.Log(1 - math.Exp(-h*r.WatchedS)*s(r.High))
		default:
			sum += math.Log(math.Exp(-h*r.WatchedS) * s(r.Low))
		}
	}
	return sum
}

func TestDetectionLikelihoodIsTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawPasses(t, 1, 30)
		x := drawPoint(t)
		p := newDetectionProblem(rows)
		// The plain form cancels; 1e-9 is what it keeps.
		numtest.Check(t, "log-likelihood", p.value(x), plainLogLikelihood(rows, x), numtest.Tolerance{Rel: 1e-9, Abs: 1e-9})
	})
}

func TestDetectionDerivatives(t *testing.T) {
	all := []int{atLapse, atSpontaneous, atMu, atSigma}
	rapid.Check(t, func(t *rapid.T) {
		p := newDetectionProblem(drawPasses(t, 1, 20))
		at := func(x [detectionSize]float64) (float64, []float64, *mat.SymDense) {
			g, h := make([]float64, 4), mat.NewSymDense(4, nil)
			return p.at(x, all, g, h), g, h
		}
		x := drawPoint(t)
		value, gradient, hessian := at(x)
		const step = 1e-5
		for i := range x {
			up, down := x, x
			up[i] += step
			down[i] -= step
			valueUp, gradientUp, _ := at(up)
			valueDown, gradientDown, _ := at(down)
			scale := 1 + math.Abs(value)
			numtest.Check(t, "score", gradient[i], (valueUp-valueDown)/(2*step), numtest.Tolerance{Abs: 1e-8 * scale, Rel: 1e-6})
			for j := range x {
				numtest.Check(t, "second derivative", hessian.At(i, j), (gradientUp[j]-gradientDown[j])/(2*step), numtest.Tolerance{Abs: 2e-8 * scale, Rel: 1e-6})
			}
		}
	})
}

// Exact rows are the limit of narrow intervals without spontaneous turns, per
// unit of field.
func TestDetectionExactRow(t *testing.T) {
	x := [detectionSize]float64{-2, math.Inf(-1), 2, -0.5}
	exact := newDetectionProblem([]DetectionRow{{Cluster: "a", Turned: true, Exact: true, Low: 9, High: 9, WatchedS: 2}})
	const width = 1e-4
	narrow := newDetectionProblem([]DetectionRow{{Cluster: "a", Turned: true, Onset: true, Low: 9 - width/2, High: 9 + width/2, OnsetS: 1}})
	numtest.Check(t, "density", exact.value(x), narrow.value(x)-math.Log(width), numtest.Tolerance{Abs: 1e-8})
}

// On the boundaries the value is the limit of the interior, −∞ included.
func TestDetectionLikelihoodAtBoundaries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := newDetectionProblem(drawPasses(t, 1, 20))
		x := drawPoint(t)
		x[atSigma] = 0.7 // tails that a lapse of e⁻⁶⁰ cannot match
		for i, name := range []string{"no lapse", "no spontaneous turns"} {
			near, on := x, x
			near[i], on[i] = -60, math.Inf(-1)
			want, got := p.value(near), p.value(on)
			if math.IsInf(got, -1) {
				if want > -40 {
					t.Fatalf("%s: −∞, but %g beside it", name, want)
				}
				continue
			}
			numtest.Check(t, name, got, want, numtest.Tolerance{Abs: 1e-9, Rel: 1e-9})
		}
	})
}

// A scan gives the likelihood of a single threshold: check it against the
// model with next to no spread, in the best cell and in 200 other places.
func TestStepScan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := newDetectionProblem(drawPasses(t, 1, 25))
		x := drawPoint(t)
		scan := p.scanStep(x)
		x[atSigma] = -25
		x[atMu] = scan.middle()
		if scan.high-scan.low > 1e-6 {
			numtest.Check(t, "value in the best cell", p.value(x), scan.value, numtest.Tolerance{Rel: 1e-9, Abs: 1e-9})
		}
		for k := range 200 {
			x[atMu] = -4 + 0.05*float64(k) + 1e-3
			if v := p.value(x); v > scan.value+1e-9*(1+math.Abs(v)) {
				t.Fatalf("threshold at exp(%g): %g, better than the best, %g", x[atMu], v, scan.value)
			}
		}
	})
}
