package dossier

import (
	"strings"

	"brinefield/core/study"
)

func (w *writer) schedule() {
	w.section("schedule")
	f := w.d.in.Facts.Schedule
	if f == nil {
		var text passage
		text.add(w.statedRule())
		if w.d.in.Facts.Journal == nil {
			text.say("Whether the schedule was sealed: {}.", missing)
		} else {
			text.say("{}", notSealed)
		}
		w.paragraph(text)
		return
	}
	var text passage
	if rule := clause(f.Rule); rule != "" {
		text.say("How active pairs were drawn: {}.", rule)
	} else {
		text.add(w.statedRule())
	}
	if f.Trials > 0 {
		text.say("{} drawn, with {}; {} run.", plural(f.Trials, "trial was", "trials were"), plural(f.Spare, "spare draw", "spare draws"), plural(f.TrialsRun, "trial was", "trials were"))
	}
	if w.d.silent > 0 {
		text.say("{} of the trials that were run {} silent.", w.d.silent, wasWere(w.d.silent))
	}
	w.paragraph(text)
	w.seal(f)
	w.openings(f)
	if balance := sentence(f.Balance); balance != "" {
		w.say("{}", balance)
	}
	if len(f.Problems) > 0 {
		w.caution(say("The check of the schedule against its seal found:"), w.d.sentencesOf(f.Problems))
	}
}

// notSealed is said of a study whose journal was looked through.
const notSealed = "The study keeps no schedule that was sealed beforehand."

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// statedRule is the rule that the season states.
func (w *writer) statedRule() []Run {
	r := &w.d.s.Schedule
	switch r.Kind {
	case study.ScheduleUniform:
		return say("The active pair of each trial was drawn independently, with equal chances for all pairs.")
	case study.ScheduleBlocks:
		out := say("The active pairs were drawn in permuted blocks of {}", plural(r.Block, "trial", "trials"))
		if r.MostAlike > 0 {
			out = joinRuns(out, say(", with at most {} running at the same pair", plural(r.MostAlike, "driven trial", "driven trials"))...)
		}
		return joinRuns(out, Run{Text: "."})
	}
	return say("The rule by which active pairs were drawn: {}.", missing)
}

func (w *writer) seal(f *ScheduleFacts) {
	if !f.Sealed {
		w.say("{}", notSealed)
		return
	}
	var text passage
	text.say("The schedule was sealed to {}, so that nobody could read it without one of them.", plural(f.Keys, "key", "keys"))
	if tidy(f.Seal) != "" {
		text.say("Its fingerprint is {}.", code(f.Seal))
	} else {
		text.say("Its fingerprint: {}.", missing)
	}
	if f.Written != nil {
		text.say("It was written down {}.", stampRuns(f.Written))
	}
	if f.Rehearsed > 0 {
		text.say("Beforehand {} seen to open it.", plural(f.Rehearsed, "key was", "keys were"))
	} else {
		text.say("Whether a key was tried beforehand: {}.", missing)
	}
	w.paragraph(text)
}

// stampRuns are when, by whom and why: "on 2 June 2025, 14:05 by …".
func stampRuns(s *StampFact) []Run {
	out := say("on {}", orMissing(momentText(s.When)))
	if tidy(s.By) != "" {
		out = joinRuns(out, say(" by {}", s.By)...)
	}
	if why := clause(s.Reason); why != "" {
		out = joinRuns(out, say(" (reason given: {})", why)...)
	}
	return out
}

func (w *writer) openings(f *ScheduleFacts) {
	var text passage
	if f.Locked != nil {
		text.say("Scoring was locked {}.", stampRuns(f.Locked))
	} else {
		text.say("Locking of the scores before the opening: {}.", missing)
	}
	switch {
	case len(f.Openings) == 0 && f.Sealed && !f.AllOpened:
		text.say("The schedule has not been opened.")
	case len(f.Openings) == 1:
		text.say("Active pairs were opened {}.", stampRuns(&f.Openings[0]))
	case len(f.Openings) > 1:
		text.say("Active pairs were opened {} times:", len(f.Openings))
	}
	if f.Sealed && len(f.Openings) > 0 && !f.AllOpened {
		text.say("Some trials are still sealed.")
	}
	w.paragraph(text)
	if len(f.Openings) > 1 {
		var items [][]Run
		for i := range f.Openings {
			items = append(items, stampRuns(&f.Openings[i]))
		}
		w.list(items)
	}
}

func (w *writer) blinding() {
	w.section("blinding")
	b := &w.d.in.Facts.Blinding
	if w.d.in.Facts.Journal == nil && len(b.Knowers)+len(b.Guesses)+len(b.Warnings) == 0 {
		w.say("Who could have known which pair was active: {}.", missing)
		return
	}
	if len(b.Knowers) == 0 {
		w.say("The journal names nobody who could have known which pair was active before it was opened. It cannot tell who saw the switch box, its cables or its display.")
	} else {
		w.say("According to the journal these people could have known which pair was active. It cannot tell who saw the switch box, its cables or its display.")
	}
	w.knowers()
	w.guesses()
	if b.AfterOpening > 0 {
		where := code("study/changed-after-opening.csv")
		if w.whole {
			title, _ := titleOf("changes")
			where = link("“"+title+"”", "#changes")
		}
		w.say("{} recorded or changed after the opening: see {}.", plural(b.AfterOpening, "value was", "values were"), where)
	}
	w.list(w.d.sentencesOf(b.Warnings))
}

