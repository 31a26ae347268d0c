package journal

import (
	"maps"
	"reflect"

	"brinefield/core/study"
)

// Changes drafts what leads from the current state of a record (nil: none) to
// the wanted one: a new record, a correction, or nothing (ok is false).
func Changes(now *State, want study.Record) (d Draft, ok bool) {
	d = Draft{Kind: want.Kind, Subject: want.ID}
	if now == nil || now.Removed {
		d.Act = Record
		d.Body = Body{Fields: maps.Clone(want.Fields), Table: want.Table}
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
	if want.Table != nil && !reflect.DeepEqual(now.Table, want.Table) {
		d.Body.Table = want.Table
	}
	return d, len(d.Body.Fields) > 0 || d.Body.Table != nil
}
