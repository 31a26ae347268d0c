package dossier

import (
	"strings"

	"brinefield/core/study"
)

// States of a row of the checklist.
const (
	stateHas    = "has"
	stateInPart = "in part"
	stateLacks  = "lacks"
)

// need is one thing that a row of the checklist asks for.
type need struct {
	met   bool
	has   string // what the study has, where it is met
	lacks string // what is wanted, where it is not
	extra bool   // good to have: no row is incomplete for it
}

func needs(met bool, has, lacks string) need { return need{met: met, has: has, lacks: lacks} }

// also is something that makes a row fuller and is not asked of every study.
func also(met bool, has string) need { return need{met: met, has: has, extra: true} }

// checkRow is one row of the checklist.
type checkRow struct {
	item, asks, where string
	needs             []need
}

func (r *checkRow) state() string {
	met, wanted := 0, 0
	extra := false
	for _, n := range r.needs {
		switch {
		case n.extra:
			extra = extra || n.met
		default:
			wanted++
			if n.met {
				met++
			}
		}
	}
	switch {
	case wanted > 0 && met == wanted:
		return stateHas
	case met > 0 || extra:
		return stateInPart
	}
	return stateLacks
}

// text says what the study has, and then what is wanted.
func (r *checkRow) text() string {
	var has, lacks []string
	for _, n := range r.needs {
		switch {
		case n.met:
			has = append(has, n.has)
		case !n.extra:
			lacks = append(lacks, n.lacks)
		}
	}
	var out []string
	if len(has) > 0 {
		out = append(out, sentence(strings.Join(has, "; ")))
	}
	if len(lacks) > 0 {
		out = append(out, "Not recorded: "+strings.Join(lacks, "; ")+".")
	}
	return strings.Join(out, " ")
}

// Checklist compares the study with the Essential 10 of the ARRIVE guidelines
// 2.0 (PLoS Biology 18(7): e3000410, 2020, doi:10.1371/journal.pbio.3000410) and
// with that part of their recommended set that can be told from records. What
// each item asks for stands in our own words. Every row is worked out from the
// input.
func Checklist(in Input) Table {
	t := Table{
		Name: "checklist", Title: "What the study has of what the ARRIVE guidelines 2.0 ask for",
		Note: "Items 1 to 10 are the Essential 10; those with R belong to the recommended set, whose items 17 and 18, interpretation and generality, are left to the authors. Where: the section of this report, or the file of the package.",
		Columns: []Column{
			{Name: "item", Title: "Item", What: "Number of the item, and the letter of its part; R: recommended set."},
			{Name: "asks_for", Title: "Asks for", What: "What the item asks for, in our own words."},
			{Name: "study_has", Title: "What the study has", What: "What was recorded of it, and what was not."},
			{Name: "where", Title: "Where", What: "Section of the report, or file of the package."},
			{Name: "state", Title: "State", What: "has, in part, or lacks."},
		},
	}
	rows := checkRows(digestOf(in))
	for i := range rows {
		r := &rows[i]
		state := Cell{Text: r.state()}
		switch state.Text {
		case stateHas:
			state.Style = Bold
		case stateLacks:
			state.Style = Missing
		}
		t.Rows = append(t.Rows, []Cell{{Text: r.item}, {Text: r.asks}, {Text: r.text()}, {Text: r.where}, state})
	}
	return t
}

func checkRows(d *digest) []checkRow {
	rows := append(d.designRows(), d.conductRows()...)
	return append(append(rows, d.resultRows()...), d.recommendedRows()...)
}

