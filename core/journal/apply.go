package journal

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"brinefield/core/study"
)

// State is a record as its entries leave it.
type State struct {
	study.Record
	First   string // ID of the entry that first recorded it
	Last    string // ID of the last entry about it
	Entries int    // how many there are about it
	Removed bool
}

// Apply folds one entry into the state of the record that it is about; nil
// stands for a record that has no entry yet. Neither is changed, and the state
// after shares nothing with them. A removed record keeps its last values.
//
// A correction of a record that is not there, or that says that other values
// were there before, is applied all the same: two devices may have corrected
// the same record, and the later entry holds, the one with the greater ID. So a record that one device
// removed and another corrected afterwards is there, with all its values.
// Nothing is lost: both stay in the history.
//
// Errors: those of [Upcast].
func Apply(before *State, e Entry) (*State, error) {
	e, err := Upcast(e)
	if err != nil {
		return nil, fmt.Errorf("entry %s: %w", e.ID, err)
	}
	after := &State{Record: study.Record{Kind: e.Kind, ID: e.Subject}, First: e.ID, Entries: 1, Last: e.ID, Removed: e.Act == Remove}
	if before != nil {
		after.First, after.Entries = before.First, before.Entries+1
	}
	fields := map[string]string{}
	if before != nil && e.Act != Record {
		maps.Copy(fields, before.Fields)
		after.Table = cloneTable(before.Table)
	}
	if e.Act != Remove {
		maps.Copy(fields, e.Body.Fields)
		if e.Body.Table != nil {
			after.Table = someTable(e.Body.Table)
		}
	}
	after.Fields = someFields(fields)
	return after, nil
}

// InOrder gives entries in the order of their IDs, in which a record is folded
// whatever the order in which its entries arrived. Entries that come in order
// already are returned as they are; else it is a sorted copy.
func InOrder(entries []Entry) []Entry {
	byID := func(a, b Entry) int { return cmp.Compare(a.ID, b.ID) }
	if slices.IsSortedFunc(entries, byID) {
		return entries
	}
	return slices.SortedFunc(slices.Values(entries), byID)
}

// Fold is the record that all its entries add up to; nil where there are none.
// The order in which they are given does not matter: see [InOrder].
//
// Errors: those of [Apply].
func Fold(entries []Entry) (*State, error) {
	var state *State
	for _, e := range InOrder(entries) {
		var err error
		if state, err = Apply(state, e); err != nil {
			return nil, err
		}
	}
	return state, nil
}
