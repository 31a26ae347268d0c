package conduction

import "testing"

// long leaves a test out of a short run: that of the emulated processor in
// make soak, where it would take minutes. Every other run has it.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("takes minutes on an emulated processor")
	}
}
