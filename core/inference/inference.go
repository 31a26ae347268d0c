// Package inference estimates preference, thresholds and detection from plain
// tables. It knows nothing of animals, tracks or water: a row has a cluster,
// an interval and what happened. Fields are in nV/cm throughout, because the
// models are stated in the natural logarithm of nV/cm.
//
// Every estimate is maximum likelihood. A model that cannot be estimated
// returns a [*NotEstimable] error that says why, never a number; a parameter
// on the edge of its range is named in Boundary. Rows are taken in a canonical
// order and sums run in that order, so equal tables give equal bits however
// the rows were ordered and however many cores worked.
package inference

import "fmt"

// NotEstimable says why a model has no estimate: a fact about the data, not a
// failure of the program.
type NotEstimable struct {
	Why string
}

func (e *NotEstimable) Error() string { return "not estimable: " + e.Why }

func notEstimable(format string, args ...any) error {
	return &NotEstimable{Why: fmt.Sprintf(format, args...)}
}

// Span is a closed interval of an estimate, both ends in the estimate's unit.
type Span struct {
	Low, High float64
}
