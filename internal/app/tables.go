package app

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"brinefield/core/season"
	"brinefield/core/study"
)

// ownFields are the fields of the kinds that a study has beside its season.
var ownFields = map[study.Kind][]string{
	study.KindProtocol:    {"people", "contact", "method", "start", "end", "hypotheses", "criteria", "stopping_rule", "analysis_plan"},
	study.KindPermit:      {"what", "authority", "number", "holder", "valid_from", "valid_to", "animals_most", "hours_most", "note"},
	study.KindCaution:     {"ticked", "by", "note"},
	study.KindRig:         {"spec"},
	study.KindBench:       {"date", "position", "pair", "current_uA", "supply_V", "offset_mV", "silent_uA", "water_S_per_m", "by", "note"},
	study.KindCalibration: {"spec"},
	study.KindBackground:  {"spec"},
	study.KindGuess:       {"trial", "pair", "by", "note"},
	study.KindDeck:        {"spec"},
	study.KindCheck:       {"trial", "check", "state", "time", "by", "note"},
	study.KindReading:     {"trial", "when", "time", "by"}, // its reference says nothing to people
	study.KindEvent:       {"what", "trial", "time", "animal", "text", "by"},
	study.KindCount:       {"permit", "trial", "time", "species", "animals", "hours", "by", "note"},
	study.KindAttachment:  {"kind", "ref", "about", "type", "bytes", "time", "by"},
	study.KindClock:       {"offset_s", "stated", "note"},
	study.KindDistinct:    {"by", "note"},
	study.KindDossier:     {"spec", "people"},
	study.KindCamera:      {"spec", "note"},
	study.KindFootage:     {"chapters", "sync", "poses", "note"},
	study.KindFixes: slices.Concat([]string{"clip", "start_frame", "onset_frame", "end_frame", "heights"},
		study.PersonFields[study.KindFixes], []string{"track"}),
}

// ownSingle are those that a study has only once; they may be missing.
var ownSingle = []study.Kind{study.KindProtocol, study.KindRig, study.KindCalibration, study.KindBackground, study.KindDeck, study.KindDossier}

// fieldsOf lists the fields that may be edited of a kind, in order.
func fieldsOf(kind study.Kind) []season.Field {
	fields := season.FieldsOf(kind)
	for _, name := range ownFields[kind] {
		fields = append(fields, season.Field{Name: name, Optional: true})
	}
	return fields
}

// editableKinds are the kinds that people write: what an import, an opening or
// an erasure wrote down stays as it is.
var editableKinds = slices.Concat(study.SeasonKinds, study.OwnKinds)

func editable(kind study.Kind) bool { return slices.Contains(editableKinds, kind) }

// isSingle reports whether a study has a kind only once.
func isSingle(kind study.Kind) bool {
	return slices.Contains(ownSingle, kind) || slices.Contains(study.SeasonKinds, kind) && season.IDField(kind) == ""
}

func fieldNames(kind study.Kind) []string {
	var names []string
	for _, f := range fieldsOf(kind) {
		names = append(names, f.Name)
	}
	return names
}

// unknownNames are fields that the kind does not have, in byte order.
func unknownNames(fields map[string]string, names []string) []string {
	var unknown []string
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		if !slices.Contains(names, name) {
			unknown = append(unknown, name)
		}
	}
	return unknown
}

// hasRows reports whether a record of the kind is a series of readings.
func hasRows(kind study.Kind) bool { return kind == study.KindCast || kind == study.KindTrack }

// Tables names the tables of the season and counts their records.
func (s *Study) Tables(ctx context.Context) (TableList, error) {
	list := TableList{Tables: []TableName{}}
	current, err := s.current(ctx)
	if err != nil {
		return list, err
	}
	for _, kind := range study.SeasonKinds {
		list.Tables = append(list.Tables, TableName{Kind: string(kind), Rows: len(current.standing(kind))})
	}
	return list, nil
}

