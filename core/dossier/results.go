package dossier

import (
	"slices"
	"strings"
)

// results are all sections of results.
func (w *writer) results() {
	w.section("results")
	switch n := w.d.sealed; {
	case w.d.allSealed():
		w.say("Every trial is sealed. Which field an animal met is not known before they are opened, and nothing is estimated.")
	case n > 0:
		w.say("{} of {} sealed: they have no part in any estimate below.", n, plural(w.d.trials, "trial is", "trials are"))
	case w.d.passes == 0:
		w.say("Passes: {}. Nothing is estimated.", missing)
	}
	if remarks := w.d.sentencesOf(w.d.in.Findings.Warnings); len(remarks) > 0 {
		w.say("To bear in mind:")
		w.list(remarks)
	}
	w.recorded()
	w.field()
	w.thresholds()
	w.preferences()
	w.published()
	w.individuals()
	w.curves()
	w.uncertainties()
}

// nothing says that a section is empty, where there are no estimates; why stands
// at the head of the results.
func (w *writer) nothing() bool {
	if w.d.estimated() {
		return false
	}
	w.say("Nothing is estimated.")
	return true
}

func (w *writer) recorded() {
	w.section("recorded")
	d := w.d
	if d.trials == 0 && d.passes == 0 {
		w.say("Trials and passes: {}.", missing)
		w.figure("timeline")
		return
	}
	var text passage
	text.say("{} and {} are recorded", plural(d.trials, "trial", "trials"), plural(d.passes, "pass", "passes"))
	if d.passes > 0 {
		text = joinRuns(text, say(", of {} that were recognised", plural(d.identified, "animal", "animals"))...)
		if d.unidentified > 0 {
			text = joinRuns(text, say(" and, in {}, of animals that were not", plural(d.unidentified, "pass", "passes"))...)
		}
	}
	text = joinRuns(text, Run{Text: "."})
	if d.driven+d.silent > 0 {
		text.say("A pair was driven in {}; {} silent.", plural(d.driven, "trial", "trials"), plural(d.silent, "trial was", "trials were"))
	}
	if d.sealed > 0 {
		text.say("{} still sealed.", plural(d.sealed, "trial is", "trials are"))
	}
	if d.used+d.leftOut > 0 {
		text.say("{} count in the estimates and {} do not.", plural(d.used, "pass", "passes"), d.leftOut)
	}
	w.paragraph(text)
	w.recordedTable()
	w.leftOut()
	w.figure("timeline")
}

// recordedTable counts passes and turns of each species by role.
func (w *writer) recordedTable() {
	if w.d.allSealed() {
		w.sealedTable()
		return
	}
	t := Table{
		Name: "recorded", Title: "Passes and turns, by what the pair was",
		Note: "All passes, those that do not count in the estimates too. Turns: turned, or bit.",
		Columns: []Column{
			{Name: "species", Title: "Species"},
			{Name: "animals", Title: "Animals", Numbers: true},
			{Name: "passes_active", Title: "Active: passes", Numbers: true},
			{Name: "turns_active", Title: "turns", Numbers: true},
			{Name: "passes_control", Title: "Control: passes", Numbers: true},
			{Name: "turns_control", Title: "turns", Numbers: true},
			{Name: "passes_silent", Title: "Silent: passes", Numbers: true},
			{Name: "turns_silent", Title: "turns", Numbers: true},
			{Name: "passes_sealed", Title: "Sealed: passes", Numbers: true},
		},
	}
	roles := []string{"active", "control", "silent"}
	if w.d.atSilent == 0 {
		roles = roles[:2]
		t.Columns = slices.Delete(t.Columns, 6, 8)
	}
	sealed := w.d.sealed > 0
	if !sealed {
		t.Columns = t.Columns[:len(t.Columns)-1]
	}
	for i := range w.d.species {
		c := &w.d.species[i]
		passes, turns := map[string]int{}, map[string]int{}
		seen := 0
		for k := range w.d.in.Passes {
			p := &w.d.in.Passes[k]
			if p.Species != c.name {
				continue
			}
			seen++
			passes[p.Role]++
			if p.Responded {
				turns[p.Role]++
			}
		}
		if seen == 0 {
			continue
		}
		row := []Cell{speciesWordCell(c.name), wholeCell(c.animals)}
		for _, role := range roles {
			row = append(row, wholeCell(passes[role]), wholeCell(turns[role]))
		}
		if sealed {
			row = append(row, wholeCell(passes[""]))
		}
		t.Rows = append(t.Rows, row)
	}
	w.table(t)
}

// sealedTable counts passes and turns where no role is known.
func (w *writer) sealedTable() {
	t := Table{
		Name: "recorded", Title: "Passes and turns", Note: "All passes. Turns: turned, or bit. Which pair was active is sealed.",
		Columns: []Column{{Name: "species", Title: "Species"}, {Name: "animals", Title: "Animals", Numbers: true}, {Name: "passes", Title: "Passes", Numbers: true}, {Name: "turns", Title: "Turns", Numbers: true}},
	}
	for i := range w.d.species {
		c := &w.d.species[i]
		if c.passes > 0 {
			t.Rows = append(t.Rows, []Cell{speciesWordCell(c.name), wholeCell(c.animals), wholeCell(c.passes), wholeCell(c.turns)})
		}
	}
	w.table(t)
}

