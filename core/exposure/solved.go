package exposure

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// Solved says how the field of a pair in a trial's water was worked out, and the
// solver's own estimate of its largest relative error |δE|/|E|; NaN where it has
// none. It is an error where the pair does not lie there in that trial, or the
// fields are of another source than [NewFields].
func (f *Fields) Solved(s *study.Study, trial, pair int) (method string, relativeError float64, err error) {
	switch u := f.unit(trial, pair).(type) {
	case fastUnit:
		p := &s.Pairs[pair]
		solved, err := conduction.Solve(mediumOf(s, f.water[trial]), conduction.Pair{
			Centre:     conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM},
			AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
		}.Electrodes(1), conduction.Options{})
		if err != nil {
			return "", math.NaN(), err
		}
		return solved.Method(), u.field.RelativeError(), nil
	case *platedUnit:
		for _, share := range u.shares {
			plated := u.pair.responses[share.node].plated
			method, relativeError = plated.Method(), math.Max(relativeError, plated.RelativeError())
		}
		return method, relativeError, nil
	case notThere:
		return "", math.NaN(), fmt.Errorf("exposure: pair %s lies on another plate than trial %s names", s.Pairs[pair].Label, s.Trials[trial].ID)
	}
	return "", math.NaN(), fmt.Errorf("exposure: the fields were not solved here")
}
