package conduction

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
)

// How slow a current must be for its field to be that of a steady one. A changing
// current induces: beyond about a tenth of the skin depth its field differs from the
// steady one by more than 1 %. Everything here is for unbounded water; what a
// bottom or the surface does to the deviation is not worked out.

// Constants of nature (CODATA 2018).
const (
	mu0  = 1.25663706212e-6 // H/m
	eps0 = 8.8541878128e-12 // F/m
)

// ErrWave says what is wrong with a waveform or with what is asked of it. It is
// wrapped in a sentence that names the value.
var ErrWave = errors.New("waveform")

// SkinDepthM is δ = √(2/(ωμσ)) in metres, with μ that of empty space: +Inf for a
// steady current. Source: any text on electromagnetic waves; 503.29/√(σf).
func SkinDepthM(frequencyHz, sPerM float64) float64 {
	return math.Sqrt(1 / (math.Pi * frequencyHz * mu0 * sPerM))
}

// DisplacementRatio is the displacement current over the conduction current,
// ωε/σ; sea water has a relative permittivity of about 80 below a gigahertz.
func DisplacementRatio(frequencyHz, sPerM, relativePermittivity float64) float64 {
	return 2 * math.Pi * frequencyHz * eps0 * relativePermittivity / sPerM
}

// HarmonicFactors is the field of a harmonic current dipole in unbounded water
// over the steady one, as phasors (e^{+iωt}), at a distance in skin depths:
//
//	E_r = p·cosθ/(2πσr³)·radial,      radial = (1 + γr)e^{−γr}
//	E_θ = p·sinθ/(4πσr³)·transverse,  transverse = (1 + γr + γ²r²)e^{−γr}
//
// with γ = (1 + i)/δ, displacement currents left out. Source: standard texts
// (Ward and Hohmann, in Electromagnetic Methods in Applied Geophysics 1, 1988, from
// memory); the test is that the field obeys Maxwell's equations.
func HarmonicFactors(distanceInSkinDepths float64) (radial, transverse complex128) {
	a, b := harmonicChange(distanceInSkinDepths)
	return 1 + a, 1 + b
}

// harmonicChange is [HarmonicFactors] less 1, without cancellation: from
// e^{−x} = Σ(−x)ⁿ/n! come Σ_{n≥2} (1 − n)(−x)ⁿ/n! and Σ_{n≥2} (n − 1)²(−x)ⁿ/n!.
func harmonicChange(q float64) (radial, transverse complex128) {
	if q > 600 { // e^{−q} is nothing
		return -1, -1
	}
	x := complex(q, q)
	if q > 0.5 {
		e := cmplx.Exp(-x)
		return (1+x)*e - 1, (1+x+x*x)*e - 1
	}
	term := -x
	for n := 2.0; n <= 24; n++ {
		term *= -x / complex(n, 0)
		radial += complex(1-n, 0) * term
		transverse += complex((n-1)*(n-1), 0) * term
	}
	return radial, transverse
}

// changePeak is the distance, in skin depths, at which the change is largest;
// up to there it grows. See the test.
const changePeak = 3.71593

// LargestChange is the largest |E − E_steady|/|E_steady| in any direction from a
// harmonic dipole and up to a distance in skin depths, amplitude and phase
// together: about q² for small distances. The worst direction is the
// dipole's axis or straight across it.
func LargestChange(distanceInSkinDepths float64) float64 {
	a, b := harmonicChange(math.Min(distanceInSkinDepths, changePeak))
	return math.Max(cmplx.Abs(a), cmplx.Abs(b))
}

// StaticTo is the distance in skin depths up to which the change stays within
// a share (above 0, below 1) of the steady field: 0.1 for 1 %.
func StaticTo(share float64) (float64, error) {
	if !(share > 0 && share < 1) {
		return 0, fmt.Errorf("%w: a share of %g of the steady field; expected one between 0 and 1", ErrWave, share)
	}
	lo, hi := 0.0, changePeak
	for range 200 {
		mid := (lo + hi) / 2
		if mid == lo || mid == hi {
			break
		}
		if LargestChange(mid) <= share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, nil
}
