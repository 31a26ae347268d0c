package seawater

import "math"

// Coefficients of the practical salinity scale of 1978. Source: UNESCO
// Technical Papers in Marine Science 44, 1983, as in the public library of the
// standard TEOS-10.
var (
	saltA = [...]float64{0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081}
	saltB = [...]float64{0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144}
	warmC = [...]float64{0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9}
)

const (
	saltK  = 0.0162
	deepD1 = 3.426e-2
	deepD2 = 4.464e-4
	deepD3 = 4.215e-1
	deepD4 = -3.107e-3
	deepE1 = 2.070e-5
	deepE2 = -6.370e-10
	deepE3 = 3.989e-15
)

// water is sea water at one temperature and pressure; what depends on neither
// salinity nor conductivity is worked out once.
//
// R is the conductivity over that of standard sea water, Rt the same ratio
// with the effects of temperature (r_t) and pressure (R_p) taken out:
// R = Rt·r_t·R_p, R_p = 1 + a/(b + c·R).
type water struct {
	rt      float64
	a, b, c float64
	f       float64 // (T − 15)/(1 + k(T − 15))
	stretch float64 // makes the low extension meet the scale at salinity 2
}

func newWater(temperatureC, pressureDbar float64) water {
	t := 1.00024 * temperatureC // the scale of 1968, on which all coefficients are
	p := pressureDbar
	w := water{
		rt: horner(warmC[:], t),
		a:  p * (deepE1 + p*(deepE2+p*deepE3)),
		b:  1 + t*(deepD1+t*deepD2),
		c:  deepD3 + deepD4*t,
		f:  (t - 15) / (1 + saltK*(t-15)),
	}
	raw, _ := w.low(w.solve(w.scale, scaleSalinityLow))
	w.stretch = scaleSalinityLow / raw
	return w
}

func horner(coefficients []float64, x float64) float64 {
	var sum float64
	for k := len(coefficients) - 1; k >= 0; k-- {
		sum = sum*x + coefficients[k]
	}
	return sum
}

// ratioAtSurface takes temperature and pressure out of the ratio R.
func (w water) ratioAtSurface(r float64) float64 {
	return r / (w.rt * (1 + w.a/(w.b+w.c*r)))
}

// totalRatio is the inverse of ratioAtSurface. R = D·(1 + a/(b + c·R)) with
// D = Rt·r_t is a quadratic in R with one positive root.
func (w water) totalRatio(ratio float64) float64 {
	d := ratio * w.rt
	// c·R² + (b − d·c)·R − d·(a + b) = 0; the form that does not cancel.
	half := (w.b - d*w.c) / 2
	product := w.c * d * (w.a + w.b)
	root := math.Sqrt(half*half + product)
	if half > 0 {
		return d * (w.a + w.b) / (half + root)
	}
	return (root - half) / w.c
}

// salinity returns the salinity and its slope at x = √Rt: the scale of 1978,
// below 2 its extension.
func (w water) salinity(x float64) (salinity, slope float64) {
	salinity, slope = w.scale(x)
	if salinity < scaleSalinityLow {
		salinity, slope = w.low(x)
		return w.stretch * salinity, w.stretch * slope
	}
	return salinity, slope
}

// scale is the scale of 1978 and its slope at x = √Rt.
func (w water) scale(x float64) (salinity, slope float64) {
	for k := len(saltA) - 1; k >= 0; k-- {
		slope = slope*x + salinity
		salinity = salinity*x + saltA[k] + w.f*saltB[k]
	}
	return salinity, slope
}

// low is the extension to low salinity at x = √Rt, not yet stretched, and its
// slope.
func (w water) low(x float64) (salinity, slope float64) {
	salinity, slope = w.scale(x)
	u := 400 * x * x
	v := 10 * x // √(100·Rt)
	underA := 1 + u*(1.5+u)
	underB := 1 + v*(1+v*(1+v))
	salinity -= saltA[0]/underA + saltB[0]*w.f/underB
	slope += saltA[0] / (underA * underA) * (1.5 + 2*u) * 800 * x
	slope += saltB[0] * w.f / (underB * underB) * (1 + v*(2+3*v)) * 10
	return salinity, slope
}

// rootRatio returns x = √Rt of a salinity.
func (w water) rootRatio(salinity float64) float64 {
	if salinity >= scaleSalinityLow {
		return w.solve(w.scale, salinity)
	}
	return w.solve(w.low, salinity/w.stretch)
}

// solve finds where a rising function passes a target: Newton's method, kept
// inside a bracket. Both scales rise for x above 0.004, where salinity is
// below 0, and pass 60 before x = 1.5. (Between x = 0 and there the extension
// dips below zero: water that conducts less than some 0.0001 S/m.)
func (w water) solve(scale func(float64) (float64, float64), target float64) float64 {
	lo, hi := 0.004, 1.5
	x := math.Min(math.Max(lo, math.Sqrt(target/35)), hi)
	for range 100 {
		value, slope := scale(x)
		if value < target {
			lo = x
		} else {
			hi = x
		}
		next := x - (value-target)/slope
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-x) <= 2e-16*x {
			return next
		}
		x = next
	}
	return x
}
