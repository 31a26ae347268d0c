package app

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"brinefield/core/schedule"
)

var (
	// ErrKey is returned for a key that is none, or does not open what is sealed.
	ErrKey = errors.New("key")
	// ErrSchedule is returned for a plan that cannot be drawn.
	ErrSchedule = schedule.ErrPlan
	// ErrNotSealed is returned for a schedule that is not what was sealed.
	ErrNotSealed = errors.New("not what was sealed")
)

// Sealer encrypts to public keys and decrypts with secret ones; what it makes is
// text. A secret key that is protected by a passphrase is unlocked first, once,
// which takes a second. Errors: [ErrKey].
type Sealer interface {
	NewKey() (public, secret string, err error)
	CheckPublic(public string) error
	Seal(publics []string, plain []byte) (string, error)
	Open(secret, sealed string) ([]byte, error)
	// Protect encrypts a secret key to a passphrase.
	Protect(secret, passphrase string) (string, error)
	// Unlock takes the passphrase off again; a key without one, and an empty
	// passphrase with it, come back as they are.
	Unlock(secret, passphrase string) (plain string, err error)
	// PublicOf is the public key of a secret one that is not protected.
	PublicOf(secret string) (string, error)
}

// ScheduleQuestion asks for a schedule.
type ScheduleQuestion struct {
	Plan SchedulePlan
	// PerDay is the trials of a day, for the balance over days; 0: not stated.
	PerDay int
	// Seed draws the same schedule again; nil: one is drawn and told. A sealed
	// schedule has none.
	Seed *uint64
	// SealTo are public keys, at least two; none: the schedule is not sealed.
	SealTo []string
}

// DrawSchedule draws a schedule. A sealed one takes all its randomness, 256
// bits, from random, and keeps it only inside what is sealed.
//
// Errors: [ErrSchedule], [ErrKey], and those of random.
func DrawSchedule(q ScheduleQuestion, sealer Sealer, random io.Reader, program Program) (ScheduleDocument, error) {
	if err := q.checkKeys(sealer); err != nil {
		return ScheduleDocument{}, err
	}
	doc := ScheduleDocument{Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Warnings: []string{}}}
	var seed schedule.Seed
	if len(q.SealTo) > 0 {
		if _, err := io.ReadFull(random, seed[:]); err != nil {
			return doc, fmt.Errorf("no randomness from this system: %w", err)
		}
	} else {
		n, err := q.seed(random)
		if err != nil {
			return doc, err
		}
		doc.Seed, seed = &n, seedOf(n)
	}
	s, err := schedule.Draw(q.Plan.core(), seed)
	if err != nil {
		return doc, err
	}
	doc.takePlan(s)
	if len(q.SealTo) > 0 {
		return doc, doc.sealIn(s, seed, q.SealTo, sealer)
	}
	doc.open(s, seed)
	doc.weigh(s, q.PerDay)
	return doc, nil
}

// seed is the one asked for, or one of 48 bits, which every program reads
// exactly.
func (q *ScheduleQuestion) seed(random io.Reader) (uint64, error) {
	if q.Seed != nil {
		return *q.Seed, nil
	}
	var b [8]byte
	if _, err := io.ReadFull(random, b[2:]); err != nil {
		return 0, fmt.Errorf("no randomness from this system: %w", err)
	}
	return binary.BigEndian.Uint64(b[:]), nil
}

// seedOf is the SHA-256 of "brinefield schedule, seed " and the number.
func seedOf(n uint64) schedule.Seed {
	return sha256.Sum256(fmt.Appendf(nil, "brinefield schedule, seed %d", n))
}

// leastKeys: one of the lead, one for recovery.
const leastKeys = 2

