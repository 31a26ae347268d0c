package season

import (
	"strings"

	"brinefield/core/study"
)

// Records gives the records of a study, in the order of [study.SeasonKinds]
// and then of the canonical folder. Their fields hold the text that [Write]
// prints, under the folder's names: a key of study.toml that holds text holds
// it plainly, without quotation marks; a list is a list of TOML
// ("[3.0, 2.0]"). What is blank is left out, an empty list of aliases too.
//
// The kinds from site to uncertainty that a study has once have no ID. The ID
// of a pair is its label, of a species its name, of a trial, an individual, a
// clip, a pass what its table calls it; none of these is repeated among the
// fields. A cast is the readings of one time, and its ID is that time; a track
// has the ID of its pass. Both hold a Table, in the folder's order, of the
// columns that the folder needs and those that this cast or track uses.
//
// The ID of a plate is its label. A plate without one is "plate"; a second
// and third are "plate 2" and "plate 3", whatever is free. A plate that is
// labelled so has the field label, which always counts more than the ID.
//
// For what [Read] or [FromRecords] made without faults, the study that
// FromRecords makes of the records is written to the same bytes. Errors: those
// of [Write]; two tracks of one pass.
func Records(s *study.Study) ([]study.Record, error) {
	w, err := newWriter(s)
	if err != nil {
		return nil, err
	}
	out := make([]study.Record, 0, 16+len(s.Pairs)+len(s.Species)+len(s.Trials)+len(s.Individuals)+len(s.Clips)+len(s.Passes)+len(s.Tracks))
	out = w.sectionRecords(out)
	out = w.castRecords(out)
	out = w.rowRecords(out, study.KindTrial, len(s.Trials), w.trialRow)
	out = w.rowRecords(out, study.KindIndividual, len(s.Individuals), w.individualRow)
	out = w.rowRecords(out, study.KindClip, len(s.Clips), w.clipRow)
	out = w.rowRecords(out, study.KindPass, len(s.Passes), w.passRow)
	out = w.trackRecords(out)
	if w.err != nil {
		return nil, w.err
	}
	return out, nil
}

// sectionRecords gives the sections of study.toml.
func (w *writer) sectionRecords(out []study.Record) []study.Record {
	taken := map[string]bool{} // IDs of plates
	for i := range w.study.Plates {
		taken[w.study.Plates[i].Label] = true
	}
	for _, section := range w.studySections() {
		kind := study.Kind(strings.Trim(section.header, "[]"))
		if section.header == "" {
			kind = study.KindStudy
		}
		r, fields := study.Record{Kind: kind}, map[string]string{}
		for _, k := range section.keys {
			switch {
			case kind == study.KindStudy && k.key == "format", k.key == "aliases" && k.text == "[]":
			case k.key == idKeys[kind]:
				r.ID = k.text
				if kind == study.KindPlate && saysNoLabel(k.text) {
					fields[k.key] = k.text
				}
			default:
				fields[k.key] = k.text
			}
		}
		if len(fields) > 0 {
			r.Fields = fields
		}
		if kind == study.KindPlate && r.ID == "" {
			r.ID = freePlateID(taken)
			taken[r.ID] = true
		}
		out = append(out, r)
	}
	return out
}

// rowRecords gives one record for each row of a table.
func (w *writer) rowRecords(out []study.Record, kind study.Kind, n int, row rowMaker) []study.Record {
	of := recordTables[kind]
	w.eachRow(of.what, of.specs, n, row, func(_ int, cells []string) {
		filled := 0
		for _, text := range cells[1:] {
			if text != "" {
				filled++
			}
		}
		fields := make(map[string]string, filled)
		for c, text := range cells[1:] {
			if text != "" {
				fields[of.specs[c+1].name] = text
			}
		}
		out = append(out, study.Record{Kind: kind, ID: cells[0], Fields: fields})
	})
	return out
}

// castRecords gives one record for each time of the cast.
func (w *writer) castRecords(out []study.Record) []study.Record {
	cast := castByTime(w.study.Cast)
	first := len(out)
	var rows [][]string // all cells, of the last record
	finish := func() {
		if len(out) > first {
			out[len(out)-1].Table = usedColumns(waterColumns, rows)
		}
		rows = nil
	}
	w.eachRow("water reading", waterColumns, len(cast), w.castRows(cast), func(_ int, cells []string) {
		if len(out) == first || out[len(out)-1].ID != cells[waterTime] {
			finish()
			out = append(out, study.Record{Kind: study.KindCast, ID: cells[waterTime]})
		}
		rows = append(rows, append([]string(nil), cells...))
	})
	finish()
	return out
}

// usedColumns makes a table of rows with a cell for each spec: without the
// first column, which is the ID, and without optional ones that hold nothing.
func usedColumns(specs []columnSpec, rows [][]string) *study.Table {
	used := neededColumns(specs)
	for _, row := range rows {
		for c, text := range row {
			used[c] = used[c] || text != ""
		}
	}
	t := &study.Table{Rows: make([][]string, len(rows))}
	for c, spec := range specs {
		if c == 0 || !used[c] {
			continue
		}
		t.Columns = append(t.Columns, spec.name)
		for i, row := range rows {
			t.Rows[i] = append(t.Rows[i], row[c])
		}
	}
	return t
}

// trackRecords gives one record for each track that has fixes.
func (w *writer) trackRecords(out []study.Record) []study.Record {
	cells := make([]string, len(trackColumns))
	seen := make(map[int]bool, len(w.study.Tracks))
	for i := range w.study.Tracks {
		track := &w.study.Tracks[i]
		n := 0
		for _, point := range track.Points {
			n += len(point.Fixes)
		}
		used := neededColumns(trackColumns)
		useTrackColumns(track, used)
		t := &study.Table{Rows: make([][]string, 0, n)}
		var at []int
		for c, spec := range trackColumns {
			if c != trackPass && used[c] {
				t.Columns, at = append(t.Columns, spec.name), append(at, c)
			}
		}
		block := make([]string, 0, n*len(at)) // one piece of memory for all rows
		w.eachFix(i, cells, func() {
			from := len(block)
			for _, c := range at {
				block = append(block, cells[c])
			}
			t.Rows = append(t.Rows, block[from:len(block):len(block)])
		})
		if seen[track.Pass] {
			w.fail("pass %q has a second track", cells[trackPass])
		}
		seen[track.Pass] = true
		if n > 0 {
			out = append(out, study.Record{Kind: study.KindTrack, ID: cells[trackPass], Table: t})
		}
	}
	return out
}