// designRows are items 1 to 5.
func (d *digest) designRows() []checkRow {
	f, c := &d.in.Facts, &d.in.Spec
	schedule := f.Schedule
	if schedule == nil {
		schedule = &ScheduleFacts{}
	}
	rule := tidy(schedule.Rule) != "" || d.s.Schedule.Kind != study.ScheduleUnstated
	analysed := d.used+d.leftOut > 0
	return []checkRow{
		{"1a", "Which groups are compared, controls among them", sectionIn("schedule"), []need{
			needs(d.active > 0 && d.control > 0, plural(d.active, "pass", "passes")+" at active pairs, "+count(d.control)+" at control pairs", "passes at active and at control pairs"),
			also(d.silent > 0, plural(d.silent, "silent trial", "silent trials")),
		}},
		{"1b", "What counts as one observation", sectionIn("statistics"), []need{
			needs(d.passes > 0, "a pass: one animal coming by one pair once", "passes"),
			needs(d.identified > 0, "passes of one animal are kept together, "+plural(d.identified, "animal", "animals")+" recognised", "which animal made which pass"),
		}},
		{"2a", "How many were observed, in each group and in all", sectionIn("recorded"), []need{
			needs(d.trials > 0, plural(d.trials, "trial", "trials"), "trials"),
			needs(d.passes > 0, plural(d.passes, "pass", "passes"), "passes"),
		}},
		{"2b", "How the number was decided", sectionIn("design"), []need{
			needs(tidy(c.SampleSize) != "", "a statement of how the numbers were decided", "how the numbers of trials and animals were decided"),
			also(tidy(f.Protocol.StoppingRule) != "", "a rule for stopping"),
		}},
		{"3a", "Which animals, passes and trials were to count, set beforehand", sectionIn("design"), []need{
			needs(tidy(f.Protocol.Criteria) != "", "written criteria", "criteria"),
			needs(registeredInTime(f), "registered before the first trial", "a registration before the first trial"),
		}},
		{"3b", "What was left out, and why", sectionIn("recorded"), []need{
			needs(analysed, count(d.leftOut)+" of "+plural(d.used+d.leftOut, "pass", "passes")+" left out, each with its reason", "which passes were left out"),
		}},
		{"3c", "How many entered each analysis", sectionIn("thresholds"), []need{
			needs(d.estimated(), "numbers of passes and animals beside every estimate", "estimates"),
		}},
		{"4a", "Whether and how chance decided what was driven", sectionIn("schedule"), []need{
			needs(rule, "the rule by which active pairs were drawn", "the rule by which active pairs were drawn"),
		}},
		{"4b", "How order, place and circumstances were kept from standing in for an effect", sectionIn("schedule"), []need{
			needs(d.s.Schedule.Kind == study.ScheduleBlocks || tidy(schedule.Balance) != "", "drawn in blocks, or its balance described", "blocks, or how the draw came out balanced"),
			needs(d.circumstances() != "", "circumstances of each trial: "+d.circumstances(), "circumstances of trials, such as tide, flow, bait or visibility"),
		}},
		{"5", "Who knew what was driven: when trials were run, scored and analysed", sectionIn("blinding"), []need{
			needs(schedule.Sealed, "the schedule was sealed", "a sealed schedule"),
			needs(schedule.Locked != nil, "scoring was locked before all was opened", "locked scoring"),
			needs(len(f.Blinding.Guesses) > 0, "guesses of those who scored", "guesses of those who scored"),
		}},
	}
}

