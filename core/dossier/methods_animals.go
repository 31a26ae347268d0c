package dossier

import "slices"

func (w *writer) animals() {
	w.section("animals")
	d := w.d
	seen := 0
	for i := range d.species {
		if d.species[i].passes == 0 {
			continue
		}
		seen++
		w.animalsOf(&d.species[i])
	}
	if seen == 0 {
		w.say("Species: {}.", missing)
	}
	marked, experienced := 0, map[string]float64{}
	known := 0
	for i := range d.s.Individuals {
		a := &d.s.Individuals[i]
		if tidy(a.Mark) != "" {
			marked++
		}
		if e := tidy(a.Experience); e != "" {
			experienced[e], known = 0, known+1
		}
	}
	var text passage
	if marked > 0 {
		text.say("Marks by which animals were recognised are recorded for {} of {}.", marked, plural(len(d.s.Individuals), "listed animal", "listed animals"))
	} else {
		text.say("How animals were recognised: {}.", missing)
	}
	if known > 0 {
		text.say("What they had met before is recorded for {}: {}.", plural(known, "animal", "animals"), listText(keysByValue(experienced)))
	} else {
		text.say("What they had met before: {}.", missing)
	}
	text.say("Age, health and origin: {}.", missing)
	w.paragraph(text)
	w.written("How animals were kept:", d.in.Spec.Housing)
	if !w.whole { // the report has a section of its own
		w.written("Ethical statement:", d.in.Spec.Ethics)
		w.permitTable()
	}
}

func (w *writer) animalsOf(c *speciesCount) {
	var text passage
	text.say("{}: {}, {} recognised", speciesWords(c.name), plural(c.passes, "pass", "passes"), plural(c.animals, "animal", "animals"))
	if c.unidentified > 0 {
		text = joinRuns(text, say("; {} of animals that were not", plural(c.unidentified, "pass", "passes"))...)
	}
	text = joinRuns(text, Run{Text: "."})
	if c.sexed > 0 {
		text.say("Sex of {} of them: {} female, {} male.", c.sexed, c.females, c.males)
	} else {
		text.say("Sex: {}.", missing)
	}
	switch {
	case c.lengthCm.n > 0 && c.discCm.n > 0:
		text.say("Total length {} ({}), disc width {} ({}).", c.lengthCm.text("cm"), plural(c.lengthCm.n, "animal", "animals"), c.discCm.text("cm"), plural(c.discCm.n, "animal", "animals"))
	case c.lengthCm.n > 0:
		text.say("Total length {} ({}).", c.lengthCm.text("cm"), plural(c.lengthCm.n, "animal", "animals"))
	case c.discCm.n > 0:
		text.say("Disc width {} ({}).", c.discCm.text("cm"), plural(c.discCm.n, "animal", "animals"))
	default:
		text.say("Size: {}.", missing)
	}
	w.paragraph(text)
}

func (w *writer) positions() {
	w.section("positions")
	d, f := w.d, w.d.in.Facts.Footage
	if f == nil {
		var text passage
		if d.clips > 0 {
			text.say("For {} the clip in which the animal was seen is recorded; {} listed.", plural(d.clips, "pass", "passes"), plural(len(d.s.Clips), "clip is", "clips are"))
		}
		text.add(w.tracks())
		text.say("Cameras, and how positions were measured: {}.", missing)
		w.paragraph(text)
		w.positionError()
		return
	}
	var text passage
	text.say("The study keeps {} of footage. The camera's pose is known for {}, and the clock was compared for {}.", plural(f.Clips, "clip", "clips"), f.ClipsWithPose, f.ClipsWithClock)
	if f.Passes > 0 {
		text.say("{} measured in it by {}: {}, {} carried from one frame to the next and {} filled in between.",
			plural(f.Passes, "pass was", "passes were"), plural(f.People, "person", "people"), plural(f.Placed, "fix placed by hand", "fixes placed by hand"), f.Carried, f.Filled)
	} else {
		text.say("No pass is measured in it.")
	}
	text.add(w.tracks())
	w.paragraph(text)
	w.cameras(f.Cameras)
	w.heights(f.Heights)
	w.positionError()
}

func (w *writer) tracks() []Run {
	if w.d.passes == 0 {
		return nil
	}
	return say("{} of {} have a track.", w.d.tracks, plural(w.d.passes, "pass", "passes"))
}

