package app

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/study"
)

// planned gathers the document and what it lacks.
type planned struct {
	strings.Builder
	missing []string
}

// preregistrationText makes the document of the records as they stand. What is
// missing is named by the field that would say it.
func (s *Study) preregistrationText(ctx context.Context) (text string, missing []string, err error) {
	current, err := s.current(ctx)
	if err != nil {
		return "", nil, err
	}
	seal := publicSeal(current)
	p := &planned{missing: []string{}}
	p.what(current)
	p.schedule(current, seal)
	protocol := fieldsAsWritten(current, study.KindProtocol)
	p.part("Which animals, passes and trials count", "criteria", protocol["criteria"])
	p.part("Stopping rule", "stopping_rule", protocol["stopping_rule"])
	p.part("Analysis plan", "analysis_plan", protocol["analysis_plan"])
	p.list("Settings of the analysis", "analysis", statedFields(current, study.KindAnalysis, analysisWords))
	p.list("How well the inputs are known, as one standard deviation", "uncertainty", statedFields(current, study.KindUncertainty, uncertaintyWords))
	p.seal(seal)
	p.program(s.options.Program)
	return p.String(), p.missing, nil
}

// what is asked, where, of whom and how.
func (p *planned) what(current *standingRecords) {
	about, site, protocol := fieldsAsWritten(current, study.KindStudy), fieldsAsWritten(current, study.KindSite), fieldsAsWritten(current, study.KindProtocol)
	title := oneLine(about["title"])
	if title == "" {
		p.missing = append(p.missing, "title")
		title = "Study without a title"
	}
	fmt.Fprintf(p, "# %s\n\nPreregistration: what this study plans.\n", title)
	p.part("Question", "question", about["question"])
	p.part("Site", "site", siteText(site, protocol))
	p.part("Hypotheses", "hypotheses", protocol["hypotheses"])
	var species []string
	for _, state := range current.standing(study.KindSpecies) {
		species = append(species, oneLine(state.ID))
	}
	p.list("Species", "species", species)
	p.part("How a trial goes", "method", protocol["method"])
}

func siteText(site, protocol map[string]string) string {
	var parts []string
	add := func(format, value string) {
		if value = oneLine(value); value != "" {
			parts = append(parts, fmt.Sprintf(format, value))
		}
	}
	add("%s", site["name"])
	add("%s m deep", site["depth_m"])
	add("latitude %s°", site["latitude"])
	add("longitude %s°", site["longitude"])
	add("times in the zone %s", site["timezone"])
	add("begins %s", protocol["start"])
	add("ends %s", protocol["end"])
	if len(parts) == 0 {
		return ""
	}
	return strings.Join(parts, ", ") + "."
}

// sealPublic is what everybody may know of a sealed schedule. Of the trials
// nothing is read.
type sealPublic struct {
	Plan     SchedulePlan `json:"plan"`
	Rule     ScheduleRule `json:"rule"`
	Seal     string       `json:"seal"`
	SealedTo []string     `json:"sealed_to"`

	times ScheduleTimes
}

// publicSeal is what is public of the sealed schedule in force; nil where there
// is none that can be read: verify tells of one that cannot.
func publicSeal(current *standingRecords) *sealPublic {
	states := current.standing(study.KindSeal)
	if len(states) == 0 {
		return nil
	}
	last := states[len(states)-1].Fields
	var seal sealPublic
	err := json.Unmarshal([]byte(last[documentField]), &seal)
	if plan := seal.Plan.core(); err != nil || seal.Seal == "" || plan.Check() != nil {
		return nil
	}
	seal.times = scheduleTimesOf(last)
	return &seal
}

// schedule is the plan that was drawn by, or where none is sealed the rule that
// the season states.
func (p *planned) schedule(current *standingRecords, seal *sealPublic) {
	p.heading("Schedule")
	if seal == nil {
		p.WriteString("No schedule is sealed.")
		if rule := ruleText(fieldsAsWritten(current, study.KindSchedule)); rule != "" {
			fmt.Fprintf(p, " The active pair of a trial is drawn %s.", rule)
		}
		p.WriteString("\n")
		return
	}
	plan := &seal.Plan
	currents := make([]string, len(plan.CurrentsUA))
	for i, c := range plan.CurrentsUA {
		currents[i] = fmt.Sprintf("%g", c)
	}
	pairs := make([]string, len(plan.Pairs))
	for i, pair := range plan.Pairs {
		pairs[i] = oneLine(pair)
	}
	line := func(format string, a ...any) { fmt.Fprintf(p, "- "+format+"\n", a...) }
	line("Pairs: %s.", strings.Join(pairs, ", "))
	line("Currents: %s µA%s.", strings.Join(currents, ", "), map[bool]string{true: "; the polarity is drawn too"}[plan.DrawPolarity])
	line("Trials: %d, of which silent (no pair is driven): %d, shams (the switch is thrown to no pair): %d.", plan.Trials, plan.Silent, plan.Sham)
	if plan.OdourOff > 0 {
		line("Driven trials without odour: %d.", plan.OdourOff)
	}
	line("Spare draws: %d, sealed with the others, for trials that have to be drawn again.", plan.Spare)
	if t := seal.times; t.TrialMin > 0 {
		line("A trial takes %g minutes.", t.TrialMin)
	}
	if t := seal.times; t.WashoutMin > 0 {
		line("From the end of a trial to the start of the next at least %g minutes pass (washout).", t.WashoutMin)
	}
	if seal.times.PerDay > 0 {
		line("Trials of a day: %d.", seal.times.PerDay)
	}
	line("Rule: permuted blocks of %d trials, silent ones and shams among them; a block drives no pair more than %s.", seal.Rule.Block, timesOf(plan.Repeats))
	if plan.MostAlike > 0 {
		line("Limit: the same pair in at most %d driven trials running.", plan.MostAlike)
	} else {
		line("Limit: none on how often the same pair comes up running.")
	}
	line("Keys: sealed to %d keys, each of which opens it. Who holds them is written down in the study.", len(seal.SealedTo))
}

