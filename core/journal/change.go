package journal

import (
	"brinefield/core/study"
)

// Changes drafts what leads from the current state of a record (nil: none) to
// the wanted one: a new record, a correction, or nothing (ok is false). [Apply]
// of the draft gives the wanted record, its blank fields left out; a table
// that the wanted record does not have is taken away. The draft shares nothing
// with the state or the record.
func Changes(now *State, want study.Record) (d Draft, ok bool) {
	d = Draft{Kind: want.Kind, Subject: want.ID}
	if now == nil || now.Removed {
		d.Act = Record
		d.Body = Body{Fields: someFields(want.Fields), Table: someTable(want.Table)}
		return d, true
	}
	d.Act = Correct
	d.Body.Fields, d.Body.Was = map[string]string{}, map[string]string{}
	for name, value := range want.Fields {
		if now.Fields[name] != value {
			d.Body.Fields[name], d.Body.Was[name] = value, now.Fields[name]
		}
	}
	for name, value := range now.Fields {
		if _, kept := want.Fields[name]; !kept {
			d.Body.Fields[name], d.Body.Was[name] = "", value
		}
	}
	if !sameTable(now.Table, want.Table) {
		d.Body.Table = cloneTable(orNone(want.Table))
	}
	return d, len(d.Body.Fields) > 0 || d.Body.Table != nil
}
