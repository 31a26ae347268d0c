package exposure

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// The banded spline against the dense conditional expectation of an integrated
// Wiener process with free start and velocity: the generalised least squares
// fit of a line plus the kriged remainder, at uneven times.
func TestSplineIsTheConditionalExpectation(t *testing.T) {
	times := []float64{0, 0.08, 0.2, 0.24, 0.5, 0.51, 0.9, 1.6}
	y := []float64{0.31, 0.28, 0.25, 0.27, 0.11, 0.13, -0.02, -0.4}
	for _, c := range []struct{ q, r float64 }{{0.02, 1e-4}, {5, 1e-4}, {1e-6, 4e-4}, {300, 1e-6}} {
		got := newSplineBands(times).spline(c.q, c.r, y)
		want := denseSmoother(times, y, c.q, c.r)
		for i := range y {
			numtest.Check(t, "smoothed", got[i], want[i], numtest.Tolerance{Abs: 1e-9})
		}
	}
}

// denseSmoother: cov(x(s), x(t)) of the process started at rest is
// q·s²(3t − s)/6 for s ≤ t.
func denseSmoother(t, y []float64, q, r float64) []float64 {
	n := len(t)
	k, v := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil)
	x := mat.NewDense(n, 2, nil)
	for i := range n {
		x.SetRow(i, []float64{1, t[i]})
		for j := range n {
			a, b := math.Min(t[i], t[j]), math.Max(t[i], t[j])
			k.Set(i, j, q*a*a*(3*b-a)/6)
			v.Set(i, j, k.At(i, j))
		}
		v.Set(i, i, v.At(i, i)+r)
	}
	var vx, vy, xvx, xvy, beta, fit, rest, vr, out mat.Dense
	col := mat.NewDense(n, 1, y)
	_ = vx.Solve(v, x)
	_ = vy.Solve(v, col)
	xvx.Mul(x.T(), &vx)
	xvy.Mul(x.T(), &vy)
	_ = beta.Solve(&xvx, &xvy)
	fit.Mul(x, &beta)
	rest.Sub(col, &fit)
	_ = vr.Solve(v, &rest)
	out.Mul(k, &vr)
	out.Add(&out, &fit)
	return mat.Col(nil, 0, &out)
}

// Exact straight swimming stays as it is, and too few rows are left alone.
func TestSmoothingLeavesAStraightLine(t *testing.T) {
	var rows []row
	for i := range 20 {
		at := 0.08 * float64(i)
		rows = append(rows, row{t: at, x: 0.3 - 0.2*at, y: 0.1 + 0.15*at, z: 0.05, zKnown: true})
	}
	before := append([]row(nil), rows...)
	smooth(rows, 0.004)
	for i := range rows {
		numtest.Check(t, "x", rows[i].x, before[i].x, numtest.Tolerance{Abs: 1e-12})
		numtest.Check(t, "y", rows[i].y, before[i].y, numtest.Tolerance{Abs: 1e-12})
		numtest.Check(t, "z", rows[i].z, before[i].z, numtest.Tolerance{Abs: 1e-12})
	}
	few := []row{{t: 0, x: 1}, {t: 1, x: 5}, {t: 2, x: 2}}
	smooth(few, 0.5)
	if few[1].x != 5 {
		t.Error("three rows were smoothed")
	}
}

// A path that bends far more than the error of a fix is hardly changed.
func TestSmoothingLeavesARealBend(t *testing.T) {
	var rows []row
	for i := range 30 {
		sin, cos := math.Sincos(0.25 * float64(i))
		rows = append(rows, row{t: 0.08 * float64(i), x: 0.3 * cos, y: 0.3 * sin})
	}
	before := append([]row(nil), rows...)
	smooth(rows, 0.0005)
	for i := range rows {
		if d := math.Hypot(rows[i].x-before[i].x, rows[i].y-before[i].y); d > 0.0015 {
			t.Errorf("row %d moved by %g m, three times the error of a fix", i, d)
		}
	}
}

func TestUnknownHeightsAreNotSmoothed(t *testing.T) {
	var rows []row
	for i := range 12 {
		r := row{t: float64(i), x: float64(i), z: 0.01 * float64(i%2), zKnown: i != 5, zLow: 0.02, zHigh: 0.3}
		rows = append(rows, r)
	}
	smooth(rows, 0.02)
	if rows[5].zKnown || rows[5].zLow != 0.02 || rows[5].zHigh != 0.3 {
		t.Errorf("%+v", rows[5])
	}
	for i, r := range rows {
		if r.zKnown && (r.z < 0 || r.z > 0.01) {
			t.Errorf("height %d = %g", i, r.z)
		}
	}
}