// conductRows are items 6 to 9.
func (d *digest) conductRows() []checkRow {
	f := &d.in.Facts
	sexed, sized, kept := d.recordedOfAnimals()
	site := d.s.Site
	place := site.LatitudeDeg.Known && site.LongitudeDeg.Known || f.Place.Latitude != nil && f.Place.Longitude != nil
	return []checkRow{
		{"6a", "What was measured of each animal, defined", sectionIn("exposures"), []need{
			needs(d.scored > 0, "turns and bites, "+plural(d.scored, "pass", "passes")+" scored", "scored passes"),
			needs(d.s.Analysis.PassRadiusM > 0, "the rule of what is a pass", "the radius of a pass"),
		}},
		{"6b", "Which outcome was the main one", sectionIn("design"), []need{
			needs(tidy(f.Protocol.AnalysisPlan) != "", "an analysis plan", "an analysis plan that names the main outcome"),
			also(tidy(f.Protocol.Hypotheses) != "", "hypotheses"),
		}},
		{"7a", "Which statistical methods and software were used", sectionIn("statistics"), []need{
			needs(d.estimated(), "each method, with its assumptions", "estimates"),
			needs(tidy(d.in.Program.Version) != "", "the version of the program", "the version of the program"),
		}},
		{"7b", "How assumptions were looked into", sectionIn("curves"), []need{
			needs(d.estimated() && d.hasSensitivity(), "estimates under other reaction times", "estimates under other reaction times"),
			needs(d.estimated() && len(d.in.Findings.Thresholds) > 0, "estimates by simpler methods", "estimates by simpler methods"),
			needs(d.estimated() && len(d.in.Findings.Uncertainty) > 0, "what stated errors of the inputs do", "what errors of the inputs do"),
		}},
		{"8a", "Species, sex and size or stage of the animals", sectionIn("animals"), []need{
			needs(len(d.species) > 0 && d.passes > 0, speciesNames(d.species), "species"),
			needs(sexed, "sex", "sex"),
			needs(sized, "length or width", "length or width"),
		}},
		{"8b", "Where the animals came from, and what they had met before", sectionIn("animals"), []need{
			needs(kept, "experience of animals", "experience of animals"),
			needs(tidy(d.in.Spec.Housing) != "", "a statement of how animals were kept", "whether and how animals were kept"),
		}},
		{"9a", "What was done, with what", sectionIn("procedure"), []need{
			needs(tidy(f.Protocol.Method) != "", "a description of how a trial goes", "how a trial goes"),
			needs(d.measured > 0, "currents measured in "+plural(d.measured, "trial", "trials"), "measured currents"),
		}},
		{"9b", "When and how often", "season/trials.csv", []need{
			needs(d.trials > 0, "start and end of every trial", "times of trials"),
		}},
		{"9c", "Where", sectionIn("site"), []need{
			needs(tidy(site.Name) != "", "site and depth", "the site"),
			needs(place, "coordinates", "coordinates"),
		}},
		{"9d", "Why it was done so", sectionIn("design"), []need{
			needs(tidy(d.s.Question) != "", "the question", "the question"),
			needs(tidy(f.Protocol.Hypotheses) != "", "the hypotheses", "the hypotheses"),
		}},
	}
}

// resultRows are item 10.
func (d *digest) resultRows() []checkRow {
	return []checkRow{
		{"10a", "Summary numbers of each group with their spread", sectionIn("published"), []need{
			needs(d.estimated() && d.hasDescriptive(), "medians and quartiles of the field at turns", "fields at turns"),
			needs(d.estimated() && len(d.in.Findings.Preference) > 0, "counts at active and control pairs", "counts at active and control pairs"),
		}},
		{"10b", "Size of the effect with an interval", sectionIn("thresholds"), []need{
			needs(d.estimated() && d.hasInterval(), "detection medians with 95"+thin+"% intervals", "a detection median with an interval"),
			needs(d.estimated() && d.hasOdds(), "odds ratios with 95"+thin+"% intervals", "an odds ratio with an interval"),
		}},
	}
}