func timesOf(n int) string {
	if n <= 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// seal is the seal in full and how to check it.
func (p *planned) seal(seal *sealPublic) {
	p.heading("Seal")
	if seal == nil {
		p.missing = append(p.missing, "seal")
		p.WriteString("Not stated.\n")
		return
	}
	fmt.Fprintf(p, "    %s\n\n%s", oneLine(seal.Seal), sealCheck)
}

const sealCheck = `The seal is the root of the Merkle tree (RFC 9162, SHA-256) over the plan above and all trials, each committed to with a nonce of its own. It stands for which pair is active in which trial and tells nothing of it. Once the schedule is opened, everybody can check that it is the one that was sealed:

- With the program: brinefield verify schedule.json, on the sealed or the opened schedule. It needs no key, and must print this seal.
- Without it: docs/formats/seal.md of the program says how in words, and examples/05-check-a-seal does it in thirty lines.
`

func (p *planned) program(program Program) {
	p.heading("Program")
	fmt.Fprintf(p, "Made by Brinefield %s of what the study says. When it was registered, and by whom, is written in the study's journal.\n", cmp.Or(program.Version, "(a version without a number)"))
}

func (p *planned) heading(title string) { fmt.Fprintf(p, "\n## %s\n\n", title) }

// part is a text that people wrote; field says what is missing without it.
func (p *planned) part(title, field, text string) {
	p.heading(title)
	if text = asParagraphs(text); text == "" {
		p.missing = append(p.missing, field)
		text = "Not stated."
	}
	p.WriteString(text + "\n")
}

func (p *planned) list(title, field string, lines []string) {
	if len(lines) == 0 {
		p.part(title, field, "")
		return
	}
	p.heading(title)
	for _, line := range lines {
		fmt.Fprintf(p, "- %s\n", line)
	}
}

// fieldsAsWritten are those of a record that a study has once, as the journal
// holds them: a field that names people is a reference and must not be used.
func fieldsAsWritten(current *standingRecords, kind study.Kind) map[string]string {
	if state := current.state(recordName{kind: kind}); state != nil {
		return state.Fields
	}
	return nil
}

// fieldWords say what a field of study.toml is; %s is its value.
type fieldWords struct{ field, words string }

var analysisWords = []fieldWords{
	{"pass_radius_cm", "A pass begins when the head comes within %s cm of a pair's centre"},
	{"reaction_time_s", "Reaction time between what an animal feels and the turn that is seen: %s s"},
	{"reaction_time_sd_s", "Its standard deviation: %s s"},
	{"fix_sd_cm", "Error of a position on a track: %s cm; above 0, tracks are smoothed"},
	{"height_range_cm", "Heights that were not recorded lie within %s cm"},
	{"field_at", "Point of the head at which the field counts (largest: the one where it is largest): %s"},
}

var uncertaintyWords = []fieldWords{
	{"bottom_S_per_m_sd", "Conductivity of the bottom: %s S/m"},
	{"position_sd_cm", "Position of a pass: %s cm"},
	{"height_sd_cm", "Height: %s cm"},
	{"current_sd_percent", "Current: %s %%"},
}

// statedFields are the fields of a record that are stated, in words.
func statedFields(current *standingRecords, kind study.Kind, words []fieldWords) []string {
	fields := fieldsAsWritten(current, kind)
	var out []string
	for _, w := range words {
		if v := oneLine(fields[w.field]); v != "" {
			out = append(out, fmt.Sprintf(w.words, v)+".")
		}
	}
	return out
}

// ruleText says how the season draws; "" where it does not say.
func ruleText(schedule map[string]string) string {
	switch rule, block := schedule["rule"], oneLine(schedule["block"]); {
	case rule == "uniform":
		return "with equal chances for every pair, whatever came before"
	case rule == "blocks" && block != "":
		if alike := oneLine(schedule["most_alike"]); alike != "" {
			return fmt.Sprintf("in permuted blocks of %s trials, with the same pair in at most %s driven trials running", block, alike)
		}
		return "in permuted blocks of " + block + " trials"
	}
	return ""
}

// oneLine is a text without line breaks and without blanks at its ends.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// asParagraphs is a text of several lines as Markdown in which it stays what
// it is: no line of it becomes a heading, a rule or a fence of the document.
func asParagraphs(text string) string {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\t", " ").Replace(text)
	lines := strings.Split(strings.TrimSpace(text), "\n")
	blank := func(l string) bool { return l == "" }
	for i, line := range lines {
		line = strings.TrimRight(line, " ")
		bare := strings.TrimLeft(line, " ")
		if bare != "" && (strings.ContainsRune("#<`~>\\=", rune(bare[0])) || strings.Trim(bare, "-*_ ") == "") {
			bare = `\` + bare
		}
		if indent := len(line) - len(strings.TrimLeft(line, " ")); indent > 0 && bare != "" {
			bare = strings.Repeat(" ", min(indent, 2)) + bare // four would make it code
		}
		lines[i] = bare
	}
	lines = slices.CompactFunc(lines, func(a, b string) bool { return blank(a) && blank(b) })
	return strings.Join(lines, "\n")
}
