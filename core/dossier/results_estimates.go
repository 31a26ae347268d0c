package dossier

import (
	"math"
	"slices"
)

// boundaryNames are parameters as the texts name them.
var boundaryNames = map[string]string{
	"lapse": "lapses (none)", "spontaneous_per_s": "spontaneous turns (none)", "sigma": "spread of thresholds (none)",
	"sigma_individual": "difference between animals (none)", "sigma_within": "spread within animals (none)", "individual_sd": "difference between animals (none)",
}

func (w *writer) thresholds() {
	w.section("thresholds")
	if w.nothing() {
		return
	}
	f := &w.d.in.Findings
	if len(f.Detection) == 0 {
		w.say("The detection model: {}.", missing)
	}
	for i := range f.Detection {
		w.paragraph(w.headline(&f.Detection[i]))
		w.list(w.d.sentencesOf(f.Detection[i].Warnings))
	}
	w.simpler()
}

// headline is what the detection model says of one species.
func (w *writer) headline(e *Detection) passage {
	var text passage
	from := w.basis(e.Passes, e.Individuals, e.PassesUnidentified)
	if !known(e.Median) {
		text.say("The detection threshold of {} cannot be estimated: {} ({}).", speciesWords(e.Species), w.d.named(whyText(e.Why)), from)
		return text
	}
	if interval := intervalText(e.CI95.Low, e.CI95.High, "nV/cm"); interval != "" {
		text.say("The median detection threshold of {} was {} (95{}% interval {}; {}).", speciesWords(e.Species), bold(withUnit(*e.Median, "nV/cm")), thin, interval, from)
	} else {
		text.say("The median detection threshold of {} was {} ({}).", speciesWords(e.Species), bold(withUnit(*e.Median, "nV/cm")), from)
		text.say("A 95{}% interval cannot be given: {}.", thin, whyText(e.CI95.Why))
	}
	if known(e.Sigma) && math.Exp(*e.Sigma) < 1e6 {
		text.say("Thresholds spread by a factor of {} round it (one standard deviation).", Rounded(math.Exp(*e.Sigma)))
	}
	if known(e.Lapse) {
		text.say("No field is answered on {} of passes.", percentText(*e.Lapse))
	}
	if known(e.SpontaneousPerS) {
		text.say("Turns that no field caused came at a rate of {} per second watched.", Rounded(*e.SpontaneousPerS))
	}
	text.add(boundaryRuns(e.Boundary))
	return text
}

// basis is from how much an estimate was made.
func (w *writer) basis(passes, animals, unidentified int) []Run {
	out := say("{}, {} recognised", plural(passes, "pass", "passes"), plural(animals, "animal", "animals"))
	if unidentified > 0 {
		out = joinRuns(out, say(", {} of animals that were not", plural(unidentified, "pass", "passes"))...)
	}
	return out
}

func whyText(why string) string {
	if why = clause(why); why != "" {
		return why
	}
	return "no reason is given"
}

func boundaryRuns(names []string) []Run {
	var words []string
	for _, n := range names {
		word, there := boundaryNames[n]
		if !there {
			word = n
		}
		if word = tidy(word); word != "" {
			words = append(words, word)
		}
	}
	if len(words) == 0 {
		return nil
	}
	return say("At the edge of what is possible: {}.", listText(words))
}

