package app

import (
	"fmt"
	"regexp"
	"slices"
	"time"

	"brinefield/core/season"
	"brinefield/core/study"
)

// check refuses an edit that would bring a fault into the season, and gives
// what is written its canonical text.
func (e *edit) check() error {
	if err := e.failed(); err != nil {
		return err
	}
	if !slices.ContainsFunc(e.order, func(n recordName) bool { return ofSeason(n.kind) }) {
		e.read = &seasonRead{e.from.Study, e.from.Faults, e.from.Places}
		return nil
	}
	if e.checkPasses() {
		return nil
	}
	read := readRecords(e.records())
	e.faults = append(e.faults, newFaults(e.from, read.faults, read.places, e.order[0])...)
	if err := e.failed(); err != nil {
		return err
	}
	if len(read.faults) == 0 {
		e.takeCanonical(read.study)
		e.read = &read
	}
	return nil
}

func ofSeason(kind study.Kind) bool { return slices.Contains(study.SeasonKinds, kind) }

// records are those of the season as the edit would leave them.
func (e *edit) records() []study.Record {
	out := make([]study.Record, 0, len(e.from.records)+len(e.order))
	for i := range e.from.records {
		name := nameOf(e.from.records[i])
		if after, touched := e.after[name]; !touched {
			out = append(out, e.from.records[i])
		} else if after != nil {
			out = append(out, *after)
		}
	}
	for _, name := range e.order {
		if _, there := e.from.at()[name]; !there && e.after[name] != nil && ofSeason(name.kind) {
			out = append(out, *e.after[name])
		}
	}
	return out
}

// rowNumber is where a sentence names another row, which moves when a record
// comes or goes.
var rowNumber = regexp.MustCompile(`(row|line)s? [0-9]+`)

type faultPlace struct {
	kind            study.Kind
	id, field, what string
}

func placeOf(places season.Places, f season.Fault) (p faultPlace, ok bool) {
	p.kind, p.id, p.field, ok = places.Of(f)
	p.what = rowNumber.ReplaceAllString(f.Wrong, "$1")
	return p, ok
}

// newFaults are the faults that were not there before. Where a whole section
// was missing, what is still missing of it is no new fault: a section can be
// filled in field by field.
func newFaults(before *Assembled, faults []season.Fault, places season.Places, touched recordName) []EditFault {
	known, missing := map[faultPlace]int{}, map[study.Kind]bool{}
	for _, f := range before.Faults {
		p, _ := placeOf(before.Places, f)
		known[p]++
		if p.id == "" && p.field == "" {
			missing[p.kind] = true
		}
	}
	filling := func(p faultPlace, f season.Fault) bool {
		i, there := before.at()[recordName{p.kind, p.id}]
		blank := !there || before.records[i].Fields[p.field] == ""
		return f.Found == "" && blank && isSingle(p.kind) && (missing[p.kind] || lacking(before, p.kind))
	}
	var out []EditFault
	for _, f := range faults {
		p, ok := placeOf(places, f)
		if known[p] > 0 {
			known[p]--
			continue
		}
		if filling(p, f) {
			continue
		}
		if !ok {
			p.kind, p.id, p.field = touched.kind, touched.id, ""
		}
		out = append(out, EditFault{Kind: string(p.kind), ID: p.id, Field: p.field, Wrong: f.Wrong, Expected: f.Expected})
	}
	return out
}

// lacking reports whether a section was already at fault for something that it
// lacks.
func lacking(before *Assembled, kind study.Kind) bool {
	return slices.ContainsFunc(before.Faults, func(f season.Fault) bool {
		p, ok := placeOf(before.Places, f)
		return ok && p.kind == kind && f.Found == ""
	})
}

// takeCanonical replaces what the edit writes by the text of the canonical
// folder, so that "6.0" and "6" are not two truths. A text that has no
// canonical one stays as it was typed.
func (e *edit) takeCanonical(st *study.Study) {
	cut := *st
	cut.Tracks, cut.Cast, cut.Passes = nil, nil, nil
	for i := range st.Passes {
		if e.after[recordName{study.KindPass, st.Passes[i].ID}] != nil {
			cut.Passes = append(cut.Passes, st.Passes[i])
		}
	}
	records, err := season.Records(&cut)
	if err != nil {
		return
	}
	for _, r := range records {
		if touched := e.after[nameOf(r)]; touched != nil {
			touched.Fields = r.Fields
		}
	}
}

// checkOwn checks the records that a study has beside its season.
func (e *edit) checkOwn() {
	for _, name := range e.order {
		r := e.after[name]
		if r == nil {
			continue
		}
		switch name.kind {
		case study.KindProtocol:
			e.checkDates(r, "start", "end")
		case study.KindPermit:
			e.checkDates(r, "valid_from", "valid_to")
			e.checkPermitLimits(r)
		case study.KindCaution:
			e.checkCaution(r)
		case study.KindRig:
			e.checkRigSpec(r)
		case study.KindBench:
			e.checkBench(r)
		case study.KindBackground:
			e.checkBackground(r)
		case study.KindCalibration:
			e.checkCalibrationSpec(r)
		case study.KindDeck:
			e.checkDeckSpec(r)
		case study.KindDossier:
			e.checkDossier(r)
		case study.KindCheck, study.KindEvent, study.KindCount:
			e.checkLogged(r)
		}
	}
}

func (e *edit) checkDates(r *study.Record, from, to string) {
	dates := map[string]time.Time{}
	for _, field := range []string{from, to} {
		text := r.Fields[field]
		if text == "" {
			continue
		}
		date, err := time.Parse(time.DateOnly, text)
		if err != nil {
			e.fault(nameOf(*r), field, fmt.Sprintf("%q is no date", text), "expected one like 2026-06-01")
			continue
		}
		dates[field] = date
	}
	if begin, ok := dates[from]; ok {
		if end, ok := dates[to]; ok && end.Before(begin) {
			e.fault(nameOf(*r), to, "it ends before it begins", "expected a date from "+r.Fields[from]+" on")
		}
	}
}

func (e *edit) checkCaution(r *study.Record) {
	if !knownCaution(r.ID) {
		e.fault(nameOf(*r), "", fmt.Sprintf("there is no caution %q", r.ID), "expected one of the page Question")
	}
	if v := r.Fields["ticked"]; v != "" && v != "yes" {
		e.fault(nameOf(*r), "ticked", fmt.Sprintf("%q is no answer", v), "expected yes, or nothing")
	}
}
