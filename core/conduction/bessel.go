package conduction

import "math"

// The modified Bessel functions of a round wall, as ratios and with their
// exponentials taken off, so that no order and no argument overflows.

// bessel0 is e^{−x}·I_0(x) for x ≥ 0: the power series, whose terms are all
// positive, or far out the asymptotic one, whose least term is e^{−2x}.
//
// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 9.6.12 and
// 9.7.1; test: their table 9.8.
func bessel0(x float64) float64 {
	term, sum := 1.0, 1.0
	if x <= 25 {
		q := x * x / 4
		for n := 1.0; term > 1e-17*sum; n++ {
			term *= q / (n * n)
			sum += term
		}
		return math.Exp(-x) * sum
	}
	for n := 1.0; term > 1e-17*sum; n++ {
		term *= (2*n - 1) * (2*n - 1) / (n * 8 * x)
		sum += term
	}
	return sum / math.Sqrt(2*math.Pi*x)
}

// besselSteps sets r[m] = I_{m+1}(x)/I_m(x), for x > 0, by the recurrence
// 1/r_{m−1} = 2m/x + r_m, downward, the way in which errors shrink: from order a to
// order b by e^{−(a² − b²)/x}, or faster. It begins so many orders beyond the last.
//
// Source: Abramowitz and Stegun 9.6.26.
func besselSteps(x float64, r []float64, beyond int) {
	next, two := besselStep(float64(len(r)+beyond), x), 2/x
	for m := len(r) + beyond - 1; m >= len(r); m-- {
		next = 1 / (two*float64(m+1) + next)
	}
	for m := len(r) - 1; m >= 0; m-- {
		next = 1 / (two*float64(m+1) + next)
		r[m] = next
	}
}

// besselStep is I_{n+1}(x)/I_n(x) for large n or x: below x = n a bound, beyond it
// Debye's expansions of I_n and I′_n, which leave less than y⁻⁴ of it, y² = n² + x².
//
// Source: Abramowitz and Stegun 9.7.7 and 9.7.9 with 9.3.9 and 9.3.13; the bound:
// Amos, Mathematics of Computation 28:239 (1974), from memory.
func besselStep(n, x float64) float64 {
	if x < n {
		return x / (n + 1 + math.Sqrt((n+1)*(n+1)+x*x))
	}
	y := math.Sqrt(n*n + x*x)
	t, h := n*n/(y*y), 1/y
	u := 1 + h*((3-5*t)/24+h*((81+t*(-462+t*385))/1152+h*(30375+t*(-369603+t*(765765-t*425425)))/414720))
	v := 1 + h*((-9+7*t)/24+h*((-135+t*(594-t*455))/1152+h*(-42525+t*(451737+t*(-883575+t*475475)))/414720))
	return y/x*v/u - n/x
}

// besselFirst is K_1(x)/K_0(x) for x > 0: up to 2 by the series of K_0 and the
// Wronskian, beyond by Steed's continued fraction.
//
// Source: Abramowitz and Stegun 9.6.13 and 9.6.15; Temme, Journal of
// Computational Physics 19:324 (1975), from memory. Test: table 9.8.
func besselFirst(x float64) float64 {
	if x <= 2 {
		const euler = 0.57721566490153286061
		q := x * x / 4
		term, i0, i1, k0, harmonic := 1.0, 1.0, x/2, 0.0, 0.0
		for n := 1.0; n < 20; n++ {
			term *= q / (n * n)
			harmonic += 1 / n
			i0 += term
			i1 += term * x / 2 / (n + 1)
			k0 += term * harmonic
		}
		k0 -= (math.Log(x/2) + euler) * i0
		return (1/x - i1*k0) / (i0 * k0)
	}
	b := 2 * (1 + x)
	d := 1 / b
	h, step, a := d, d, -0.25
	for n := 2.0; n < 1000 && math.Abs(step) > 1e-18*h; n++ {
		a -= 2 * (n - 1)
		b += 2
		d = 1 / (b + a*d)
		step *= b*d - 1
		h += step
	}
	return (x + 0.5 - 0.25*h) / x
}

// wallEcho is what a round wall sends back of the wave of order m, −K′_m/I′_m ·
// I_m² at x = kR, from r = I_{m+1}/I_m and s = K_{m+1}/K_m there (before: that of
// the order below; none at m = 0). All terms are positive: I_m·K_m = 1/(x(r + s)).
func wallEcho(m, x, r, s, before float64) float64 {
	slopeK, slopeI := s, r
	if m > 0 {
		slopeK, slopeI = m/x+1/before, r+m/x
	}
	return slopeK / (slopeI * x * (r + s))
}
