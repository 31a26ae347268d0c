package app

import (
	"slices"

	"brinefield/core/study"
)

// checkPasses checks an edit of fields of passes, the most usual one, without
// reading the whole season: a pass is judged by its own fields and track and by
// the tables that it refers to, never by other passes. It answers false where
// the edit must be checked on the whole, also to tell its faults.
func (e *edit) checkPasses() bool {
	if len(e.from.Faults) > 0 {
		return false
	}
	for _, name := range e.order {
		if ofSeason(name.kind) && (name.kind != study.KindPass || e.before[name] == nil || e.after[name] == nil) {
			return false
		}
	}
	small := readRecords(e.passesAlone())
	if len(small.faults) > 0 || len(small.study.Passes) == 0 {
		return false
	}
	e.takeCanonical(small.study)
	e.read = &seasonRead{study: withPasses(e.from.Study, small.study.Passes), places: e.from.Places}
	return true
}

// passesAlone are the records of the season as the edit would leave them, with
// no passes and tracks but those of the edited ones.
func (e *edit) passesAlone() []study.Record {
	var out []study.Record
	for i := range e.from.records {
		r := &e.from.records[i]
		switch r.Kind {
		case study.KindPass:
			if after := e.after[nameOf(*r)]; after != nil {
				out = append(out, *after)
			}
		case study.KindTrack:
			if e.after[recordName{study.KindPass, r.ID}] != nil {
				out = append(out, *r)
			}
		default:
			out = append(out, *r)
		}
	}
	return out
}

// withPasses is a study in which some passes are others of the same ID. Their
// indices are right as they stand: the tables before them are the same.
func withPasses(whole *study.Study, edited []study.Pass) *study.Study {
	next := *whole
	next.Passes = slices.Clone(whole.Passes)
	at := make(map[string]int, len(next.Passes))
	for i := range next.Passes {
		at[next.Passes[i].ID] = i
	}
	for _, p := range edited {
		i := at[p.ID]
		p.Row = next.Passes[i].Row
		next.Passes[i] = p
	}
	return &next
}
