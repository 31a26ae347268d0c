package season

import (
	"brinefield/core/quantity"
	"brinefield/core/study"
)

const (
	passID = iota
	passTrial
	passTime
	passIndividual
	passSpecies
	passPair
	passTurned
	passBit
	passVisit
	passTurnPair
	passOnset
	passWatched
	passBiteElectrode
	passResponse
	passHeightClass
	passSex
	passLength
	passDisc
	passInView
	passClip
	passScorer
	passSecondScorer
	passOnsetDistance
	passOnsetAngle
	passOnsetHeight
	passClosestDistance
	passClosestAngle
	passClosestHeight
	passNote
)

var passColumns = []columnSpec{
	passID:              {"pass", cellNeeded},
	passTrial:           {"trial", cellNeeded},
	passTime:            {"time", cellNeeded},
	passIndividual:      {"individual", columnNeeded},
	passSpecies:         {"species", cellNeeded},
	passPair:            {"pair", cellNeeded},
	passTurned:          {"turned", columnNeeded},
	passBit:             {"bit", columnNeeded},
	passVisit:           {"visit", optional},
	passTurnPair:        {"turn_pair", optional},
	passOnset:           {"onset_s", optional},
	passWatched:         {"watched_s", optional},
	passBiteElectrode:   {"bite_electrode", optional},
	passResponse:        {"response", optional},
	passHeightClass:     {"height_class", optional},
	passSex:             {"sex", optional},
	passLength:          {"total_length_cm", optional},
	passDisc:            {"disc_width_cm", optional},
	passInView:          {"animals_in_view", optional},
	passClip:            {"clip", optional},
	passScorer:          {"scorer", optional},
	passSecondScorer:    {"second_scorer", optional},
	passOnsetDistance:   {"onset_distance_cm", optional},
	passOnsetAngle:      {"onset_angle_deg", optional},
	passOnsetHeight:     {"onset_height_cm", optional},
	passClosestDistance: {"closest_distance_cm", optional},
	passClosestAngle:    {"closest_angle_deg", optional},
	passClosestHeight:   {"closest_height_cm", optional},
	passNote:            {"note", optional},
}

// readPasses reads passes.csv. Faults that only the tracks can show are looked
// for in checkAcross, so the table is kept.
func (r *reader) readPasses() {
	t := r.open(PassesFile, passColumns, ", and a season needs one")
	if t == nil {
		r.passes.open = true
		return
	}
	r.passes.open = !t.has(passID)
	r.passTable = t
	r.study.Passes = make([]study.Pass, 0, t.rowsAbout())
	for t.next() {
		p := r.readPass(t)
		if p.ID != "" && !r.passes.add(p.ID, len(r.study.Passes)) {
			r.doubled(t, passID, p.ID, r.study.Passes[r.passes.at[p.ID]].Row)
		}
		if lacksOldHeight(t, &p) {
			r.unheighted = append(r.unheighted, len(r.study.Passes))
		}
		r.study.Passes = append(r.study.Passes, p)
	}
	t.settleDoubts()
}

func (r *reader) readPass(t *table) study.Pass {
	p := study.Pass{
		ID: t.name(passID, "a pass's name"), Row: t.row(),
		Trial:   r.reference(t, passTrial, &r.trials),
		Species: r.reference(t, passSpecies, &r.species),
		Pair:    r.reference(t, passPair, &r.pairs),
		Turned:  t.answer(passTurned),
		Bit:     t.answer(passBit),
	}
	p.Time, _ = t.time(passTime, r.study.Site.Zone)
	p.Individual = r.keep(tidyName(t.name(passIndividual, "an individual")))
	if p.Individual != "" {
		r.referenceTo(t, passIndividual, p.Individual, &r.individuals)
	}
	r.readTurn(t, &p)
	r.readAnimal(t, &p)
	p.Onset = t.oldFix(passOnsetDistance)
	p.Closest = t.oldFix(passClosestDistance)
	p.Note = t.text(passNote)
	return p
}

func (r *reader) readTurn(t *table, p *study.Pass) {
	p.Visit = r.keep(t.name(passVisit, "a visit"))
	if t.cell(passTurnPair) != "" {
		p.TurnPair = study.Some(r.reference(t, passTurnPair, &r.pairs))
	}
	p.OnsetS = t.number(passOnset, quantity.Second, zeroOrMore)
	if t.cell(passOnset) != "" && p.Turned != study.Yes && t.has(passTurned) && isAnswer(t.cell(passTurned)) {
		t.fault(passOnset, "an onset is given, but turned is "+turnedWord(p.Turned), "expected turned = yes, or no onset_s")
	}
	p.WatchedS = t.number(passWatched, quantity.Second, zeroOrMore)
	p.BiteElectrode = r.keep(t.text(passBiteElectrode))
	p.Response = r.keep(t.text(passResponse))
	p.HeightClass = r.keep(t.text(passHeightClass))
}

func isAnswer(c string) bool { return c == "" || c == "yes" || c == "no" }

func turnedWord(a study.Answer) string {
	if a == study.No {
		return "no"
	}
	return "blank"
}

func (r *reader) readAnimal(t *table, p *study.Pass) {
	p.Sex = r.keep(t.text(passSex))
	p.TotalLengthM = t.number(passLength, quantity.Centimetre, aboveZero)
	p.DiscWidthM = t.number(passDisc, quantity.Centimetre, aboveZero)
	p.AnimalsInView = t.number(passInView, quantity.One, zeroOrMore)
	p.Clip = r.keep(t.name(passClip, "a clip"))
	if p.Clip != "" {
		r.referenceTo(t, passClip, p.Clip, &r.clips)
	}
	p.Scorer = r.keep(t.text(passScorer))
	p.SecondScorer = r.keep(t.text(passSecondScorer))
}

// oldFix reads the three columns of a position of old data, which stand side
// by side in the specs: distance, angle, height.
func (t *table) oldFix(distance int) study.OldFix {
	f := study.OldFix{
		DistanceM: t.number(distance, quantity.Centimetre, zeroOrMore),
		AngleDeg:  t.number(distance+1, quantity.One, zeroOrMore),
		HeightM:   t.number(distance+2, quantity.Centimetre, zeroOrMore),
	}
	if f.AngleDeg.Known && f.AngleDeg.Value > 180 {
		t.fault(distance+1, t.cell(distance+1)+"° is no angle to an axis", "expected 0 to 180")
		f.AngleDeg = study.Opt[float64]{}
	}
	return f
}

// oldHeightColumn is the height that a pass without a track is placed by: at
// the onset where it counts as a turn, else where it came closest.
func oldHeightColumn(p *study.Pass) int {
	if p.Responded() {
		return passOnsetHeight
	}
	return passClosestHeight
}

// lacksOldHeight reports whether the position of old data that would be used
// has a distance and a blank height.
func lacksOldHeight(t *table, p *study.Pass) bool {
	height := oldHeightColumn(p)
	fix := p.Closest
	if height == passOnsetHeight {
		fix = p.Onset
	}
	return p.Scored() && fix.DistanceM.Known && t.cell(height) == ""
}
