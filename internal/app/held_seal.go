package app

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/study"
)

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
