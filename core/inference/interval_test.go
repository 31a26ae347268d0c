package inference

import (
	"errors"
	"strings"

	"brinefield/core/numeric/numtest"
)

// checkNotEstimable wants a NotEstimable whose reason contains why.
func checkNotEstimable(t numtest.TB, what string, err error, why string) {
	t.Helper()
	var reason *NotEstimable
	if !errors.As(err, &reason) {
		t.Errorf("%s: error %v, want a reason why it is not estimable", what, err)
		return
	}
	if !strings.Contains(reason.Why, why) {
		t.Errorf("%s: reason %q, want it to contain %q", what, reason.Why, why)
	}
}
