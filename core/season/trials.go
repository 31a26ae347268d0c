package season

import (
	"slices"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

const (
	trialID = iota
	trialStart
	trialEnd
	trialActivePair
	trialCurrent
	trialBlock
	trialPlate
	trialWaveform
	trialFrequency
	trialCurrentBefore
	trialCurrentAfter
	trialWater
	trialTemperature
	trialSalinity
	trialTide
	trialFlow
	trialFlowBearing
	trialSand
	trialBait
	trialOdour
	trialVisibility
	trialObservers
	trialNote
)

var trialColumns = []columnSpec{
	trialID:            {"trial", cellNeeded},
	trialStart:         {"start", cellNeeded},
	trialEnd:           {"end", cellNeeded},
	trialActivePair:    {"active_pair", cellNeeded},
	trialCurrent:       {"current_uA", columnNeeded}, // blank only in a sealed trial
	trialBlock:         {"block", optional},
	trialPlate:         {"plate", optional},
	trialWaveform:      {"waveform", optional},
	trialFrequency:     {"frequency_Hz", optional},
	trialCurrentBefore: {"current_before_uA", optional},
	trialCurrentAfter:  {"current_after_uA", optional},
	trialWater:         {"water_S_per_m", optional},
	trialTemperature:   {"temperature_C", optional},
	trialSalinity:      {"salinity", optional},
	trialTide:          {"tide_m", optional},
	trialFlow:          {"flow_m_per_s", optional},
	trialFlowBearing:   {"flow_bearing_deg", optional},
	trialSand:          {"sand_over_plate_mm", optional},
	trialBait:          {"bait", optional},
	trialOdour:         {"odour", optional},
	trialVisibility:    {"visibility_m", optional},
	trialObservers:     {"observers", optional},
	trialNote:          {"note", optional},
}

func (r *reader) readTrials() {
	t := r.open(TrialsFile, trialColumns, ", and a season needs one")
	if t == nil {
		r.trials.open = true
		return
	}
	r.trials.open = !t.has(trialID)
	for t.next() {
		trial := r.readTrial(t)
		if trial.ID != "" && !r.trials.add(trial.ID, len(r.study.Trials)) {
			r.doubled(t, trialID, trial.ID, r.study.Trials[r.trials.at[trial.ID]].Row)
		}
		r.study.Trials = append(r.study.Trials, trial)
	}
	t.settleDoubts()
}

func (r *reader) readTrial(t *table) study.Trial {
	trial := study.Trial{ID: t.name(trialID, "a trial's name"), Row: t.row()}
	start, okStart := t.time(trialStart, r.study.Site.Zone)
	end, okEnd := t.time(trialEnd, r.study.Site.Zone)
	if okStart && okEnd && r.study.Site.Zone != nil {
		t.laterThan(trialEnd, start, end, "the start, "+quoted(t.cell(trialStart)))
	}
	trial.Start, trial.End = start, end
	r.readActivePair(t, &trial)
	trial.CurrentA = t.plain(trialCurrent, quantity.Microampere)
	if t.cell(trialCurrent) == "" && !trial.Sealed && t.has(trialCurrent) && t.cell(trialActivePair) != "" {
		expected := "expected the current in µA (blank only in a sealed trial)"
		if t.cell(trialActivePair) == noPair {
			expected = "expected the current that would have flowed, in µA"
		}
		t.fault(trialCurrent, "the cell is blank", expected)
	}
	trial.Block = t.count(trialBlock)
	trial.CurrentBeforeA = t.plain(trialCurrentBefore, quantity.Microampere)
	trial.CurrentAfterA = t.plain(trialCurrentAfter, quantity.Microampere)
	r.readStimulus(t, &trial)
	r.readConditions(t, &trial)
	return trial
}

// readActivePair reads labels joined by +, none or sealed.
func (r *reader) readActivePair(t *table, trial *study.Trial) {
	c := tidyName(t.cell(trialActivePair))
	switch c {
	case "":
		t.blankFault(trialActivePair, "the label of a pair, several joined by +, none or sealed")
		return
	case noPair:
		return
	case sealedPair:
		trial.Sealed = true
		return
	}
	for label := range strings.SplitSeq(c, "+") {
		label = tidyName(label)
		if label == "" {
			t.fault(trialActivePair, quoted(c)+" has a + without a label on both sides", "expected labels joined by +, such as A+B")
			continue
		}
		i := r.activeLabel(t, label)
		if i >= 0 && slices.Contains(trial.ActivePairs, i) {
			t.fault(trialActivePair, quoted(c)+" names "+quoted(label)+" twice", "expected each pair once")
			continue
		}
		// A label at fault leaves -1, so that the trial is not taken for a silent one.
		trial.ActivePairs = append(trial.ActivePairs, i)
	}
}

func (r *reader) activeLabel(t *table, label string) int {
	if i, ok := r.pairs.at[label]; ok {
		return i
	}
	if r.pairs.open {
		return -1
	}
	words := append([]string{noPair, sealedPair}, r.pairs.names...)
	t.fault(trialActivePair, quoted(label)+" is not "+r.pairs.what,
		didYouMean("expected labels joined by +, none or sealed", r.suggest.nearest("active pair", label, words)))
	return -1
}

func (r *reader) readStimulus(t *table, trial *study.Trial) {
	if t.cell(trialPlate) != "" {
		trial.Plate = r.keep(tidyName(t.cell(trialPlate)))
		r.referenceTo(t, trialPlate, trial.Plate, &r.plates)
	}
	trial.Waveform = r.keep(t.text(trialWaveform))
	trial.FrequencyHz = t.number(trialFrequency, quantity.One, zeroOrMore)
}

func (r *reader) readConditions(t *table, trial *study.Trial) {
	trial.WaterSPerM = t.number(trialWater, quantity.SiemensPerMetre, aboveZero)
	trial.TemperatureC = t.plain(trialTemperature, quantity.One)
	trial.Salinity = t.number(trialSalinity, quantity.One, aboveZero)
	trial.TideM = t.plain(trialTide, quantity.Metre)
	if depth := r.study.Site.DepthM; trial.TideM.Known && depth > 0 && depth+trial.TideM.Value <= 0 {
		t.fault(trialTide, "with a tide of "+t.cell(trialTide)+" m no water is left over a depth_m of "+quantity.Metre.Format(depth), "expected depth_m + tide_m above 0")
	}
	trial.FlowMPerS = t.number(trialFlow, quantity.One, zeroOrMore)
	trial.FlowBearingDeg = t.plain(trialFlowBearing, quantity.One)
	trial.SandOverPlateM = t.number(trialSand, quantity.Millimetre, zeroOrMore)
	trial.Bait = r.keep(t.text(trialBait))
	trial.Odour = r.keep(t.text(trialOdour))
	trial.VisibilityM = t.number(trialVisibility, quantity.Metre, zeroOrMore)
	trial.Observers = r.keep(t.text(trialObservers))
	trial.Note = t.text(trialNote)
}
