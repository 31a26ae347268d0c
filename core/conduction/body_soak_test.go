//go:build soak

package conduction

import "testing"

// All bodies that are plates too: see TestBodiesAgainstThickPlates.
func TestAllBodiesAgainstThickPlates(t *testing.T) { againstThickPlates(t, true) }
