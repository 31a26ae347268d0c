package schedule

import (
	"crypto/hmac"
	"crypto/sha256"
	"slices"
)

// Wiring says which pair is wired to which position of the switch box: place 0
// is position 1. Where the plan has shams one position has no pair, "". Each
// order is equally likely, and none tells anything of the trials.
//
// It is there so that nobody in the boat need know which pair is live. Whoever
// throws the switch reads positions from the cards and never sees the wires;
// whoever wires the box knows the pair of each position and never sees a card.
// Neither knows by itself what a trial drives, as long as the wires are hidden
// and the two do not talk of it.
//
// It follows from the seed, so that what is sealed holds it too, through a
// stream of its own: the HMAC-SHA-256 of "wiring of the switch", keyed with the
// seed, is the seed of its shuffle. The stream of the trials is left as it is.
func (s *Schedule) Wiring(seed Seed) []string {
	positions := slices.Clone(s.Plan.Pairs)
	if s.Plan.Sham > 0 {
		positions = append(positions, "")
	}
	mac := hmac.New(sha256.New, seed[:])
	mac.Write([]byte("wiring of the switch"))
	shuffle(newChance(Seed(mac.Sum(nil))), positions)
	return positions
}

// BlockOf is the number, from 1, of the block that trial i was drawn in, where
// the spare draws follow the trials: i = 0 is the first trial, len(Trials) the
// first spare draw. Spare draws continue the numbers in blocks of their own, which
// hold only driven trials. Of a trial that is not there it is 0.
func (s *Schedule) BlockOf(i int) int {
	switch trials := len(s.Trials); {
	case i < 0 || i >= trials+len(s.Spare):
		return 0
	case i < trials:
		return i/s.Block + 1
	default:
		return (trials-1)/s.Block + 1 + (i-trials)/s.Plan.capacity() + 1
	}
}
