package app

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"brinefield/core/schedule"
)

// sealedSchedule is what stands inside the sealed text: all that the schedule
// is made of.
type sealedSchedule struct {
	Format int          `json:"format"`
	Seed   string       `json:"seed"`
	Plan   SchedulePlan `json:"plan"`
}

// sealedTrial is what stands inside the sealed text of one trial.
type sealedTrial struct {
	Text  json.RawMessage `json:"text"`
	Nonce string          `json:"nonce"`
}

// sealIn fills a document with what may be known of a sealed schedule.
func (d *ScheduleDocument) sealIn(s *schedule.Schedule, seed schedule.Seed, keys []string, sealer Sealer) error {
	d.SealedTo, d.Spare = slices.Clone(keys), []ScheduledTrial{}
	whole, err := json.Marshal(sealedSchedule{Format, hex.EncodeToString(seed[:]), d.Plan})
	if err != nil {
		return err
	}
	if d.Sealed, err = sealer.Seal(keys, whole); err != nil {
		return err
	}
	commitments, nonces := s.Commitments(seed), s.Nonces(seed)
	leaves := make([][]byte, len(commitments))
	trials := slices.Concat(s.Trials, s.Spare)
	plain := make([][]byte, len(trials))
	longest := 0
	for i := range trials {
		if plain[i], err = plainTrial(&trials[i], nonces[i]); err != nil {
			return err
		}
		longest = max(longest, len(plain[i]))
	}
	// One length for every plan of these labels and currents, whatever was drawn.
	longest = max(longest, longestPlain(s))
	for i := range trials {
		padded := append(plain[i], bytes.Repeat([]byte{' '}, longest-len(plain[i]))...)
		sealed, err := sealer.Seal(keys, padded)
		if err != nil {
			return err
		}
		leaves[i] = schedule.Leaf(commitments[i], sealed)
		d.put(i, len(s.Trials), ScheduledTrial{Trial: trials[i].ID, Commitment: hex.EncodeToString(commitments[i]), Sealed: sealed})
	}
	d.Seal = schedule.Seal(s.Plan, leaves).String()
	return nil
}

func (d *ScheduleDocument) put(i, trials int, t ScheduledTrial) {
	if i < trials {
		d.Trials = append(d.Trials, t)
	} else {
		d.Spare = append(d.Spare, t)
	}
}

// plainTrial is what stands inside the sealed text of one trial, unpadded.
func plainTrial(t *schedule.Trial, nonce [schedule.SeedSize]byte) ([]byte, error) {
	return json.Marshal(sealedTrial{t.Text(), hex.EncodeToString(nonce[:])})
}

// longestPlain is the length of the longest text that any trial of the plan
// could have had.
func longestPlain(s *schedule.Schedule) int {
	longest := 0
	for _, kind := range []string{schedule.Active, schedule.Silent, schedule.Sham} {
		for _, pair := range s.Plan.Pairs {
			for _, current := range s.Plan.CurrentsUA {
				t := schedule.Trial{ID: s.Trials[0].ID, Kind: kind, Pair: pair, CurrentUA: current, Reversed: true, OdourOff: true}
				if text, err := plainTrial(&t, [schedule.SeedSize]byte{}); err == nil {
					longest = max(longest, len(text))
				}
			}
		}
	}
	return longest
}

