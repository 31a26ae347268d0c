package dossier

import (
	"strconv"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// Tables are the derived tables of the package, in the order of the report:
// exposures, trials, individuals, every estimate, the checklist. The same columns
// are there in every package; what is not known is blank. The table of uncertainty
// is absent where it was not worked out.
func Tables(in Input) []Table {
	out := []Table{
		passTable(in),
		trialTable(in),
		individualTable(in),
		preferenceTable(in),
		detectionTable(in),
		sensitivityTable(in),
		thresholdTable(in),
		descriptiveTable(in),
	}
	if in.Findings.Uncertainty != nil {
		out = append(out, uncertaintyTable(in))
	}
	return append(out, Checklist(in))
}

// passTable has one row for each pass, in the order of the season.
func passTable(in Input) Table {
	t := Table{
		Name: "passes", Title: "What every pass met",
		Note: "One row for each pass of season/passes.csv. Fields are at the head, between the bounds within which the response began.",
		Columns: columnsOf("pass", "trial", "time", "species", "individual", "sex", "pair", "role", "turned", "bit", "responded", "used", "not_used_because",
			"visit", "clip", "scorer", "watched_s", "current_uA", "field_low_nV_per_cm", "field_high_nV_per_cm", "falling_field",
			"phantom_low_nV_per_cm", "phantom_high_nV_per_cm", "textbook_nV_per_cm", "position_nV_per_cm", "after_opening",
			"distance_cm", "horizontal_cm", "angle_deg", "height_cm", "head_x_cm", "head_y_cm", "has_track"),
	}
	sexes := sexOfPasses(in.Study)
	for i := range in.Passes {
		p := &in.Passes[i]
		used := Cell{}
		if p.Used != nil {
			used = yesNoCell(*p.Used)
		}
		t.Rows = append(t.Rows, []Cell{
			textCell(p.ID), textCell(p.Trial), textCell(timeText(p.Time)), textCell(p.Species), textCell(p.Individual), textCell(sexes[p.ID]),
			textCell(p.Pair), textCell(p.Role), answerCell(p.Turned), answerCell(p.Bit), yesNoCell(p.Responded), used, textCell(p.NotUsedBecause),
			textCell(p.Visit), textCell(p.Clip), textCell(p.Scorer), numberCell(p.WatchedS), numberCell(p.CurrentUA),
			numberCell(p.LowNVPerCm), numberCell(p.HighNVPerCm), yesNoCell(p.FallingField),
			numberCell(p.PhantomLowNVPerCm), numberCell(p.PhantomHighNVPerCm), numberCell(p.TextbookNVPerCm), numberCell(p.PositionNVPerCm), yesNoCell(p.AfterOpening),
			numberCell(p.DistanceCm), numberCell(p.HorizontalCm), numberCell(p.AngleDeg), numberCell(p.HeightCm), numberCell(p.HeadXCm), numberCell(p.HeadYCm), yesNoCell(p.HasTrack),
		})
	}
	return t
}

func answerCell(a study.Answer) Cell {
	switch a {
	case study.Yes:
		return Cell{Text: "yes"}
	case study.No:
		return Cell{Text: "no"}
	}
	return Cell{}
}

// sexOfPasses is the sex recorded at each pass, else of its individual.
func sexOfPasses(s *study.Study) map[string]string {
	out := map[string]string{}
	if s == nil {
		return out
	}
	of := map[string]string{}
	for i := range s.Individuals {
		of[s.Individuals[i].ID] = s.Individuals[i].Sex
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		out[p.ID] = p.Sex
		if p.Sex == "" && p.Individual != "" {
			out[p.ID] = of[p.Individual]
		}
	}
	return out
}

// roleCount counts passes and turns of one trial by the role of the pair.
type roleCount struct{ passes, active, control, silent, turnsActive, turnsControl, turnsSilent int }

// trialTable has one row for each trial, in the order of the season. Counts by role
// are blank while the trial is sealed.
func trialTable(in Input) Table {
	t := Table{
		Name: "trials", Title: "Trials: water, current, passes",
		Note: "One row for each trial of season/trials.csv. All passes are counted here, also those that have no place in the estimates.",
		Columns: columnsOf("trial", "start", "end", "active_pair", "silent", "sealed", "current_uA", "stated_current_uA", "current_before_uA", "current_after_uA",
			"water_S_per_m", "water_from", "temperature_C", "salinity",
			"passes", "passes_active", "turns_active", "passes_control", "turns_control", "passes_silent", "turns_silent"),
	}
	if in.Study == nil {
		return t
	}
	counts := map[string]*roleCount{}
	for i := range in.Passes {
		p := &in.Passes[i]
		c := counts[p.Trial]
		if c == nil {
			c = &roleCount{}
			counts[p.Trial] = c
		}
		c.add(p)
	}
	waters := map[string]TrialWater{}
	for _, w := range in.Waters {
		waters[w.Trial] = w
	}
	for i := range in.Study.Trials {
		tr := &in.Study.Trials[i]
		c := counts[tr.ID]
		if c == nil {
			c = &roleCount{}
		}
		silent, driven := yesNoCell(tr.Silent()), Cell{}
		if a, known := drivenUA(tr); known {
			driven = numberCell(&a)
		}
		byRole := []Cell{countCell(c.active), countCell(c.turnsActive), countCell(c.control), countCell(c.turnsControl), countCell(c.silent), countCell(c.turnsSilent)}
		if tr.Sealed {
			silent, byRole = Cell{}, make([]Cell, len(byRole))
		}
		water := Cell{}
		w, known := waters[tr.ID]
		if known {
			water = numberCell(&w.SPerM)
		}
		row := []Cell{
			textCell(tr.ID), textCell(timeText(tr.Start)), textCell(timeText(tr.End)), textCell(activePairText(in.Study, tr)), silent, yesNoCell(tr.Sealed),
			driven, optCell(tr.CurrentA, quantity.Microampere), optCell(tr.CurrentBeforeA, quantity.Microampere), optCell(tr.CurrentAfterA, quantity.Microampere),
			water, textCell(w.From), optCell(tr.TemperatureC, quantity.One), optCell(tr.Salinity, quantity.One), countCell(c.passes),
		}
		t.Rows = append(t.Rows, append(row, byRole...))
	}
	return t
}

func (c *roleCount) add(p *Pass) {
	c.passes++
	turn := 0
	if p.Responded {
		turn = 1
	}
	switch p.Role {
	case study.RoleActive.String():
		c.active++
		c.turnsActive += turn
	case study.RoleControl.String():
		c.control++
		c.turnsControl += turn
	case study.RoleSilent.String():
		c.silent++
		c.turnsSilent += turn
	}
}

// activePairText is the active pair as season/trials.csv writes it.
func activePairText(s *study.Study, t *study.Trial) string {
	switch {
	case t.Sealed:
		return "sealed"
	case len(t.ActivePairs) == 0:
		return "none"
	}
	labels := make([]string, 0, len(t.ActivePairs))
	for _, p := range t.ActivePairs {
		labels = append(labels, pairLabel(s, p))
	}
	return strings.Join(labels, "+")
}

func pairLabel(s *study.Study, p int) string {
	if p < 0 || p >= len(s.Pairs) {
		return ""
	}
	return s.Pairs[p].Label
}

// drivenUA is [study.Trial.DrivenCurrentA] in µA, the mean taken of the µA that were
// written down, so that 8.1 and 7.9 make 8.
func drivenUA(t *study.Trial) (float64, bool) {
	inUA := func(o study.Opt[float64]) float64 {
		v, err := strconv.ParseFloat(quantity.Microampere.Format(o.Value), 64)
		if err != nil {
			return quantity.Microampere.FromSI(o.Value)
		}
		return v
	}
	switch {
	case t.CurrentBeforeA.Known && t.CurrentAfterA.Known:
		return (inUA(t.CurrentBeforeA) + inUA(t.CurrentAfterA)) / 2, true
	case t.CurrentBeforeA.Known:
		return inUA(t.CurrentBeforeA), true
	case t.CurrentAfterA.Known:
		return inUA(t.CurrentAfterA), true
	}
	return inUA(t.CurrentA), t.CurrentA.Known
}

// unitCell is an SI value in a unit of the trade, by shifting the decimal point, so
// that 9e-6 A is 9 µA and not 8.999999999999999.
func unitCell(si float64, u quantity.Unit) Cell {
	if exactNumber(si) == "" {
		return Cell{}
	}
	v, err := strconv.ParseFloat(u.Format(si), 64)
	if err != nil {
		return Cell{}
	}
	return numberCell(&v)
}

func optCell(o study.Opt[float64], u quantity.Unit) Cell {
	if !o.Known {
		return Cell{}
	}
	return unitCell(o.Value, u)
}
