package dossier

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"slices"
	"strings"

	"brinefield/core/study"
)

// Report is the whole report: cautions and permits, methods, results with figures
// and tables, the checklist, what changed after the opening.
func Report(in Input, figures []Figure) Document {
	w := &writer{page: newPage(figures), d: digestOf(in), whole: true}
	w.banners()
	w.summary()
	w.permits()
	w.methods()
	w.results()
	w.rest(figures)
	w.checklist()
	w.changes()
	w.adverse()
	w.checking()
	w.referenceList()
	return w.document("Report of the study, with its data package")
}

// document is the title page with what was written.
func (w *writer) document(subtitle string) Document {
	title := tidy(w.d.in.Spec.Title)
	if title == "" {
		title = tidy(w.d.s.Title)
	}
	if title == "" {
		title = "Study without a title"
	}
	var names []string
	for _, p := range authorsOf(w.d.in.People) {
		names = append(names, nameOf(p))
	}
	out := Document{Title: title, Subtitle: subtitle, Authors: strings.Join(names, ", "), Invented: w.d.in.Invented, Blocks: w.blocks}
	if !w.d.in.Made.IsZero() {
		out.Date = dayText(w.d.in.Made)
	}
	return out
}

// banners are what must not be overlooked. That data are invented is said by the
// printer, on every page.
func (w *writer) banners() {
	switch n := w.d.sealed; {
	case n > 0 && w.d.allSealed():
		w.caution(say("All {} are sealed. Which pair was active is not known, and nothing is estimated.", plural(w.d.trials, "trial", "trials")), nil)
	case n > 0:
		w.caution(say("{} of {} still sealed and have no part in the estimates. Numbers will change once they are opened.", n, plural(w.d.trials, "trial is", "trials are")), nil)
	}
}

func (w *writer) summary() {
	w.section("summary")
	parts := paragraphsOf(w.d.in.Spec.Abstract)
	if len(parts) == 0 {
		w.say("Abstract: {}.", missing)
	}
	for _, p := range parts {
		w.say("{}", p)
	}
	w.inShort()
	w.headlineTable()
	w.people()
	w.provenance()
}

// inShort is the study in three sentences, from its numbers.
func (w *writer) inShort() {
	d := w.d
	if d.trials == 0 || d.passes == 0 {
		return
	}
	var names []string
	for i := range d.species {
		if d.species[i].passes > 0 {
			names = append(names, d.species[i].name)
		}
	}
	of := speciesRuns(names)
	if len(of) == 0 {
		of = say("animals whose species was {}", missing)
	}
	var text passage
	text.say("Between {} and {}, {} of {} were seen in {}.", dayText(d.at(d.first)), dayText(d.at(d.last)), plural(d.passes, "pass", "passes"), of, plural(d.trials, "trial", "trials"))
	if d.estimated() {
		for i := range d.in.Findings.Detection {
			e := &d.in.Findings.Detection[i]
			interval := intervalText(e.CI95.Low, e.CI95.High, "nV/cm")
			switch {
			case known(e.Median) && interval != "":
				text.say("Half of the detection thresholds of {} lay below {} (95{}% interval {}).", speciesWords(e.Species), bold(withUnit(*e.Median, "nV/cm")), thin, interval)
			case known(e.Median):
				text.say("Half of the detection thresholds of {} lay below {}; an interval cannot be given.", speciesWords(e.Species), bold(withUnit(*e.Median, "nV/cm")))
			default:
				text.say("The detection threshold of {} cannot be estimated.", speciesWords(e.Species))
			}
		}
	}
	w.paragraph(text)
}

