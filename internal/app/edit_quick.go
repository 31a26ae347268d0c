package app

import (
	"slices"

	"brinefield/core/study"
)

// checkPasses checks an edit of fields of passes and of their tracks, the most usual
// one, without reading the whole season: a pass is judged by its own fields and track
// and by the tables that it refers to, never by other passes. It answers false where
// the edit must be checked on the whole, also to tell its faults.
//
// After an edit of tracks the season is read anew when it is next asked for.
func (e *edit) checkPasses() bool {
	if len(e.from.Faults) > 0 {
		return false
	}
	tracks := false
	for _, name := range e.order {
		switch {
		case !ofSeason(name.kind):
		case name.kind == study.KindPass && e.before[name] != nil && e.after[name] != nil:
		case name.kind == study.KindTrack && e.after[name] != nil && e.passAfter(name.id) != nil: // a point that [analysis] names may go with a whole track
			tracks = true
		case name.kind == study.KindTrack && e.before[name] == nil && e.after[name] == nil:
		default:
			return false
		}
	}
	small := readRecords(e.passesAlone())
	if len(small.faults) > 0 || len(small.study.Passes) == 0 {
		return false
	}
	e.takeCanonical(small.study)
	if tracks {
		return true
	}
	e.read = &seasonRead{study: withPasses(e.from.Study, small.study.Passes), places: e.from.Places}
	return true
}

// passAfter is a pass as the edit would leave it; nil where there is none.
func (e *edit) passAfter(id string) *study.Record {
	name := recordName{study.KindPass, id}
	if after, touched := e.after[name]; touched {
		return after
	}
	if i, there := e.from.at()[name]; there {
		return &e.from.records[i]
	}
	return nil
}

// passesAlone are the records of the season as the edit would leave them, with
// no passes and tracks but those that it touches.
func (e *edit) passesAlone() []study.Record {
	touched := map[string]bool{}
	for _, name := range e.order {
		if name.kind == study.KindPass || name.kind == study.KindTrack {
			touched[name.id] = true
		}
	}
	var out []study.Record
	for i := range e.from.records {
		r := &e.from.records[i]
		switch r.Kind {
		case study.KindPass:
			if touched[r.ID] {
				if after := e.passAfter(r.ID); after != nil {
					out = append(out, *after)
				}
			}
		case study.KindTrack:
			if _, edited := e.after[nameOf(*r)]; touched[r.ID] && !edited && e.passAfter(r.ID) != nil {
				out = append(out, *r)
			}
		default:
			out = append(out, *r)
		}
	}
	for _, name := range e.order {
		if after := e.after[name]; name.kind == study.KindTrack && after != nil {
			out = append(out, *after)
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
