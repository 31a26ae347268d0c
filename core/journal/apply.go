package journal

import (
	"fmt"
	"maps"

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
// stands for a record that has no entry yet. The state before is not changed.
//
// A correction of a record that is not there, or that says that other values
// were there before, is applied all the same: two devices may have corrected
// the same record, and the later entry holds. Nothing is lost: both stay in
// the history.
//
// Errors: those of [Upcast].
func Apply(before *State, e Entry) (*State, error) {
	e, err := Upcast(e)
	if err != nil {
		return nil, fmt.Errorf("entry %s: %w", e.ID, err)
	}
	after := &State{Record: study.Record{Kind: e.Kind, ID: e.Subject}, First: e.ID, Entries: 1, Last: e.ID}
	if before != nil {
		after.First, after.Entries = before.First, before.Entries+1
	}
	switch e.Act {
	case Remove:
		after.Removed = true
		if before != nil {
			after.Fields, after.Table = before.Fields, before.Table
		}
	case Record:
		after.Fields, after.Table = maps.Clone(e.Body.Fields), e.Body.Table
	case Correct:
		if before != nil {
			after.Fields, after.Table = maps.Clone(before.Fields), before.Table
		}
		if after.Fields == nil {
			after.Fields = map[string]string{}
		}
		for name, value := range e.Body.Fields {
			if value == "" {
				delete(after.Fields, name)
			} else {
				after.Fields[name] = value
			}
		}
		if e.Body.Table != nil {
			after.Table = e.Body.Table
		}
	}
	if len(after.Fields) == 0 {
		after.Fields = nil
	}
	return after, nil
}
