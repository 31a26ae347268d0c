package app_test

import "testing"

// long leaves a test out of a short run: under the race detector and on the
// emulated processor of make soak, where it would take long and shows nothing
// new. Every other run has it.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("long under the race detector and on an emulated processor")
	}
}