func (q *ScheduleQuestion) checkKeys(sealer Sealer) error {
	if len(q.SealTo) == 0 {
		return nil
	}
	if q.Seed != nil {
		return fmt.Errorf("%w: a sealed schedule with a seed could be drawn again by anybody who knows the seed; expected no seed: its randomness comes from the system", ErrSchedule)
	}
	keys := slices.Clone(q.SealTo)
	for i := range keys {
		keys[i] = strings.TrimSpace(keys[i])
		if err := sealer.CheckPublic(keys[i]); err != nil {
			return err
		}
	}
	slices.Sort(keys)
	if len(slices.Compact(keys)) < leastKeys {
		return fmt.Errorf("%w: sealed to %d key; expected at least %d different ones, of which one is printed and kept for recovery: who loses the only key loses the season", ErrKey, len(slices.Compact(keys)), leastKeys)
	}
	return nil
}

func (d *ScheduleDocument) takePlan(s *schedule.Schedule) {
	p := s.Plan
	d.Plan = SchedulePlan{
		Pairs: p.Pairs, CurrentsUA: p.CurrentsUA, Trials: p.Trials, Silent: p.Silent, Sham: p.Sham, OdourOff: p.OdourOff,
		DrawPolarity: p.DrawPolarity, Repeats: max(p.Repeats, 1), MostAlike: p.MostAlike, Spare: p.Spare,
	}
	d.Rule = ScheduleRule{Rule: "blocks", Block: s.Block, MostAlike: p.MostAlike}
}

// core is the plan as it is drawn.
func (p *SchedulePlan) core() schedule.Plan {
	return schedule.Plan{
		Pairs: p.Pairs, CurrentsUA: p.CurrentsUA, Trials: p.Trials, Silent: p.Silent, Sham: p.Sham, OdourOff: p.OdourOff,
		DrawPolarity: p.DrawPolarity, Repeats: p.Repeats, MostAlike: p.MostAlike, Spare: p.Spare,
	}
}

// open puts all that was drawn into a document.
func (d *ScheduleDocument) open(s *schedule.Schedule, seed schedule.Seed) {
	commitments, nonces := s.Commitments(seed), s.Nonces(seed)
	trials := make([]ScheduledTrial, 0, len(s.Trials)+len(s.Spare))
	for i, t := range slices.Concat(s.Trials, s.Spare) {
		trials = append(trials, openedTrial(&t, nonces[i], commitments[i]))
	}
	d.Trials, d.Spare = trials[:len(s.Trials):len(s.Trials)], trials[len(s.Trials):]
	d.Seal = schedule.Seal(s.Plan, commitments).String()
}

func openedTrial(t *schedule.Trial, nonce [schedule.SeedSize]byte, commitment []byte) ScheduledTrial {
	current, odour := t.SignedUA(), !t.OdourOff
	out := ScheduledTrial{
		Trial: t.ID, Kind: t.Kind, ActivePair: t.Pair, CurrentUA: &current, Odour: &odour,
		Commitment: hex.EncodeToString(commitment), Nonce: hex.EncodeToString(nonce[:]),
	}
	if t.Kind != schedule.Active {
		out.ActivePair = "none"
	}
	return out
}

// weigh counts what was drawn.
func (d *ScheduleDocument) weigh(s *schedule.Schedule, perDay int) {
	b := s.Balance(perDay)
	d.Chance = &ScheduleChance{Blind: b.Chance, WithBlocks: b.ChanceWithBlocks}
	d.Balance = &ScheduleBalance{LongestRun: b.LongestRun}
	for i, pair := range s.Plan.Pairs {
		row := PairBalance{Pair: pair, ByCurrent: b.PairCurrent[i], Reversed: b.PairReversed[i]}
		for _, n := range row.ByCurrent {
			row.Trials += n
		}
		if perDay > 0 {
			row.ByDay, row.ByTime = b.PairDay[i], b.PairTime[i]
		}
		d.Balance.Pairs = append(d.Balance.Pairs, row)
	}
}

// ScheduleExample is an example of what a plan draws: a schedule of a stated
// seed, which is not sealed and not kept.
//
// Errors: [ErrSchedule].
func (s *Studies) ScheduleExample(in ExampleRequest) (ScheduleDocument, error) {
	return DrawSchedule(ScheduleQuestion{Plan: in.Plan, PerDay: in.PerDay, Seed: &in.Seed}, s.options.Sealer, s.options.Random, s.options.Program)
}