// headlineTable holds the numbers that are quoted, one row a species.
func (w *writer) headlineTable() {
	if !w.d.estimated() {
		return
	}
	t := Table{
		Name: "headline", Title: "The main numbers",
		Note: "Median: detection threshold, from the detection model. Odds ratio: of a turn at active and at control pairs, animals allowed for; * penalised. From, to: 95" + thin + "% interval.",
		Columns: []Column{
			{Name: "species", Title: "Species"},
			{Name: "passes", Title: "Passes", Numbers: true},
			{Name: "animals", Title: "Animals", Numbers: true},
			{Name: "detection_median_nV_per_cm", Title: "Median", Unit: "nV/cm", Numbers: true},
			{Name: "detection_low_nV_per_cm", Title: "From", Unit: "nV/cm", Numbers: true},
			{Name: "detection_high_nV_per_cm", Title: "To", Unit: "nV/cm", Numbers: true},
			{Name: "odds_ratio", Title: "Odds ratio", Numbers: true},
			{Name: "odds_ratio_low", Title: "From", Numbers: true},
			{Name: "odds_ratio_high", Title: "To", Numbers: true},
			{Name: "randomisation_p", Title: "Randomisation test"},
		},
	}
	f := &w.d.in.Findings
	for i := range f.Detection {
		e := &f.Detection[i]
		var p Preference
		if k := slices.IndexFunc(f.Preference, func(p Preference) bool { return p.Species == e.Species }); k >= 0 {
			p = f.Preference[k]
		}
		o := oddsRatioOf(&p)
		ratio := roundedCell(o.ratio)
		if o.penalised && ratio.Text != "" {
			ratio.Text += "*"
		}
		median := roundedCell(e.Median)
		if median.Text == "" {
			median = Cell{Text: "cannot be estimated"}
		}
		t.Rows = append(t.Rows, []Cell{
			speciesWordCell(e.Species), wholeCell(e.Passes), wholeCell(e.Individuals), median, roundedCell(e.CI95.Low), roundedCell(e.CI95.High),
			ratio, roundedCell(o.low), roundedCell(o.high), pCell(p.RandomisationP),
		})
	}
	w.table(t)
}

func (w *writer) people() {
	authors := authorsOf(w.d.in.People)
	if len(authors) == 0 {
		w.say("Authors: {}.", missing)
		return
	}
	var items [][]Run
	for _, p := range w.d.in.People {
		name := nameOf(p)
		if name == "" {
			continue
		}
		item := say("{}", name)
		if r := tidy(p.Role); r != "" && r != "author" {
			item = joinRuns(item, say(" ({})", r)...)
		}
		if a := clause(p.Affiliation); a != "" {
			item = joinRuns(item, say(", {}", a)...)
		}
		if o := tidy(p.ORCID); o != "" {
			item = joinRuns(item, say(", ORCID {}", linkWhere(orcidForm, o, "https://orcid.org/"+o))...)
		}
		if e := tidy(p.Email); e != "" {
			item = joinRuns(item, say(", {}", e)...)
		}
		items = append(items, item)
	}
	w.list(items)
}

func (w *writer) provenance() {
	in := &w.d.in
	var text passage
	text.say("Made by Brinefield {}", orMissing(in.Program.Version))
	if !in.Made.IsZero() {
		text = joinRuns(text, say(" on {}", dayText(in.Made))...)
	}
	text = joinRuns(text, Run{Text: "."})
	if licence := tidy(in.Spec.Licence); licence != "" {
		text.say("Licence: {}.", licence)
	} else {
		text.say("Licence: {}; none is granted.", missing)
	}
	if doi := tidy(in.Spec.DOI); doi != "" {
		text.say("DOI: {}.", linkWhere(doiForm, doi, "https://doi.org/"+doi))
	}
	if words := strings.Join(tidyAll(in.Spec.Keywords), ", "); words != "" {
		text.say("Keywords: {}.", words)
	}
	w.blocks = append(w.blocks, Block{Kind: NoteBlock, Text: text})
	w.list(w.d.sentencesOf(in.Facts.Privacy))
}

// What is no ORCID or DOI by its form leads nowhere.
var (
	orcidForm = regexp.MustCompile(`^\d{4}-\d{4}-\d{4}-\d{3}[\dX]$`)
	doiForm   = regexp.MustCompile(`^10\.\d{4,9}/[-._;()/:A-Za-z0-9]+$`)
)

func linkWhere(form *regexp.Regexp, text, href string) Run {
	if form.MatchString(text) {
		return link(text, href)
	}
	return Run{Text: text}
}

func tidyAll(words []string) []string {
	var out []string
	for _, word := range words {
		if word = tidy(word); word != "" {
			out = append(out, word)
		}
	}
	return out
}

func (w *writer) permits() {
	w.section("permits")
	c, f := &w.d.in.Spec, &w.d.in.Facts
	w.written("Ethical statement:", c.Ethics)
	if len(f.Permits) == 0 {
		w.say("Permits and approvals: {}.", missing)
	}
	w.permitTable()
	w.cautions()
	w.written("Funding:", c.Funding)
	w.written("Interests:", c.Interests)
}

