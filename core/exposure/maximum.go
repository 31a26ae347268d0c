package exposure

import "math"

// golden is the smaller part of a line cut in the golden ratio.
const golden = 0.3819660112501051

// brentMax finds the largest value of a function that rises and then falls on
// [a, b]: parabolas through the three best points, golden sections where they
// do not help, until the place is known to tol. x with value fx is a first
// guess inside [a, b]; fa and fb are the values at the ends, or NaN where they
// are not known. Returned is the best point that was evaluated.
//
// Source: R. P. Brent, Algorithms for Minimization without Derivatives,
// Prentice-Hall, 1973, chapter 5 (from memory), for −f.
func brentMax(f func(float64) float64, a, b, x, fx, fa, fb, tol float64) (at, value float64) {
	w, fw, v, fv := x, fx, x, fx
	if !math.IsNaN(fa) && !math.IsNaN(fb) && x > a && x < b {
		w, fw, v, fv = a, fa, b, fb
		if fb > fa {
			w, fw, v, fv = b, fb, a, fa
		}
	}
	step, before := b-a, b-a
	for range 60 {
		middle := (a + b) / 2
		if math.Abs(x-middle) <= 2*tol-(b-a)/2 {
			break
		}
		next, parabolic := parabola(x, w, v, fx, fw, fv)
		if parabolic && math.Abs(next) < before/2 && x+next > a && x+next < b {
			before, step = math.Abs(step), next
			if u := x + step; u-a < 2*tol || b-u < 2*tol {
				step = math.Copysign(tol, middle-x)
			}
		} else {
			if x < middle {
				before = b - x
				step = golden * (b - x)
			} else {
				before = x - a
				step = -golden * (x - a)
			}
		}
		if math.Abs(step) < tol {
			step = math.Copysign(tol, step)
		}
		u := math.Min(math.Max(x+step, a), b)
		fu := f(u)
		switch {
		case fu >= fx:
			if u < x {
				b = x
			} else {
				a = x
			}
			v, fv, w, fw, x, fx = w, fw, x, fx, u, fu
		default:
			if u < x {
				a = u
			} else {
				b = u
			}
			if fu >= fw || w == x {
				v, fv, w, fw = w, fw, u, fu
			} else if fu >= fv || v == x || v == w {
				v, fv = u, fu
			}
		}
	}
	return x, fx
}

// parabola gives the step from x to the top of the parabola through three
// points; false where it opens upwards or is flat.
func parabola(x, w, v, fx, fw, fv float64) (step float64, ok bool) {
	r := (x - w) * (fx - fv)
	q := (x - v) * (fx - fw)
	p := (x-v)*q - (x-w)*r
	q = 2 * (q - r)
	if q == 0 {
		return 0, false
	}
	step = -p / q
	// With fx the largest of the three the vertex is a top.
	return step, !math.IsNaN(step) && fx >= fw && fx >= fv
}