// The restlessness found is the most likely one: none of a fine grid is more.
func TestTheMostLikelyRestlessness(t *testing.T) {
	rng := numeric.Stream(3, "exposure restlessness test")
	for range 20 {
		fixes := simulatedPass(rng, 0.08)
		var times, x []float64
		for _, f := range fixes {
			times, x = append(times, f.TimeS), append(x, f.YM+0.01*rng.NormFloat64())
		}
		b := newSplineBands(times)
		likelihood := func(logQ float64) float64 { return b.logLikelihood(math.Exp(logQ), 1e-4, [][]float64{x}) }
		q, ok := mostLikelyQ(likelihood, times, 0.01)
		if !ok {
			t.Fatal("no restlessness found")
		}
		for k := range 2000 {
			if v := -14 + 0.01*float64(k); likelihood(v) > likelihood(q)+1e-4 {
				t.Fatalf("ln q = %g is more likely than %g by %g", v, q, likelihood(v)-likelihood(q))
			}
		}
	}
}

// A head is not below the bottom, whatever the errors say.
func TestSmoothedHeightsAreNotNegative(t *testing.T) {
	rows := []row{{t: 0, z: 0.004}, {t: 1, z: 0.002}, {t: 2, z: 0}, {t: 3, z: 0}, {t: 4, z: 0}, {t: 5, z: 0.001}}
	for i := range rows {
		rows[i].zKnown = true
	}
	lowest := math.Inf(1)
	for _, v := range smoothTogether([]float64{0, 1, 2, 3, 4, 5}, 0.0004, []float64{0.004, 0.002, 0, 0, 0, 0.001})[0] {
		lowest = math.Min(lowest, v)
	}
	if lowest >= 0 {
		t.Fatal("the example does not dip below the bottom: choose another")
	}
	smooth(rows, 0.0004)
	for i := range rows {
		if rows[i].z < 0 {
			t.Errorf("height %d = %g", i, rows[i].z)
		}
	}
}

// simulatedPass is a slightly curved swim past pair A, without errors.
func simulatedPass(rng *rand.Rand, dt float64) []study.Fix {
	var out []study.Fix
	speed, heading := 0.15+0.15*rng.Float64(), 0.6*rng.NormFloat64()
	turning := 0.25 * rng.NormFloat64()
	x, y := -0.3, 0.05+0.06*rng.NormFloat64()
	z := 0.03 + 0.05*rng.Float64()
	for i := 0; float64(i)*dt < 0.6/speed; i++ {
		out = append(out, study.Fix{TimeS: float64(i) * dt, XM: x, YM: y, HeightM: study.Some(z)})
		sin, cos := math.Sincos(heading)
		x, y = x+speed*dt*cos, y+speed*dt*sin
		heading += turning * dt
	}
	return out
}

// The purpose of smoothing, checked by simulation: with fixes good to 1 cm
// every 0.08 s, the largest field of a smoothed track is nearer to the true
// one, and its bias (errors bring a path nearer to the pair than it was) is
// smaller. Figures: docs/physics/exposure.md.
func TestSmoothingHelpsTheLargestField(t *testing.T) {
	const sd = 0.01
	rng := numeric.Stream(7, "exposure smoothing test")
	var raw, smoothed errorSum
	for range 400 {
		truth := simulatedPass(rng, 0.08)
		noisy := append([]study.Fix(nil), truth...)
		for i := range noisy {
			noisy[i].XM += sd * rng.NormFloat64()
			noisy[i].YM += sd * rng.NormFloat64()
			noisy[i].HeightM.Value = math.Abs(noisy[i].HeightM.Value + sd*rng.NormFloat64())
		}
		want := largestOf(t, truth, 0)
		raw.add(math.Log(largestOf(t, noisy, 0) / want))
		smoothed.add(math.Log(largestOf(t, noisy, sd) / want))
	}
	t.Logf("ln(largest field/true): raw bias %.4f, rms %.4f; smoothed bias %.4f, rms %.4f", raw.mean(), raw.rms(), smoothed.mean(), smoothed.rms())
	if smoothed.rms() > 0.6*raw.rms() {
		t.Errorf("rms error %.4f smoothed, %.4f raw: it should be well below", smoothed.rms(), raw.rms())
	}
	if math.Abs(smoothed.mean()) > 0.03 || math.Abs(smoothed.mean()) > 0.3*math.Abs(raw.mean()) {
		t.Errorf("bias %.4f smoothed, %.4f raw", smoothed.mean(), raw.mean())
	}
}

type errorSum struct{ n, sum, squares float64 }

func (e *errorSum) add(v float64) { e.n, e.sum, e.squares = e.n+1, e.sum+v, e.squares+v*v }
func (e *errorSum) mean() float64 { return e.sum / e.n }
func (e *errorSum) rms() float64  { return math.Sqrt(e.squares / e.n) }

func largestOf(tb tester, fixes []study.Fix, sd float64) float64 {
	w := newWorld(tb)
	w.s.Analysis.FixSDM = study.Some(sd)
	w.swim("0 0 0 5")
	w.s.Tracks[0].Points[0].Fixes = fixes
	return w.only().Low
}