// UnsealSchedule opens a sealed schedule with a secret key, and checks it
// against its seal. The document that comes back is the opened one.
//
// Errors: [ErrKey]; [ErrNotSealed] where what is inside is not what the seal
// says.
func UnsealSchedule(d *ScheduleDocument, secret string, sealer Sealer, program Program) (*ScheduleDocument, error) {
	s, seed, err := d.drawn(secret, sealer)
	if err != nil {
		return nil, err
	}
	out := *d
	out.Program, out.Seed, out.Warnings = program, nil, []string{}
	out.takePlan(s)
	out.open(s, seed)
	for i := range d.count() {
		from, to := d.at(i), out.at(i)
		if from.Commitment != to.Commitment || from.Trial != to.Trial {
			return nil, fmt.Errorf("trial %s: %w: what is sealed inside has another commitment", from.Trial, ErrNotSealed)
		}
		to.Sealed = from.Sealed
	}
	out.Seal, out.SeedHex = d.Seal, hex.EncodeToString(seed[:])
	out.weigh(s, 0)
	if different := CheckSchedule(&out); len(different) > 0 {
		return nil, fmt.Errorf("%s (%w)", different[0], ErrNotSealed)
	}
	return &out, nil
}

// drawn draws what is sealed again.
func (d *ScheduleDocument) drawn(secret string, sealer Sealer) (*schedule.Schedule, schedule.Seed, error) {
	var seed schedule.Seed
	if d.Sealed == "" {
		return nil, seed, fmt.Errorf("%w: this schedule is not sealed; expected one that was made with --seal-to", ErrKey)
	}
	plain, err := sealer.Open(secret, d.Sealed)
	if err != nil {
		return nil, seed, err
	}
	var inside sealedSchedule
	if err := json.Unmarshal(plain, &inside); err != nil {
		return nil, seed, fmt.Errorf("%w: what is sealed is no schedule", ErrNotSealed)
	}
	bytesOf, err := hex.DecodeString(inside.Seed)
	if err != nil || len(bytesOf) != schedule.SeedSize {
		return nil, seed, fmt.Errorf("%w: what is sealed is no schedule", ErrNotSealed)
	}
	copy(seed[:], bytesOf)
	insidePlan, outsidePlan := inside.Plan.core(), d.Plan.core()
	if !bytes.Equal(insidePlan.Text(), outsidePlan.Text()) {
		return nil, seed, fmt.Errorf("%w: another plan is sealed inside", ErrNotSealed)
	}
	s, err := schedule.Draw(insidePlan, seed)
	return s, seed, err
}

// UnsealTrial opens one trial of a sealed schedule and leaves the others
// sealed.
//
// Errors: as [UnsealSchedule], and for a trial that is not there.
func UnsealTrial(d *ScheduleDocument, trial, secret string, sealer Sealer) (*ScheduleDocument, error) {
	out := *d
	out.Trials, out.Spare = slices.Clone(d.Trials), slices.Clone(d.Spare)
	for i := range out.count() {
		t := out.at(i)
		if t.Trial != trial {
			continue
		}
		if t.Sealed == "" {
			return nil, fmt.Errorf("%w: trial %s is not sealed by itself", ErrKey, trial)
		}
		plain, err := sealer.Open(secret, t.Sealed)
		if err != nil {
			return nil, err
		}
		var inside sealedTrial
		if err := json.Unmarshal(plain, &inside); err != nil {
			return nil, fmt.Errorf("trial %s: %w: what is sealed is no trial", trial, ErrNotSealed)
		}
		if err := t.takeText(inside); err != nil {
			return nil, err
		}
		if different := CheckSchedule(&out); len(different) > 0 {
			return nil, fmt.Errorf("%s (%w)", different[0], ErrNotSealed)
		}
		return &out, nil
	}
	return nil, fmt.Errorf("there is no trial %q; expected one of %s to %s", trial, d.Trials[0].Trial, d.Trials[len(d.Trials)-1].Trial)
}

// takeText fills in a trial from its text.
func (t *ScheduledTrial) takeText(inside sealedTrial) error {
	var text struct {
		Trial      string  `json:"trial"`
		Kind       string  `json:"kind"`
		ActivePair string  `json:"active_pair"`
		CurrentUA  float64 `json:"current_uA"`
		Odour      bool    `json:"odour"`
	}
	if err := json.Unmarshal(inside.Text, &text); err != nil || text.Trial != t.Trial {
		return fmt.Errorf("trial %s: %w: another trial is sealed inside", t.Trial, ErrNotSealed)
	}
	t.Kind, t.ActivePair, t.CurrentUA, t.Odour, t.Nonce = text.Kind, text.ActivePair, &text.CurrentUA, &text.Odour, inside.Nonce
	return nil
}

