package app

import (
	"context"
	"fmt"
	"slices"
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