func (w *writer) leftOut() {
	var items [][]Run
	for _, r := range w.d.reasons {
		items = append(items, say("{}: {}", plural(r.n, "pass", "passes"), r.why))
	}
	if len(items) > 0 {
		w.say("Why passes do not count:")
		w.list(items)
	}
}

func (w *writer) field() {
	w.section("field")
	said := false
	for i := range w.d.in.Maps {
		m := &w.d.in.Maps[i]
		if m.Plane != "plan" {
			continue
		}
		said = true
		if m.Why != "" {
			w.say("There is no map of the field of pair {}: {}.", orMissing(m.Pair), clause(m.Why))
			continue
		}
		var text passage
		above := "the bottom"
		if len(w.d.s.Plates) > 0 {
			above = "the plate's top"
		}
		text.say("The map shows the field of pair {} alone at {} in water of {}, {} above {}.", orMissing(m.Pair), withUnitSet(m.CurrentUA, "µA"), withUnitSet(m.WaterSPM, "S/m"), withUnitSet(m.HeightCm, "cm"), above)
		if m.Error > 0 {
			text.say("The solver puts its own error at {} of the field at most.", percentText(m.Error))
		}
		w.paragraph(text)
	}
	items := w.reaches()
	if len(items) > 0 {
		w.say("How far the field reaches, along the bottom from the centre of the pair:")
		w.list(items)
	}
	if !said && len(items) == 0 {
		w.say("There is no map of the field.")
	}
	w.figure("field-map", "field-section", "range-at-height")
}

func (w *writer) reaches() [][]Run {
	var items [][]Run
	for i := range w.d.in.Ranges {
		r := &w.d.in.Ranges[i]
		of := w.d.named(r.Of)
		if value := withUnitSet(r.ThresholdNVPerC, "nV/cm"); len(of) == 0 {
			of = say("{}", value)
		} else if tidy(r.Of) != strings.ReplaceAll(value, thin, " ") {
			of = joinRuns(of, say(", {}", value)...)
		}
		if r.Why != "" && r.ThresholdNVPerC == 0 {
			continue // the map says why
		}
		if r.Why != "" {
			items = append(items, say("{}, pair {}: not known, {}", of, orMissing(r.Pair), clause(r.Why)))
			continue
		}
		item := say("{}, pair {} at {}: ", of, orMissing(r.Pair), withUnitSet(r.CurrentUA, "µA"))
		parts, last := [][]Run{}, -1
		for k := range min(len(r.HeightCm), len(r.ReachCm)) {
			if !known(r.ReachCm[k]) {
				continue
			}
			if len(parts) == 0 {
				parts = append(parts, say("{} at a height of {}", withUnit(*r.ReachCm[k], "cm"), withUnitSet(r.HeightCm[k], "cm")))
			}
			last = k
		}
		switch {
		case last < 0:
			item = joinRuns(item, say("nowhere at the heights that were looked at")...)
		case last == len(r.HeightCm)-1:
			item = joinRuns(joinRuns(item, parts[0]...), say(", and still {} at {}", withUnit(*r.ReachCm[last], "cm"), withUnitSet(r.HeightCm[last], "cm"))...)
		default:
			item = joinRuns(joinRuns(item, parts[0]...), say(", and nowhere at {} or higher", withUnitSet(r.HeightCm[last+1], "cm"))...)
		}
		items = append(items, item)
	}
	return items
}

// individuals are animals one by one, in the order of the findings.
func (w *writer) individuals() {
	w.section("individuals")
	if w.nothing() {
		w.figure("individuals")
		return
	}
	all := w.d.in.Findings.Individuals
	if len(all) == 0 {
		w.say("Animals that were recognised: {}.", missing)
		w.figure("individuals")
		return
	}
	both := 0
	for i := range all {
		if known(all[i].LowestTurn) && known(all[i].HighestNoTurn) {
			both++
		}
	}
	w.say("{} recognised. At active pairs {} of them had turned by some field and had also met one without turning. Nothing is estimated here: these are extremes of what was seen, and a turn in a very small field may be one that no field caused.",
		plural(len(all), "animal was", "animals were"), both)
	const most = 40
	t := Table{
		Name: "report-individuals", Title: "Animals, with the smallest field by which each had turned and the largest that it met without turning",
		Columns: []Column{
			{Name: "individual", Title: "Animal"},
			{Name: "species", Title: "Species"},
			{Name: "active", Title: "Active: turns of passes"},
			{Name: "control", Title: "Control: turns of passes"},
			{Name: "silent", Title: "Silent: turns of passes"},
			{Name: "lowest_turn_nV_per_cm", Title: "Had turned by", Unit: "nV/cm", Numbers: true},
			{Name: "highest_no_turn_nV_per_cm", Title: "Did not turn at", Unit: "nV/cm", Numbers: true},
		},
	}
	for i := range all {
		if i == most {
			t.Note = "The first " + count(most) + " of " + count(len(all)) + ". All of them: tables/individuals.csv."
			break
		}
		a := &all[i]
		t.Rows = append(t.Rows, []Cell{
			wordCell(a.ID), speciesWordCell(a.Species), shareCell(a.TurnsActive, a.PassesActive), shareCell(a.TurnsControl, a.PassesControl), shareCell(a.TurnsSilent, a.PassesSilent),
			roundedCell(a.LowestTurn), roundedCell(a.HighestNoTurn),
		})
	}
	w.table(t)
	w.figure("individuals")
}

func shareCell(n, of int) Cell { return Cell{Text: count(n) + " of " + count(of)} }
