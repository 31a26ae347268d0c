// Package numtest is the one place where tests decide that two numbers agree.
// Every check names its quantity, its tolerance and (by convention, in the
// caller's table) its source, so that a failure can be read without the code.
package numtest

import (
	"fmt"
	"math"
)

// TB is the part of testing.TB that the checks need.
type TB interface {
	Helper()
	Errorf(format string, args ...any)
}

// Tolerance says how far a number may be from its reference: the larger of
// Abs and Rel·|want|. The zero Tolerance asks for equality.
type Tolerance struct {
	Rel, Abs float64
}

// Allows reports whether got agrees with want. NaN agrees with nothing, an
// infinity only with itself.
func (tol Tolerance) Allows(got, want float64) bool {
	if math.IsNaN(got) || math.IsNaN(want) {
		return false
	}
	if math.IsInf(got, 0) || math.IsInf(want, 0) {
		return got == want
	}
	return math.Abs(got-want) <= math.Max(tol.Abs, tol.Rel*math.Abs(want))
}

// Check reports an error when got is farther from want than tol allows, with
// the error found in units of the tolerance.
func Check(t TB, what string, got, want float64, tol Tolerance) bool {
	t.Helper()
	if tol.Allows(got, want) {
		return true
	}
	t.Errorf("%s = %.17g, want %.17g: off by %s, allowed %s", what, got, want, describe(got, want), tol)
	return false
}

func (tol Tolerance) String() string {
	return fmt.Sprintf("rel %.3g, abs %.3g", tol.Rel, tol.Abs)
}

func describe(got, want float64) string {
	diff := math.Abs(got - want)
	if want == 0 {
		return fmt.Sprintf("%.3g", diff)
	}
	return fmt.Sprintf("%.3g (relative %.3g)", diff, diff/math.Abs(want))
}