// recommendedRows are what can be told of the recommended set.
func (d *digest) recommendedRows() []checkRow {
	f, c := &d.in.Facts, &d.in.Spec
	return []checkRow{
		{"R11", "Abstract", sectionIn("summary"), []need{needs(tidy(c.Abstract) != "", "an abstract", "an abstract")}},
		{"R12, R13", "Background and aims", sectionIn("design"), []need{
			needs(tidy(d.s.Question) != "", "the question", "the question"),
			needs(tidy(f.Protocol.Hypotheses) != "", "hypotheses", "hypotheses"),
		}},
		{"R14", "Ethical review and permits", sectionIn("permits"), []need{
			needs(tidy(c.Ethics) != "", "an ethical statement", "an ethical statement"),
			needs(len(f.Permits) > 0, plural(len(f.Permits), "permit", "permits"), "permits"),
		}},
		{"R15", "How animals were kept", sectionIn("animals"), []need{needs(tidy(c.Housing) != "", "a statement", "whether and how animals were kept")}},
		{"R16", "Care of the animals, and adverse events", sectionIn("adverse"), []need{
			needs(tickedAbout(f, "Animals") > 0, plural(tickedAbout(f, "Animals"), "caution about animals", "cautions about animals")+" ticked", "cautions about animals"),
			needs(f.Deck != nil, "a log in which adverse events are written down", "a log of adverse events"),
		}},
		{"R19", "Registration of the plan", sectionIn("preregistration"), []need{needs(len(f.Preregistration) > 0, "a registered plan", "a registered plan")}},
		{"R20", "Access to the data", sectionIn("package"), []need{
			needs(tidy(c.Licence) != "", "this package, under "+tidy(c.Licence), "a licence"),
			needs(tidy(c.DOI) != "", "a DOI", "a DOI"),
		}},
		{"R21a", "Interests of the authors", sectionIn("permits"), []need{needs(tidy(c.Interests) != "", "a statement", "a statement")}},
		{"R21b", "Funding", sectionIn("permits"), []need{needs(tidy(c.Funding) != "", "a statement", "a statement")}},
	}
}

func registeredInTime(f *Facts) bool {
	for i := range f.Preregistration {
		if !f.Preregistration[i].Late {
			return true
		}
	}
	return false
}

func tickedAbout(f *Facts, about string) (n int) {
	for i := range f.Cautions {
		if f.Cautions[i].Ticked && f.Cautions[i].About == about {
			n++
		}
	}
	return n
}

func speciesNames(species []speciesCount) string {
	var names []string
	for i := range species {
		if name := tidy(species[i].name); name != "" {
			names = append(names, name)
		}
	}
	return listText(names)
}

// circumstances are what trials recorded beside their stimulus, in words.
func (d *digest) circumstances() string {
	var tide, flow, sight, warm, bait, odour bool
	for i := range d.s.Trials {
		t := &d.s.Trials[i]
		tide = tide || t.TideM.Known
		flow = flow || t.FlowMPerS.Known
		sight = sight || t.VisibilityM.Known
		warm = warm || t.TemperatureC.Known
		bait = bait || tidy(t.Bait) != ""
		odour = odour || tidy(t.Odour) != ""
	}
	var words []string
	for _, w := range []struct {
		there bool
		word  string
	}{{tide, "tide"}, {flow, "flow"}, {sight, "visibility"}, {warm, "temperature"}, {bait, "bait"}, {odour, "odour"}} {
		if w.there {
			words = append(words, w.word)
		}
	}
	return listText(words)
}

// recordedOfAnimals reports what is known of any animal.
func (d *digest) recordedOfAnimals() (sexed, sized, experience bool) {
	for i := range d.species {
		sexed = sexed || d.species[i].sexed > 0
		sized = sized || d.species[i].lengthCm.n+d.species[i].discCm.n > 0
	}
	for i := range d.s.Individuals {
		experience = experience || tidy(d.s.Individuals[i].Experience) != ""
	}
	return sexed, sized, experience
}

func (d *digest) hasSensitivity() bool {
	for i := range d.in.Findings.Detection {
		for _, s := range d.in.Findings.Detection[i].Sensitivity {
			if known(s.Median) {
				return true
			}
		}
	}
	return false
}

func (d *digest) hasDescriptive() bool {
	for i := range d.in.Findings.Descriptive {
		if known(d.in.Findings.Descriptive[i].Median) {
			return true
		}
	}
	return false
}

func (d *digest) hasInterval() bool {
	for i := range d.in.Findings.Detection {
		e := &d.in.Findings.Detection[i].Estimate
		if known(e.Median) && known(e.CI95.Low) && known(e.CI95.High) {
			return true
		}
	}
	return false
}

func (d *digest) hasOdds() bool {
	for i := range d.in.Findings.Preference {
		p := &d.in.Findings.Preference[i]
		if known(p.LogOddsRatio) && known(p.SE) || known(p.PenalisedLogOddsRatio) && known(p.PenalisedCI95.Low) && known(p.PenalisedCI95.High) {
			return true
		}
	}
	return false
}