func (w *writer) permitTable() {
	t := Table{
		Name: "permits", Title: "Permits and approvals",
		Note: "Animals and hours: counted, of those allowed.",
		Columns: []Column{
			{Name: "what", Title: "What it allows"},
			{Name: "authority", Title: "Given by"},
			{Name: "number", Title: "Number"},
			{Name: "valid_from", Title: "From"},
			{Name: "valid_to", Title: "To"},
			{Name: "animals", Title: "Animals"},
			{Name: "hours", Title: "Hours"},
			{Name: "note", Title: "Note"},
		},
	}
	orNot := func(text string) Cell {
		if text = tidy(text); text != "" {
			return Cell{Text: text}
		}
		return Cell{Text: missing.Text, Style: Missing}
	}
	counted := func(n, most *float64) Cell {
		switch {
		case known(n) && known(most):
			return Cell{Text: setValue(*n) + " of " + setValue(*most)}
		case known(n):
			return Cell{Text: setValue(*n) + ", no limit stated"}
		case known(most):
			return Cell{Text: missing.Text + ", of " + setValue(*most), Style: Missing}
		}
		return Cell{Text: missing.Text, Style: Missing}
	}
	for i := range w.d.in.Facts.Permits {
		p := &w.d.in.Facts.Permits[i]
		t.Rows = append(t.Rows, []Cell{
			orNot(p.What), orNot(p.Authority), orNot(p.Number), orNot(dateText(p.ValidFrom)), orNot(dateText(p.ValidTo)),
			counted(p.Animals, p.AnimalsMost), counted(p.Hours, p.HoursMost), wordCell(p.Note),
		})
	}
	w.table(t)
}

// cautions are those of the page Question, ticked or not.
func (w *writer) cautions() {
	const decide = "Local codes, permits, animal-care committees and licensed practice decide."
	all := w.d.in.Facts.Cautions
	if len(all) == 0 {
		w.caution(say("Cautions about diving, electricity in water, animals, bait, boats and permits: {}. {}", missing, decide), nil)
		return
	}
	ticked := 0
	t := Table{
		Name: "cautions", Title: "Cautions, ticked or not",
		Columns: []Column{{Name: "about", Title: "About"}, {Name: "caution", Title: "Caution"}, {Name: "rests", Title: "Rests on"}, {Name: "ticked", Title: "Ticked"}, {Name: "note", Title: "Note"}},
	}
	for i := range all {
		c := &all[i]
		state := Cell{Text: "not ticked", Style: Missing}
		if c.Ticked {
			ticked++
			state = Cell{Text: "ticked"}
		}
		t.Rows = append(t.Rows, []Cell{wordCell(c.About), wordCell(c.Text), wordCell(c.Rests), state, wordCell(c.Note)})
	}
	w.caution(say("{} of {} ticked by those who did the work. A tick says that something was thought of and settled, and proves nothing. {}", ticked, plural(len(all), "caution is", "cautions are"), decide), nil)
	w.table(t)
}

func (w *writer) checklist() {
	w.section("checklist")
	t := Checklist(w.d.in)
	states := map[string]int{}
	for _, row := range t.Rows {
		states[row[len(row)-1].Text]++
	}
	w.say("The table compares the study with the {}: of {} the study has {}, has {} in part, and lacks {}. What each item asks for is put in our own words.", w.cite("arrive"), plural(len(t.Rows), "row", "rows"), states[stateHas], states[stateInPart], states[stateLacks])
	w.table(t)
}

// changes are what was recorded or changed after the opening.
func (w *writer) changes() {
	w.section("changes")
	const name, most = "changed-after-opening.csv", 50
	n := w.d.in.Facts.Blinding.AfterOpening
	rows := w.changeRows(w.d.in.Beside[name])
	switch {
	case n == 0 && len(rows) == 0 && w.d.in.Facts.Journal == nil:
		w.say("What was changed after the active pairs were opened: {}.", missing)
		return
	case n == 0 && len(rows) == 0:
		w.say("The journal holds no pass or track that was recorded or changed after the active pair of its trial was opened.")
		return
	}
	w.say("{} recorded or changed in trials whose active pair had been opened. The file {} holds all of them.", plural(max(n, len(rows)), "value was", "values were"), code("study/"+name))
	t := Table{
		Name: "changes", Title: "Recorded or changed after the opening",
		Columns: []Column{
			{Name: "what", Title: "What"},
			{Name: "trial", Title: "Trial"},
			{Name: "field", Title: "Field"},
			{Name: "from", Title: "From"},
			{Name: "to", Title: "To"},
			{Name: "when", Title: "When"},
			{Name: "by", Title: "By"},
			{Name: "reason", Title: "Reason given"},
		},
	}
	for i, r := range rows {
		if i == most {
			t.Note = "The first " + count(most) + " of " + count(len(rows)) + "."
			break
		}
		t.Rows = append(t.Rows, []Cell{wordCell(r["kind"] + " " + r["id"]), wordCell(r["trial"]), wordCell(r["field"]), wordCell(cutShort(r["from"])), wordCell(cutShort(r["to"])), wordCell(momentText(r["when"])), wordCell(r["by"]), wordCell(cutShort(r["reason"]))})
	}
	w.table(t)
}