func (w *writer) knowers() {
	t := Table{
		Name: "knowers", Title: "Who could have known which pair was active",
		Columns: []Column{
			{Name: "who", Title: "Who"},
			{Name: "how", Title: "How"},
			{Name: "since", Title: "Since"},
			{Name: "trials", Title: "Trials", Numbers: true},
			{Name: "scored", Title: "Passes they scored", Numbers: true},
		},
	}
	for _, k := range w.d.in.Facts.Blinding.Knowers {
		trials := Cell{Text: "all"}
		if k.Trials > 0 {
			trials = wholeCell(k.Trials)
		}
		t.Rows = append(t.Rows, []Cell{wordCell(k.Who), wordCell(k.How), wordCell(momentText(k.Since)), trials, wholeCell(k.Scored)})
	}
	w.table(t)
}

// guesses compares what scorers took for the active pair with chance. While
// anything is sealed, only how many guessed is said.
func (w *writer) guesses() {
	all := w.d.in.Facts.Blinding.Guesses
	if len(all) == 0 && w.d.sealed > 0 {
		w.say("What guesses of those who scored tell of the blinding is worked out once every trial is opened.")
		return
	}
	if len(all) == 0 {
		w.say("Guesses of those who scored, as a test of the blinding: {}.", missing)
		return
	}
	n := 0
	for i := range all {
		n += all[i].Guesses
	}
	if w.d.sealed > 0 {
		w.say("{} written down. They are compared with chance once every trial is opened.", plural(n, "guess of the active pair was", "guesses of the active pair were"))
		return
	}
	t := Table{
		Name: "guesses", Title: "Guesses of the active pair, compared with chance",
		Note: "p: how often a schedule drawn again by its rule meets as many guesses.",
		Columns: []Column{
			{Name: "who", Title: "Who"},
			{Name: "guesses", Title: "Guesses", Numbers: true},
			{Name: "hits", Title: "Right", Numbers: true},
			{Name: "expected", Title: "Right by chance", Numbers: true},
			{Name: "p", Title: "p"},
		},
	}
	for i := range all {
		g := &all[i]
		p := Cell{Text: clause(g.Why)}
		if known(g.P) {
			p = Cell{Text: pText(*g.P), Exact: exactDigits(*g.P)}
		}
		if p.Text == "" {
			p = Cell{Text: missing.Text, Style: Missing}
		}
		t.Rows = append(t.Rows, []Cell{wordCell(g.By), wholeCell(g.Guesses), wholeCell(g.Hits), roundedCell(g.Expected), p})
	}
	w.table(t)
}

func (w *writer) preregistration() {
	w.section("preregistration")
	all := w.d.in.Facts.Preregistration
	if len(all) == 0 {
		w.say("Preregistration: {}.", missing)
		return
	}
	var items [][]Run
	for i := range all {
		late := "before the first trial"
		if all[i].Late {
			late = "after the first trial had begun"
		}
		items = append(items, say("{}, registered on {}, {}; SHA-256 {}", orMissing(all[i].ID), orMissing(momentText(all[i].When)), late, codeOrMissing(all[i].SHA256)))
	}
	w.say("The plan was written down and dated in the study's own journal:")
	w.list(items)
	if _, there := w.d.in.Beside["preregistration.md"]; there {
		w.say("The last of them is the file {} of the package.", code("study/preregistration.md"))
	}
}

func codeOrMissing(text string) Run {
	if tidy(text) == "" {
		return missing
	}
	return code(text)
}

func (w *writer) procedure() {
	w.section("procedure")
	f := &w.d.in.Facts
	w.written("How a trial goes:", f.Protocol.Method)
	w.bait()
	var text passage
	if j := f.Journal; j != nil {
		text.say("What was done was written into a journal whose entries are chained by fingerprints: {}, from {} to {}, by {}.",
			plural(int(j.Entries), "entry", "entries"), orMissing(momentText(j.From)), orMissing(momentText(j.To)), plural(len(j.Devices), "device", "devices"))
	}
	if f.Deck == nil {
		text.say("Log of the work on site: {}.", missing)
		w.paragraph(text)
		return
	}
	text.say("The log of the work on site holds {} and {}.", plural(len(f.Deck.Events), "event or note", "events and notes"), plural(f.Deck.Photos, "photo", "photos"))
	w.paragraph(text)
	w.checks(f.Deck.Checks)
}

func (w *writer) bait() {
	baits, odours := map[string]float64{}, map[string]float64{}
	baited, scented := 0, 0
	for i := range w.d.s.Trials {
		t := &w.d.s.Trials[i]
		if b := tidy(t.Bait); b != "" {
			baits[b], baited = 0, baited+1
		}
		if o := tidy(t.Odour); o != "" {
			odours[o], scented = 0, scented+1
		}
	}
	if baited == 0 && scented == 0 {
		w.say("Bait and odour: {}.", missing)
		return
	}
	var items [][]Run
	if baited > 0 {
		items = append(items, say("bait in {} of {} trials ({})", baited, w.d.trials, strings.Join(keysByValue(baits), "; ")))
	}
	if scented > 0 {
		items = append(items, say("odour in {} of {} trials ({})", scented, w.d.trials, strings.Join(keysByValue(odours), "; ")))
	}
	w.say("Recorded: {}.", listRuns(items))
}

func (w *writer) checks(checks []CheckFact) {
	if len(checks) == 0 {
		w.say("Checks before trials: {}.", missing)
		return
	}
	t := Table{
		Name: "checks", Title: "Checks before trials",
		Columns: []Column{{Name: "check", Title: "Check"}, {Name: "done", Title: "Trials in which it was done", Numbers: true}, {Name: "other", Title: "Skipped, or not in order", Numbers: true}},
	}
	for i := range checks {
		t.Rows = append(t.Rows, []Cell{wordCell(checks[i].Check), wholeCell(checks[i].Done), wholeCell(checks[i].Other)})
	}
	w.table(t)
}
