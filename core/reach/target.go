package reach

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
)

// Target is a place beside a pair: AboveM over its centre and BesideM from it,
// in the direction AzimuthDeg, anticlockwise from +x (of the frame, not of the
// pair's axis).
type Target struct{ AboveM, BesideM, AzimuthDeg float64 }

// From returns the target's place where the pair's centre is known.
func (t Target) From(centre conduction.Point) conduction.Point {
	sin, cos := math.Sincos(t.AzimuthDeg * (math.Pi / 180))
	return conduction.Point{X: centre.X + t.BesideM*cos, Y: centre.Y + t.BesideM*sin, Z: centre.Z + t.AboveM}
}

// MagnitudeAt returns |E| at a place, V/m; NaN where there is no field.
func MagnitudeAt(f Field, p conduction.Point) (float64, error) {
	var e [1]conduction.Vector
	if err := f(e[:], []conduction.Point{p}); err != nil {
		return 0, err
	}
	return e[0].Norm(), nil
}

// CurrentFor returns the current, in amperes, that makes a field of
// targetVPerM where one ampere makes fieldPerAmpere (V/m per A): fields of
// steady currents are proportional to them. NaN where no current does.
func CurrentFor(fieldPerAmpere, targetVPerM float64) float64 {
	i := targetVPerM / fieldPerAmpere
	if !(fieldPerAmpere > 0) || !finite(i) {
		return math.NaN()
	}
	return i
}

// Need is the current that a pair of one separation needs. CurrentA and
// DipoleMomentAM are NaN where no current makes the wanted field: the place
// lies inside something, or the pair makes none there.
type Need struct {
	SeparationM, CurrentA, DipoleMomentAM float64
	FieldPerAmpere                        float64 // V/m per A, at the place
}

// CurrentsFor returns, for each separation, the current that makes a field of
// targetVPerM at a place. perAmpere gives the field, at that separation, of
// one ampere.
//
// Errors: [ErrSearch] for a target or a separation that is not above zero,
// and those of perAmpere and of its fields, with the separation named.
func CurrentsFor(targetVPerM float64, at conduction.Point, separationsM []float64, perAmpere func(separationM float64) (Field, error)) ([]Need, error) {
	if !(targetVPerM > 0) || math.IsInf(targetVPerM, 0) {
		return nil, fmt.Errorf("%w: the wanted field is %g V/m; a field above zero", ErrSearch, targetVPerM)
	}
	needs := make([]Need, len(separationsM))
	for k, d := range separationsM {
		if !(d > 0) || math.IsInf(d, 0) {
			return nil, fmt.Errorf("%w: separation %d is %g m; a distance above zero", ErrSearch, k+1, d)
		}
		f, err := perAmpere(d)
		if err != nil {
			return nil, fmt.Errorf("a pair %g m apart: %w", d, err)
		}
		e, err := MagnitudeAt(f, at)
		if err != nil {
			return nil, fmt.Errorf("a pair %g m apart: %w", d, err)
		}
		i := CurrentFor(e, targetVPerM)
		needs[k] = Need{SeparationM: d, CurrentA: i, DipoleMomentAM: i * d, FieldPerAmpere: e}
	}
	return needs, nil
}