// changeRows reads the table; while anything is sealed, without what helps to
// tell a role.
func (w *writer) changeRows(file []byte) []map[string]string {
	all, err := csv.NewReader(bytes.NewReader(file)).ReadAll()
	if err != nil || len(all) < 2 {
		return nil // the file itself is in the package
	}
	var out []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for k, column := range all[0] {
			row[column] = cells[k]
		}
		if w.d.sealed > 0 && (row["kind"] == string(study.KindAssignment) || slices.Contains(study.GuardedFields, row["field"])) {
			continue
		}
		out = append(out, row)
	}
	return out
}

// cutShort keeps a cell of a printed table readable: the file has all of it.
func cutShort(text string) string {
	const most = 160
	r := []rune(tidy(text))
	if len(r) <= most {
		return string(r)
	}
	return string(r[:most]) + " …"
}

func (w *writer) adverse() {
	w.section("adverse")
	deck := w.d.in.Facts.Deck
	if deck == nil {
		w.say("Adverse events: {}.", missing)
		return
	}
	if len(deck.Events) == 0 {
		w.say("The log of the work on site holds no adverse event.")
		return
	}
	n := 0
	for i := range deck.Events {
		if eventWords(deck.Events[i].What) == "adverse event" {
			n++
		}
	}
	w.say("The log of the work on site holds {} and {}.", plural(n, "adverse event", "adverse events"), plural(len(deck.Events)-n, "note", "notes"))
	t := Table{
		Name: "events", Title: "Adverse events and notes",
		Columns: []Column{{Name: "what", Title: "What"}, {Name: "when", Title: "When"}, {Name: "trial", Title: "Trial"}, {Name: "text", Title: "In the words of the log"}},
	}
	for i := range deck.Events {
		e := &deck.Events[i]
		t.Rows = append(t.Rows, []Cell{wordCell(eventWords(e.What)), wordCell(momentText(e.When)), wordCell(e.Trial), wordCell(e.Text)})
	}
	w.table(t)
}

// eventWords are what the log calls an event.
func eventWords(what string) string {
	if tidy(what) == "adverse" {
		return "adverse event"
	}
	return what
}

// checking says how a stranger checks the package.
func (w *writer) checking() {
	w.section("package")
	w.say("The package that this report belongs to holds the season folder, everything that is printed here as data, and the checks of both.")
	items := [][]Run{
		say("{} lists the SHA-256 of every other file. In the unzipped folder, {} compares them.", code(ChecksumsFile), code("sha256sum -c "+ChecksumsFile)),
		say("{} checks names, checksums, tables and, where the schedule was sealed, that what was opened is what was sealed.", code("brinefield verify PACKAGE")),
		say("{} works every number out again from the season folder in the package, and prints what differs. The same build finds nothing.", code("brinefield dossier PACKAGE --again")),
		say("{} is the season folder itself, plain text: anyone can read it, and {} gives the results.", code(SeasonFolder), code("brinefield analyse season")),
	}
	if s := w.d.in.Facts.Schedule; s != nil && s.Sealed && tidy(s.Seal) != "" {
		items = append(items, say("The fingerprint of the sealed schedule is {}. If it was published before the season, it shows that the schedule was not changed since.", code(s.Seal)))
	}
	w.list(items)
	w.devices()
}

func (w *writer) devices() {
	j := w.d.in.Facts.Journal
	if j == nil || len(j.Devices) == 0 {
		w.say("Journal of the study: {}.", missing)
		return
	}
	t := Table{
		Name: "devices", Title: "Where the chains of the journal end",
		Note:    "Head: SHA-256 of the last entry of each device. Whoever keeps the journal can show that it ends there.",
		Columns: []Column{{Name: "device", Title: "Device"}, {Name: "entries", Title: "Entries", Numbers: true}, {Name: "head", Title: "Head"}},
	}
	for i := range j.Devices {
		v := &j.Devices[i]
		t.Rows = append(t.Rows, []Cell{wordCell(v.Device), wholeCell(int(v.Entries)), {Text: tidy(v.Head), Style: Code}})
	}
	w.table(t)
}
