package schedule

import (
	"math/bits"
	"math/rand/v2"
)

// SeedSize is the number of bytes that a schedule is drawn from.
const SeedSize = 32

// Seed is the whole chance of a schedule.
type Seed [SeedSize]byte

// chance is ChaCha8 (c2sp.org/chacha8rand), whose output is fixed by its
// specification: the same seed gives the same schedule for ever, on any machine.
// What is made of its output is written here, and rests on no library's way of
// shuffling.
type chance struct{ words *rand.ChaCha8 }

func newChance(seed Seed) *chance { return &chance{rand.NewChaCha8(seed)} }

// below returns a whole number from 0 to n − 1, each equally likely; n is at
// least 1. A word times n has the number in its upper half; words whose lower
// half would favour some numbers are passed over.
//
// Source: Lemire, ACM Transactions on Modeling and Computer Simulation 29(1):3
// (2019), doi:10.1145/3230636 (from memory).
func (c *chance) below(n int) int {
	limit := uint64(n)
	high, low := bits.Mul64(c.words.Uint64(), limit)
	if low < limit {
		for favoured := -limit % limit; low < favoured; {
			high, low = bits.Mul64(c.words.Uint64(), limit)
		}
	}
	return int(high)
}

// shuffle puts list into one of its orders, each equally likely, from the last
// place down (Fisher and Yates; in this form Durstenfeld, Communications of the
// ACM 7:420, 1964, from memory).
func shuffle[T any](c *chance, list []T) {
	for i := len(list) - 1; i > 0; i-- {
		j := c.below(i + 1)
		list[i], list[j] = list[j], list[i]
	}
}

// dealer deals the numbers 0 to n − 1 in shuffled rounds: of so many in a row
// each comes once.
type dealer struct {
	c    *chance
	n    int
	left []int
}

func (d *dealer) deal() int {
	if len(d.left) == 0 {
		for i := range d.n {
			d.left = append(d.left, i)
		}
		shuffle(d.c, d.left)
	}
	last := len(d.left) - 1
	out := d.left[last]
	d.left = d.left[:last]
	return out
}
