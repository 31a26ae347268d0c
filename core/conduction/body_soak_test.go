//go:build soak

package conduction

import "testing"

// All bodies that are plates too: see TestBodiesAgainstThickPlates.
func TestAllBodiesAgainstThickPlates(t *testing.T) { againstThickPlates(t, true) }

// A body beside a wall: see bodyBesideAWall.
func TestBodyBesideAWall(t *testing.T) { bodyBesideAWall(t) }
