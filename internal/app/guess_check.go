package app

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/study"
)

// checkGuesses checks what an edit says of guesses: a trial of the season or of
// the schedule in force, a pair of the season or none or unknown, and who
// guessed.
func (e *edit) checkGuesses(ctx context.Context) error {
	var scheduled []string
	read := false
	for _, name := range e.order {
		r := e.after[name]
		if name.kind != study.KindGuess || r == nil {
			continue
		}
		if !read {
			seal, err := e.study.holdersOfSeal(ctx)
			if err != nil {
				return err
			}
			scheduled, read = seal.trials, true
		}
		if trial := r.Fields["trial"]; trial == "" {
			e.fault(name, "trial", "the guess names no trial", "expected one of the season or of the sealed schedule")
		} else if !e.holdsTrial(trial) && !slices.Contains(scheduled, trial) {
			e.fault(name, "trial", fmt.Sprintf("there is no trial %q", trial), "expected one of the season or of the sealed schedule")
		}
		labels := ids(e.from, study.KindPair)
		if pair := r.Fields["pair"]; pair != guessNone && pair != guessUnknown && !slices.Contains(labels, pair) {
			wrong := fmt.Sprintf("there is no pair %q", pair)
			if pair == "" {
				wrong = "the guess names no pair"
			}
			expected := "expected none for a silent trial, or unknown"
			if len(labels) > 0 {
				expected = "expected one of " + strings.Join(labels, ", ") + ", or none for a silent trial, or unknown"
			}
			e.fault(name, "pair", wrong, expected)
		}
		if strings.TrimSpace(r.Fields["by"]) == "" {
			e.fault(name, "by", "nobody is named", "expected who guessed")
		}
	}
	return nil
}

// holdsTrial reports whether the season has a trial, as the edit would leave it.
func (e *edit) holdsTrial(id string) bool {
	name := recordName{study.KindTrial, id}
	if r, touched := e.after[name]; touched {
		return r != nil
	}
	_, there := e.from.at()[name]
	return there
}

// heldSeal is the schedule that is sealed; the zero value where none is.
type heldSeal struct {
	entry   string   // that wrote it down
	trials  []string // of it, spare draws last
	holders []string // of its keys
}

// holdersOfSeal reads the last seal that stands.
func (s *Study) holdersOfSeal(ctx context.Context) (heldSeal, error) {
	states, err := s.folder.Journal.States(ctx, study.KindSeal)
	if err != nil || len(states) == 0 {
		return heldSeal{}, err
	}
	last := states[len(states)-1]
	seal := heldSeal{entry: last.First}
	for i := 1; i <= mostKeys; i++ {
		holder, err := s.people.name(ctx, last.Fields[holderField+strconv.Itoa(i)])
		if err != nil {
			return seal, err
		}
		if holder = strings.TrimSpace(holder); holder != "" {
			seal.holders = append(seal.holders, holder)
		}
	}
	var doc struct {
		Trials, Spare []struct{ Trial string }
	}
	if json.Unmarshal([]byte(last.Fields[documentField]), &doc) == nil { // a damaged document is told where it is shown
		for _, t := range slices.Concat(doc.Trials, doc.Spare) {
			seal.trials = append(seal.trials, t.Trial)
		}
	}
	return seal, nil
}
