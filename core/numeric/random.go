// Package numeric holds the numerical tools that several rooms of the core
// share: quadrature, root finding and maximisation, stable normal tails,
// seeded random streams. It is thin over gonum and imports no core package.
package numeric

import (
	"encoding/binary"
	"math/rand/v2"
)

// Stream returns the random stream of a seed and a purpose: ChaCha8 keyed by
// both, so that streams of one seed for different purposes are unrelated and
// adding a new purpose never changes an old one. The same seed and purpose
// give the same numbers on every machine and with any number of cores.
func Stream(seed uint64, purpose string) *rand.Rand {
	var key [32]byte
	binary.LittleEndian.PutUint64(key[:8], seed)
	// FNV-1a over the purpose, four times with different offsets: a key
	// schedule, not a secret (sealed schedules draw from the system instead).
	for lane := range 3 {
		h := uint64(14695981039346656037) + uint64(lane)*0x9e3779b97f4a7c15
		for _, b := range []byte(purpose) {
			h = (h ^ uint64(b)) * 1099511628211
		}
		binary.LittleEndian.PutUint64(key[8+8*lane:], h)
	}
	return rand.New(rand.NewChaCha8(key))
}