// simpler sets the estimates beside one another.
func (w *writer) simpler() {
	f := &w.d.in.Findings
	t := Table{
		Name: "report-thresholds", Title: "Medians by all methods",
		Note: "Intervals are 95" + thin + "%, but for the step curve: there the interval in which the median may lie.",
		Columns: []Column{
			{Name: "species", Title: "Species"},
			{Name: "method", Title: "Method"},
			{Name: "passes", Title: "Passes", Numbers: true},
			{Name: "median_nV_per_cm", Title: "Median", Unit: "nV/cm", Numbers: true},
			{Name: "low_nV_per_cm", Title: "From", Unit: "nV/cm", Numbers: true},
			{Name: "high_nV_per_cm", Title: "To", Unit: "nV/cm", Numbers: true},
		},
	}
	var reasons [][]Run
	var ignores []string
	row := func(species, method string, passes int, e *Estimate) {
		cells := []Cell{speciesWordCell(species), {Text: method}, wholeCell(passes), roundedCell(e.Median), roundedCell(e.CI95.Low), roundedCell(e.CI95.High)}
		switch {
		case !known(e.Median):
			cells[3] = Cell{Text: "cannot be estimated"}
			reasons = append(reasons, say("{}, {}: {}", speciesWords(species), method, whyText(e.Why)))
		case clause(e.CI95.Why) != "":
			reasons = append(reasons, say("{}, interval of the {}: {}", speciesWords(species), method, clause(e.CI95.Why)))
		}
		t.Rows = append(t.Rows, cells)
		for _, i := range e.Ignores {
			if i = clause(i); i != "" && !slices.Contains(ignores, i) {
				ignores = append(ignores, i)
			}
		}
	}
	for i := range f.Detection {
		row(f.Detection[i].Species, "detection model", f.Detection[i].Passes, &f.Detection[i].Estimate)
	}
	for i := range f.Thresholds {
		e := &f.Thresholds[i]
		row(e.Species, "lognormal", e.Passes, &e.Lognormal)
		row(e.Species, "lognormal with individuals", e.Passes, &e.Individual)
		row(e.Species, "step curve", e.Passes, &e.Step)
	}
	slices.SortStableFunc(t.Rows, func(a, b []Cell) int { return compareText(a[0].Exact, b[0].Exact) })
	w.table(t)
	if len(reasons) > 0 {
		w.say("What cannot be estimated, and why:")
		w.list(reasons)
	}
	if len(ignores) > 0 {
		w.say("What the simpler methods leave out:")
		w.list(w.d.sentencesOf(ignores))
	}
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// oddsRatio is an odds ratio with its 95 % interval; nil where not known.
type oddsRatio struct {
	ratio, low, high *float64
	penalised        bool
}

// mostLogOdds: beyond it an odds ratio is a number that nobody reads, and the
// interval of a model that ran off.
const mostLogOdds = 20

func oddsRatioOf(p *Preference) oddsRatio {
	raised := func(v float64) *float64 {
		if math.IsNaN(v) || math.Abs(v) > mostLogOdds {
			return nil
		}
		e := math.Exp(v)
		return &e
	}
	switch {
	case known(p.LogOddsRatio):
		o := oddsRatio{ratio: raised(*p.LogOddsRatio)}
		if known(p.SE) {
			o.low, o.high = raised(*p.LogOddsRatio-normal95**p.SE), raised(*p.LogOddsRatio+normal95**p.SE)
		}
		return o
	case known(p.PenalisedLogOddsRatio):
		o := oddsRatio{ratio: raised(*p.PenalisedLogOddsRatio), penalised: true}
		if known(p.PenalisedCI95.Low) {
			o.low = raised(*p.PenalisedCI95.Low)
		}
		if known(p.PenalisedCI95.High) {
			o.high = raised(*p.PenalisedCI95.High)
		}
		return o
	}
	return oddsRatio{}
}

// normal95 is the 0.975 quantile of the standard normal distribution.
const normal95 = 1.959963984540054

func (w *writer) preferences() {
	w.section("preference")
	defer w.figure("turns", "preference")
	if w.nothing() {
		return
	}
	all := w.d.in.Findings.Preference
	if len(all) == 0 {
		w.say("Preference: {}.", missing)
		return
	}
	for i := range all {
		if all[i].Species == "all" && len(all) == 2 {
			continue // one species: its own line says the same
		}
		w.paragraph(w.preference(&all[i]))
		w.list(w.d.sentencesOf(all[i].Warnings))
	}
	w.preferenceTable()
}

func (w *writer) preference(p *Preference) passage {
	var text passage
	name := []Run{speciesWords(p.Species)}
	if p.Species == "all" {
		name = say("All species together")
	}
	text.say("{}: a turn on {} of {} at active pairs and on {} of {} at control pairs; bites on {} and {}.", name, p.TurnsActive, plural(p.PassesActive, "pass", "passes"), p.TurnsControl, p.PassesControl, p.BitesActive, p.BitesControl)
	o := oddsRatioOf(p)
	switch interval := intervalText(o.low, o.high, ""); {
	case o.ratio == nil && known(p.LogOddsRatio):
		text.say("The logarithm of the odds ratio is {}, too far out to be read as a ratio.", Rounded(*p.LogOddsRatio))
	case o.ratio == nil:
		text.say("An odds ratio cannot be estimated: {}.", whyText(p.MixedWhy))
	case o.penalised:
		text.say("The odds ratio has no finite estimate ({}); the penalised one, without individuals, is {}", whyText(p.MixedWhy), bold(Rounded(*o.ratio)))
		text = joinRuns(text, w.intervalEnd(interval, p.PenalisedCI95.Why)...)
	default:
		text.say("The odds of a turn were {} times as large at the active pair", bold(Rounded(*o.ratio)))
		text = joinRuns(text, w.intervalEnd(interval, "")...)
	}
	if known(p.IndividualSD) && *p.IndividualSD > 0 {
		text.say("Animals differ in their readiness to turn by {} (standard deviation, log odds).", Rounded(*p.IndividualSD))
	}
	text.add(boundaryRuns(p.Boundary))
	switch {
	case known(p.RandomisationP):
		text.say("Randomisation test: {}", pText(*p.RandomisationP))
		if p.RandomisationN > 0 {
			text = joinRuns(text, say(" ({} draws)", count(p.RandomisationN))...)
		}
		text = joinRuns(text, Run{Text: "."})
	default:
		text.say("A randomisation test cannot be made: {}.", whyText(p.RandomisationWhy))
	}
	if known(p.ExactP) {
		text.say("Fisher's exact test, naive: {}.", pText(*p.ExactP))
	}
	return text
}

func (w *writer) intervalEnd(interval, why string) []Run {
	switch {
	case interval != "":
		return say(" (95{}% interval {}).", thin, interval)
	case clause(why) != "":
		return say("; an interval cannot be given: {}.", clause(why))
	}
	return say("; an interval cannot be given.")
}

func (w *writer) preferenceTable() {
	t := Table{
		Name: "report-preference", Title: "Turns at active and at control pairs",
		Note: "Odds ratio: from the mixed model; where it has none, the penalised one, marked with *.",
		Columns: []Column{
			{Name: "species", Title: "Species"},
			{Name: "active", Title: "Active: turns of passes"},
			{Name: "control", Title: "Control: turns of passes"},
			{Name: "odds_ratio", Title: "Odds ratio", Numbers: true},
			{Name: "odds_ratio_low", Title: "From", Numbers: true},
			{Name: "odds_ratio_high", Title: "To", Numbers: true},
			{Name: "randomisation_p", Title: "Randomisation test"},
			{Name: "exact_p", Title: "Fisher, naive"},
		},
	}
	for i := range w.d.in.Findings.Preference {
		p := &w.d.in.Findings.Preference[i]
		o := oddsRatioOf(p)
		ratio := roundedCell(o.ratio)
		if o.penalised && ratio.Text != "" {
			ratio.Text += "*"
		}
		t.Rows = append(t.Rows, []Cell{
			speciesWordCell(p.Species), shareCell(p.TurnsActive, p.PassesActive), shareCell(p.TurnsControl, p.PassesControl),
			ratio, roundedCell(o.low), roundedCell(o.high), pCell(p.RandomisationP), pCell(p.ExactP),
		})
	}
	w.table(t)
}

func pCell(p *float64) Cell {
	if !known(p) {
		return Cell{}
	}
	return Cell{Text: pText(*p), Exact: exactDigits(*p)}
}

func (w *writer) published() {
	w.section("published")
	if w.nothing() {
		return
	}
	t := Table{
		Name: "report-descriptive", Title: "Field at turns with a recorded beginning at active pairs",
		Note: "Textbook: the textbook form of the field at the same places.",
		Columns: []Column{
			{Name: "species", Title: "Species"},
			{Name: "field", Title: "Field"},
			{Name: "n", Title: "Turns", Numbers: true},
			{Name: "median", Title: "Median", Unit: "nV/cm", Numbers: true},
			{Name: "q1", Title: "Lower quartile", Unit: "nV/cm", Numbers: true},
			{Name: "q3", Title: "Upper quartile", Unit: "nV/cm", Numbers: true},
			{Name: "smallest", Title: "Smallest", Unit: "nV/cm", Numbers: true},
			{Name: "below_5", Title: "Below 5 nV/cm", Numbers: true},
			{Name: "below_20", Title: "Below 20 nV/cm", Numbers: true},
			{Name: "longest_cm", Title: "Longest distance", Unit: "cm", Numbers: true},
		},
	}
	share := func(p *float64) Cell {
		if !known(p) {
			return Cell{}
		}
		return Cell{Text: percentText(*p), Exact: exactDigits(*p)}
	}
	for i := range w.d.in.Findings.Descriptive {
		e := &w.d.in.Findings.Descriptive[i]
		if e.N == 0 {
			continue
		}
		t.Rows = append(t.Rows,
			[]Cell{speciesWordCell(e.Species), {Text: "met"}, wholeCell(e.N), roundedCell(e.Median), roundedCell(e.Q1), roundedCell(e.Q3), roundedCell(e.Smallest), share(e.ShareBelow5), share(e.ShareBelow20), roundedCell(e.LongestDistanceCm)},
			[]Cell{speciesWordCell(e.Species), {Text: "textbook"}, wholeCell(e.N), roundedCell(e.TextbookMedian), roundedCell(e.TextbookQ1), roundedCell(e.TextbookQ3), roundedCell(e.TextbookSmallest), {}, share(e.TextbookBelow20), {}})
	}
	if len(t.Rows) == 0 {
		w.say("No turn at an active pair has a recorded beginning in a field that was not falling.")
		return
	}
	w.say("These numbers are given so that they can be compared with print. They describe the turns that were seen and leave out every pass without one: they are not thresholds.")
	w.table(t)
}

func (w *writer) curves() {
	w.section("curves")
	defer w.figure("threshold-curves", "sensitivity")
	if w.nothing() {
		return
	}
	t := Table{
		Name: "report-sensitivity", Title: "Detection medians had the reaction time been another",
		Columns: []Column{{Name: "species", Title: "Species"}, {Name: "reaction_time_s", Title: "Reaction time", Unit: "s", Numbers: true}, {Name: "median", Title: "Median", Unit: "nV/cm", Numbers: true}},
	}
	var reasons [][]Run
	for i := range w.d.in.Findings.Detection {
		e := &w.d.in.Findings.Detection[i]
		for _, s := range e.Sensitivity {
			median := roundedCell(s.Median)
			if median.Text == "" {
				median = Cell{Text: "cannot be estimated"}
				reasons = append(reasons, say("{}, {}: {}", speciesWords(e.Species), withUnitSet(s.ReactionTimeS, "s"), whyText(s.Why)))
			}
			t.Rows = append(t.Rows, []Cell{speciesWordCell(e.Species), {Text: setValue(s.ReactionTimeS), Exact: exactDigits(s.ReactionTimeS)}, median})
		}
	}
	if len(t.Rows) == 0 {
		w.say("Medians under other reaction times: {}.", missing)
		return
	}
	if w.d.s.Analysis.ReactionTimeS.Known {
		w.say("The reaction time is taken off each onset before the field is read: {} in this study. The table repeats the detection model with others.", withUnitSet(w.d.s.Analysis.ReactionTimeS.Value, "s"))
	} else {
		w.say("The reaction time is taken off each onset before the field is read. In this study it was {}, and 0{}s was taken. The table repeats the detection model with others.", missing, thin)
	}
	w.table(t)
	w.list(reasons)
}

func (w *writer) uncertainties() {
	w.section("uncertainty")
	if w.nothing() {
		return
	}
	all := w.d.in.Findings.Uncertainty
	if len(all) == 0 {
		w.say("What errors of the inputs do to the medians was not worked out: {}.", w.uncertaintyReason())
		return
	}
	w.say("The intervals above are about chance. The table says where the detection median goes when an input is off by its stated standard deviation; what is off alike in the whole season is not made smaller by more passes.")
	t := Table{
		Name: "report-uncertainty", Title: "Detection medians, each input off by one standard deviation",
		Columns: []Column{
			{Name: "input", Title: "Input"},
			{Name: "sd", Title: "Standard deviation"},
			{Name: "species", Title: "Species"},
			{Name: "low", Title: "Median from", Unit: "nV/cm", Numbers: true},
			{Name: "high", Title: "to", Unit: "nV/cm", Numbers: true},
		},
	}
	var reasons [][]Run
	for i := range all {
		u := &all[i]
		sd := Cell{}
		if known(u.SD) {
			sd = Cell{Text: setValue(*u.SD) + thin + tidy(u.Unit), Exact: exactDigits(*u.SD)}
		}
		for _, s := range u.Species {
			t.Rows = append(t.Rows, []Cell{wordCell(u.What), sd, speciesWordCell(s.Species), roundedCell(s.Median.Low), roundedCell(s.Median.High)})
			if why := clause(s.Median.Why); why != "" {
				reasons = append(reasons, say("{}, {}: {}", u.What, speciesWords(s.Species), why))
			}
		}
	}
	w.table(t)
	w.list(reasons)
}
