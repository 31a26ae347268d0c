package app

import (
	"fmt"
	"strings"

	"brinefield/core/study"
)

// analysisDraft is an analysis plan made of the study's own settings and of what
// this program estimates. Nobody chose it: it is offered to whoever writes the
// plan. It reads nothing of any trial.
func analysisDraft(current *standingRecords) string {
	var b strings.Builder
	para := func(format string, a ...any) {
		if b.Len() > 0 {
			b.WriteString("\n\n")
		}
		fmt.Fprintf(&b, format, a...)
	}
	analysis, schedule := fieldsAsWritten(current, study.KindAnalysis), fieldsAsWritten(current, study.KindSchedule)
	var species []string
	for _, state := range current.standing(study.KindSpecies) {
		species = append(species, oneLine(state.ID))
	}
	of := "For each species"
	if len(species) > 0 {
		of += " (" + strings.Join(species, ", ") + ")"
	}
	para("Headline. %s: the median threshold of the detection model in nV/cm, with its 95 %% interval. Maximum likelihood over all passes that count, those of silent trials too; turns that no field caused and lapses are estimated with it. The interval is from the cluster sandwich; a cluster is an animal, or the unidentified passes of one trial and species.", of)
	para("Preference. Turns at the active pair against turns at the control pairs, over all species and for each. %s Beside it a logistic mixed model in which each animal has its own readiness to turn; where separation keeps that from an estimate, the penalised odds ratio and an exact bound. Fisher's exact test is given for comparison only, because it takes passes of one animal for independent.", randomisationDraft(schedule))
	para("Secondary. The step curve that takes no form for granted, the lognormal threshold, and the lognormal threshold with individuals, from passes at the active pair. The median, quartiles and smallest field at the turn as they are usually published, and the same with the textbook's formula of the field.")
	para("Settings. %s", settingsDraft(analysis))
	para("Sensitivity. The headline median again with a reaction time of %s s%s.", timesText(sensitivityTimesS), uncertaintyDraft(fieldsAsWritten(current, study.KindUncertainty)))
	para("Missing data. A pass that was not scored, or whose field cannot be told, is left out and counted, with the reason. A pass of which nobody knows how long it was watched is left out of the headline. Of a visit, passes after the first turn or bite are left out. A turn whose moment was not recorded counts as an answer somewhere up to the largest field that the animal met. Heights that were not recorded lie within the range that the study states. Nothing is filled in.")
	para("Which pair was active is opened only when all passes are scored and scoring is locked. What is analysed beyond this plan is called exploratory.")
	return b.String()
}

func randomisationDraft(schedule map[string]string) string {
	rule := ruleText(schedule)
	if rule == "" {
		return "The randomisation test needs the rule by which the active pair is drawn, and the study does not state it yet."
	}
	return fmt.Sprintf("The test is the randomisation test: the schedule is drawn again %d times by its own rule, %s.", randomisationDraws, rule)
}

func settingsDraft(analysis map[string]string) string {
	var parts []string
	for _, w := range analysisWords {
		if v := oneLine(analysis[w.field]); v != "" {
			parts = append(parts, fmt.Sprintf(w.words, v)+".")
		}
	}
	if len(parts) == 0 {
		return "The study states none yet."
	}
	return strings.Join(parts, " ")
}

// timesText lists numbers: "0, 0.05, 0.1 and 0.2".
func timesText(times []float64) string {
	words := make([]string, len(times))
	for i, t := range times {
		words[i] = fmt.Sprintf("%g", t)
	}
	n := len(words) - 1
	return strings.Join(words[:n], ", ") + " and " + words[n]
}

func uncertaintyDraft(fields map[string]string) string {
	var parts []string
	for _, w := range []fieldWords{
		{"bottom_S_per_m_sd", "the conductivity of the bottom (%s S/m)"},
		{"height_sd_cm", "heights (%s cm)"},
		{"current_sd_percent", "currents (%s %%)"},
		{"position_sd_cm", "positions (%s cm)"},
	} {
		if v := oneLine(fields[w.field]); v != "" && v != "0" {
			parts = append(parts, fmt.Sprintf(w.words, v))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return ", and with each of these off by the standard deviation that the study states: " + strings.Join(parts, ", ")
}
