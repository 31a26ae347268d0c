//go:build soak

package sqlite

import (
	"testing"
	"time"
)

// With the kills in cmd/brinefield, those that the issue asks for.
func TestKilledOften(t *testing.T) {
	killDuringAppend(t, 50, 100*time.Millisecond)
	killDuringReceive(t, 50, 100*time.Millisecond)
	killDuringMigration(t, 50)
}