func (w *writer) cameras(cameras []CameraFact) {
	if len(cameras) == 0 {
		w.say("Cameras: {}.", missing)
		return
	}
	var items [][]Run
	for i := range cameras {
		c := &cameras[i]
		item := say("{}: {}; {}", orMissing(c.Name), orMissing(clause(c.What)), plural(c.Poses, "pose", "poses"))
		if known(c.LargestResidualPX) {
			item = joinRuns(item, say(", marks of the worst off by {} (root mean square)", withUnit(*c.LargestResidualPX, "px"))...)
		} else {
			item = joinRuns(item, say(", how well marks fit: {}", missing)...)
		}
		if note := sentence(c.Note); note != "" {
			item = joinRuns(item, say(". {}", note)...)
		}
		items = append(items, item)
	}
	w.say("Cameras:")
	w.list(items)
}

func (w *writer) heights(heights map[string]int) {
	var items [][]Run
	how := make([]string, 0, len(heights))
	for h := range heights {
		how = append(how, h)
	}
	slices.Sort(how)
	for _, h := range how {
		items = append(items, say("{}: {}", orMissing(clause(h)), plural(heights[h], "pass", "passes")))
	}
	if len(items) == 0 && w.d.in.Facts.Footage.Passes == 0 {
		return
	}
	if len(items) == 0 {
		w.say("How heights of the head were found: {}.", missing)
		return
	}
	w.say("How heights of the head were found:")
	w.list(items)
}

func (w *writer) positionError() {
	var text passage
	f := w.d.in.Facts.Footage
	switch {
	case f != nil && known(f.MedianSDCm) && known(f.LargestSDCm):
		text.say("A fix is uncertain by {} in the plane along its larger axis (one standard deviation, median), at most {}.", withUnit(*f.MedianSDCm, "cm"), withUnit(*f.LargestSDCm, "cm"))
	case f != nil && known(f.MedianSDCm):
		text.say("A fix is uncertain by {} in the plane along its larger axis (one standard deviation, median).", withUnit(*f.MedianSDCm, "cm"))
	}
	a, u := &w.d.s.Analysis, &w.d.s.Uncertainty
	if a.FixSDM.Known {
		text.say("The study states an error of {} for fixes.", withUnitSet(a.FixSDM.Value*100, "cm"))
	}
	if u.PositionSDM.Known {
		text.say("It states {} for positions as a whole.", withUnitSet(u.PositionSDM.Value*100, "cm"))
	}
	if u.HeightSDM.Known {
		text.say("It states {} for heights.", withUnitSet(u.HeightSDM.Value*100, "cm"))
	}
	if len(text) == 0 {
		text.say("Error of positions: {}.", missing)
	}
	w.paragraph(text)
}

func (w *writer) scoring() {
	w.section("scoring")
	d := w.d
	var text passage
	if d.passes > 0 {
		text.say("{} of {} were scored for turns or bites; {} have the moment at which the turn began.", d.scored, plural(d.passes, "pass", "passes"), d.withOnset)
	}
	text.say("A bite without a recorded turn counts as a turn whose beginning is not known. Of the passes of one animal that belong together, only those up to its first turn or bite enter the estimates.")
	w.paragraph(text)
	scorers := d.in.Facts.Scorers
	if len(scorers) == 0 {
		scorers = d.scorersOfPasses()
	}
	if len(scorers) == 0 {
		w.say("Who scored: {}.", missing)
		w.say("Agreement between people who score: {}.", missing)
		return
	}
	t := Table{
		Name: "scorers", Title: "Who scored",
		Columns: []Column{{Name: "who", Title: "Who"}, {Name: "first", Title: "Passes, as the first", Numbers: true}, {Name: "second", Title: "Passes, as the second", Numbers: true}},
	}
	second := 0
	for i := range scorers {
		second += scorers[i].Second
		t.Rows = append(t.Rows, []Cell{wordCell(scorers[i].Who), wholeCell(scorers[i].Passes), wholeCell(scorers[i].Second)})
	}
	w.table(t)
	if second == 0 {
		w.say("No pass is recorded to have been scored by a second person. Agreement between people who score: {}.", missing)
		return
	}
	w.say("{} scored by a second person as well. What the second person found is not kept apart; agreement between the two: {}.", plural(second, "pass was", "passes were"), missing)
}

// scorersOfPasses counts who scored, where the season alone tells.
func (d *digest) scorersOfPasses() []ScorerFact {
	var out []ScorerFact
	at := map[string]int{}
	of := func(name string) *ScorerFact {
		i, there := at[name]
		if !there {
			i = len(out)
			at[name] = i
			out = append(out, ScorerFact{Who: name})
		}
		return &out[i]
	}
	for i := range d.s.Passes {
		p := &d.s.Passes[i]
		if name := tidy(p.Scorer); name != "" {
			of(name).Passes++
		}
		if name := tidy(p.SecondScorer); name != "" {
			of(name).Second++
		}
	}
	return out
}