// Table is a part of one table as it stands. What a study has only once is a
// table of one row, which is blank where nothing was written yet.
//
// Errors: [ErrUnknownTable].
func (s *Study) Table(ctx context.Context, kind string, offset, limit int) (TableView, error) {
	k := study.Kind(kind)
	if !editable(k) {
		return TableView{}, fmt.Errorf("%w: %q", ErrUnknownTable, kind)
	}
	right, err := s.right(ctx)
	if err != nil {
		return TableView{}, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return TableView{}, err
	}
	v := TableView{
		Kind: kind, ReadOnly: s.folder.ReadOnly, Blind: !right.Granted(), Offset: max(offset, 0),
		Columns: s.columns(a, k), Rows: []TableRow{},
	}
	states := a.current.standing(k)
	v.Total = len(states)
	if isSingle(k) && len(states) == 0 {
		v.Total = 1
		if v.Offset == 0 {
			v.Rows = append(v.Rows, TableRow{Cells: make([]string, len(v.Columns))})
		}
		return v, nil
	}
	for i := v.Offset; i < len(states) && len(v.Rows) < limit; i++ {
		r, err := s.clearRecord(ctx, a, nameOf(states[i].Record))
		if err != nil {
			return TableView{}, err
		}
		v.Rows = append(v.Rows, tableRow(v, *r, states[i].Entries, right))
	}
	return v, nil
}

func tableRow(v TableView, r study.Record, entries int, right Right) TableRow {
	row := TableRow{ID: r.ID, Entries: entries, Cells: make([]string, len(v.Columns))}
	for i, column := range v.Columns {
		if !column.Guarded || right.Sees(r.ID) {
			row.Cells[i] = r.Fields[column.Name]
		}
	}
	if r.Table != nil {
		row.Readings = len(r.Table.Rows)
	}
	return row
}

// columns of a table: a track and a cast show none of their own rows.
func (s *Study) columns(a *Assembled, kind study.Kind) []TableColumn {
	columns := []TableColumn{}
	if hasRows(kind) {
		return columns
	}
	for _, f := range fieldsOf(kind) {
		columns = append(columns, TableColumn{Name: f.Name, Optional: f.Optional, Guarded: f.Guarded, Choices: choices(a, kind, f.Name)})
	}
	return columns
}

// choices are the values that a field can have, where they are few.
func choices(a *Assembled, kind study.Kind, field string) []string {
	switch {
	case kind == study.KindPass && (field == "turned" || field == "bit"):
		return []string{"yes", "no"}
	case kind == study.KindPass && (field == "pair" || field == "turn_pair"):
		return ids(a, study.KindPair)
	case field == "species" && (kind == study.KindPass || kind == study.KindIndividual):
		return ids(a, study.KindSpecies)
	case kind == study.KindTrial && field == "plate":
		return plateLabels(a)
	case kind == study.KindBottom && field == "kind":
		return []string{"insulating", "sediment"}
	case kind == study.KindPlate && field == "shape":
		return []string{"rectangle", "disc"}
	case kind == study.KindSchedule && field == "rule":
		return []string{"uniform", "blocks"}
	case kind == study.KindWater && field == "cast":
		return []string{season.WaterFile}
	case kind == study.KindCaution && field == "ticked":
		return []string{"yes"}
	case kind == study.KindCheck && field == "state":
		return checkStates
	case kind == study.KindEvent && field == "what":
		return eventKinds
	case kind == study.KindCount && field == "species":
		return ids(a, study.KindSpecies)
	}
	return nil
}

func ids(a *Assembled, kind study.Kind) []string {
	var out []string
	for _, state := range a.current.standing(kind) {
		out = append(out, state.ID)
	}
	return out
}

func plateLabels(a *Assembled) []string {
	var out []string
	for i := range a.Study.Plates {
		if label := a.Study.Plates[i].Label; label != "" {
			out = append(out, label)
		}
	}
	return out
}

// clearRecord is one record that stands, with names in the place of
// references and what the right allows of a trial; nil where there is none.
func (s *Study) clearRecord(ctx context.Context, a *Assembled, name recordName) (*study.Record, error) {
	if i, ok := a.at()[name]; ok {
		r := a.records[i]
		return &r, nil
	}
	state := a.current.state(name)
	if state == nil {
		return nil, nil
	}
	r, err := s.people.clear(ctx, state.Record)
	return &r, err
}