// count is that of the trials and the spare draws, at is one of them.
func (d *ScheduleDocument) count() int { return len(d.Trials) + len(d.Spare) }

func (d *ScheduleDocument) at(i int) *ScheduledTrial {
	if i < len(d.Trials) {
		return &d.Trials[i]
	}
	return &d.Spare[i-len(d.Trials)]
}

// CheckSchedule checks a schedule, sealed, opened or opened in part, against
// its seal, and every opened trial against its commitment. It needs no key.
// Every difference is a sentence.
func CheckSchedule(d *ScheduleDocument) (differences []string) {
	plan := d.Plan.core()
	var leaves [][]byte
	for i := range d.count() {
		t := d.at(i)
		commitment, err := hex.DecodeString(t.Commitment)
		if err != nil || len(commitment) != schedule.SeedSize {
			differences = append(differences, fmt.Sprintf("trial %s: %q is no commitment", t.Trial, t.Commitment))
			continue
		}
		leaves = append(leaves, schedule.Leaf(commitment, t.Sealed))
		if err := t.check(commitment); err != nil {
			differences = append(differences, err.Error())
		}
	}
	if len(differences) > 0 {
		return differences
	}
	if root := schedule.Seal(plan, leaves).String(); root != d.Seal {
		differences = append(differences, fmt.Sprintf("the plan and the trials have the seal %s, and the document says %q: something was changed after it was sealed", root, d.Seal))
	}
	return append(differences, d.checkSeed()...)
}

// checkSeed draws the schedule again where its seed is told.
func (d *ScheduleDocument) checkSeed() []string {
	if d.SeedHex == "" {
		return nil
	}
	seed, err := hex.DecodeString(d.SeedHex)
	if err != nil || len(seed) != schedule.SeedSize {
		return []string{fmt.Sprintf("%q is no seed; expected %d hexadecimal digits", d.SeedHex, 2*schedule.SeedSize)}
	}
	s, err := schedule.Draw(d.Plan.core(), schedule.Seed(seed))
	if err != nil {
		return []string{err.Error()}
	}
	for i, commitment := range s.Commitments(schedule.Seed(seed)) {
		if d.at(i).Commitment != hex.EncodeToString(commitment) {
			return []string{fmt.Sprintf("trial %s is not what the seed draws: another seed, or a schedule that was not drawn", d.at(i).Trial)}
		}
	}
	return nil
}

var errChanged = errors.New("is not what was committed to")

// check is nil for a trial that is still sealed.
func (t *ScheduledTrial) check(commitment []byte) error {
	if t.Nonce == "" && t.Kind == "" {
		return nil
	}
	nonce, err := hex.DecodeString(t.Nonce)
	if err != nil || len(nonce) != schedule.SeedSize || t.CurrentUA == nil || t.Odour == nil {
		return fmt.Errorf("trial %s: opened, but without its nonce, kind, pair, current or odour", t.Trial)
	}
	if (t.Kind == schedule.Active) == (t.ActivePair == "none") {
		return fmt.Errorf("trial %s %w: it is %q with the pair %q", t.Trial, errChanged, t.Kind, t.ActivePair)
	}
	opened := schedule.Trial{ID: t.Trial, Kind: t.Kind, Pair: t.ActivePair, CurrentUA: *t.CurrentUA, OdourOff: !*t.Odour}
	if !bytes.Equal(schedule.Commitment(&opened, [schedule.SeedSize]byte(nonce)), commitment) {
		return fmt.Errorf("trial %s %w: another pair, current, kind or nonce", t.Trial, errChanged)
	}
	return nil
}
