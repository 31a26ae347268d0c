package season

import (
	"bytes"
	"fmt"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

func (w *writer) castRows(cast []study.CastRow) rowMaker {
	return func(i int, cells []string) {
		c := &cast[i]
		cells[waterTime] = w.time("time", c.Time)
		cells[waterDepth] = w.number("depth_m", c.DepthM, quantity.Metre)
		cells[waterTemperature] = w.opt("temperature_C", c.TemperatureC, quantity.One)
		cells[waterSalinity] = w.opt("salinity", c.Salinity, quantity.One)
		cells[waterConductivity] = w.opt("conductivity_S_per_m", c.ConductivitySPerM, quantity.SiemensPerMetre)
	}
}

func (w *writer) clipRow(i int, cells []string) {
	c := &w.study.Clips[i]
	cells[clipID] = w.name("clip", c.ID)
	cells[clipFile] = w.text("file", c.File)
	cells[clipStart] = w.time("start", c.Start)
	cells[clipOffset] = w.opt("clock_offset_s", c.ClockOffsetS, quantity.Second)
	cells[clipDrift] = w.opt("drift_ppm", c.DriftPPM, quantity.One)
	cells[clipFrameRate] = w.opt("frame_rate", c.FrameRateHz, quantity.One)
}

func (w *writer) individualRow(i int, cells []string) {
	a := &w.study.Individuals[i]
	cells[individualID] = w.name("individual", a.ID)
	cells[individualSpecies] = w.species(a.Species)
	cells[individualSex] = w.text("sex", a.Sex)
	cells[individualLength] = w.opt("total_length_cm", a.TotalLengthM, quantity.Centimetre)
	cells[individualDisc] = w.opt("disc_width_cm", a.DiscWidthM, quantity.Centimetre)
	cells[individualHead] = w.opt("head_width_cm", a.HeadWidthM, quantity.Centimetre)
	cells[individualMark] = w.text("mark", a.Mark)
	cells[individualExperience] = w.text("experience", a.Experience)
}

func (w *writer) trialRow(i int, cells []string) {
	t := &w.study.Trials[i]
	cells[trialID] = w.name("trial", t.ID)
	cells[trialStart] = w.time("start", t.Start)
	cells[trialEnd] = w.time("end", t.End)
	cells[trialActivePair] = w.activePair(i)
	cells[trialCurrent] = w.opt("current_uA", t.CurrentA, quantity.Microampere)
	if cells[trialCurrent] == "" && !t.Sealed {
		w.fail("current_uA is blank in a trial that is not sealed")
	}
	cells[trialBlock] = w.count("block", t.Block)
	cells[trialPlate] = w.name("plate", t.Plate)
	cells[trialWaveform] = w.text("waveform", t.Waveform)
	cells[trialFrequency] = w.opt("frequency_Hz", t.FrequencyHz, quantity.One)
	cells[trialCurrentBefore] = w.opt("current_before_uA", t.CurrentBeforeA, quantity.Microampere)
	cells[trialCurrentAfter] = w.opt("current_after_uA", t.CurrentAfterA, quantity.Microampere)
	cells[trialWater] = w.opt("water_S_per_m", t.WaterSPerM, quantity.SiemensPerMetre)
	cells[trialTemperature] = w.opt("temperature_C", t.TemperatureC, quantity.One)
	cells[trialSalinity] = w.opt("salinity", t.Salinity, quantity.One)
	cells[trialTide] = w.opt("tide_m", t.TideM, quantity.Metre)
	cells[trialFlow] = w.opt("flow_m_per_s", t.FlowMPerS, quantity.One)
	cells[trialFlowBearing] = w.opt("flow_bearing_deg", t.FlowBearingDeg, quantity.One)
	cells[trialSand] = w.opt("sand_over_plate_mm", t.SandOverPlateM, quantity.Millimetre)
	cells[trialBait] = w.text("bait", t.Bait)
	cells[trialOdour] = w.text("odour", t.Odour)
	cells[trialVisibility] = w.opt("visibility_m", t.VisibilityM, quantity.Metre)
	cells[trialObservers] = w.text("observers", t.Observers)
	cells[trialNote] = w.text("note", t.Note)
}

func (w *writer) activePair(i int) string {
	t := &w.study.Trials[i]
	switch {
	case t.Sealed && len(t.ActivePairs) > 0:
		w.fail("a sealed trial has active pairs")
	case t.Sealed:
		return sealedPair
	case len(t.ActivePairs) == 0:
		return noPair
	}
	labels := make([]string, len(t.ActivePairs))
	for k, p := range t.ActivePairs {
		labels[k] = w.pair("active_pair", p)
	}
	return strings.Join(labels, "+")
}

func (w *writer) passRow(i int, cells []string) {
	p := &w.study.Passes[i]
	cells[passID] = w.name("pass", p.ID)
	if p.Trial < 0 || p.Trial >= len(w.study.Trials) {
		w.fail("trial is %d of %d", p.Trial, len(w.study.Trials))
		return
	}
	cells[passTrial] = w.study.Trials[p.Trial].ID
	cells[passTime] = w.time("time", p.Time)
	cells[passIndividual] = w.name("individual", p.Individual)
	cells[passSpecies] = w.species(p.Species)
	cells[passPair] = w.pair("pair", p.Pair)
	cells[passTurned] = answerWord(p.Turned)
	cells[passBit] = answerWord(p.Bit)
	cells[passVisit] = w.name("visit", p.Visit)
	if p.TurnPair.Known {
		cells[passTurnPair] = w.pair("turn_pair", p.TurnPair.Value)
	}
	cells[passOnset] = w.opt("onset_s", p.OnsetS, quantity.Second)
	cells[passWatched] = w.opt("watched_s", p.WatchedS, quantity.Second)
	cells[passBiteElectrode] = w.text("bite_electrode", p.BiteElectrode)
	cells[passResponse] = w.text("response", p.Response)
	cells[passHeightClass] = w.text("height_class", p.HeightClass)
	cells[passSex] = w.text("sex", p.Sex)
	cells[passLength] = w.opt("total_length_cm", p.TotalLengthM, quantity.Centimetre)
	cells[passDisc] = w.opt("disc_width_cm", p.DiscWidthM, quantity.Centimetre)
	cells[passInView] = w.opt("animals_in_view", p.AnimalsInView, quantity.One)
	cells[passClip] = w.name("clip", p.Clip)
	cells[passScorer] = w.text("scorer", p.Scorer)
	cells[passSecondScorer] = w.text("second_scorer", p.SecondScorer)
	cells[passOnsetDistance] = w.opt("onset_distance_cm", p.Onset.DistanceM, quantity.Centimetre)
	cells[passOnsetAngle] = w.opt("onset_angle_deg", p.Onset.AngleDeg, quantity.One)
	cells[passOnsetHeight] = w.opt("onset_height_cm", p.Onset.HeightM, quantity.Centimetre)
	cells[passClosestDistance] = w.opt("closest_distance_cm", p.Closest.DistanceM, quantity.Centimetre)
	cells[passClosestAngle] = w.opt("closest_angle_deg", p.Closest.AngleDeg, quantity.One)
	cells[passClosestHeight] = w.opt("closest_height_cm", p.Closest.HeightM, quantity.Centimetre)
	cells[passNote] = w.text("note", p.Note)
}

// tracks writes tracks.csv straight away: it is the one file with so many rows
// that holding their cells would matter.
func (w *writer) tracks() []byte {
	used := neededColumns(trackColumns)
	for i := range w.study.Tracks {
		useTrackColumns(&w.study.Tracks[i], used)
	}
	var b bytes.Buffer
	cells := make([]string, len(trackColumns))
	for c, spec := range trackColumns {
		cells[c] = spec.name
	}
	writeRow(&b, cells, used)
	for i := range w.study.Tracks {
		w.eachFix(i, cells, func() { writeRow(&b, cells, used) })
	}
	return b.Bytes()
}

// useTrackColumns marks the columns in which the track holds something.
func useTrackColumns(track *study.Track, used []bool) {
	for _, point := range track.Points {
		used[trackPoint] = used[trackPoint] || point.Name != ""
		for i := range point.Fixes {
			used[trackHeightLow] = used[trackHeightLow] || point.Fixes[i].HeightLowM.Known
			used[trackHeightHigh] = used[trackHeightHigh] || point.Fixes[i].HeightHighM.Known
		}
	}
}

// eachFix puts each row of a track into the cells in turn and calls take.
func (w *writer) eachFix(i int, cells []string, take func()) {
	track := &w.study.Tracks[i]
	w.where = fmt.Sprintf("track %d", i+1)
	if track.Pass < 0 || track.Pass >= len(w.study.Passes) {
		w.fail("pass is %d of %d", track.Pass, len(w.study.Passes))
		return
	}
	cells[trackPass] = w.study.Passes[track.Pass].ID
	for p := range track.Points {
		point := &track.Points[p]
		cells[trackPoint] = w.name("point", point.Name)
		for k := range point.Fixes {
			w.fixRow(&point.Fixes[k], cells)
			if k > 0 && point.Fixes[k].TimeS <= point.Fixes[k-1].TimeS {
				w.fail("t_s does not increase at %s", cells[trackTime])
			}
			take()
		}
	}
}

func (w *writer) fixRow(f *study.Fix, cells []string) {
	cells[trackTime] = w.number("t_s", f.TimeS, quantity.Second)
	cells[trackX] = w.number("x_cm", f.XM, quantity.Centimetre)
	cells[trackY] = w.number("y_cm", f.YM, quantity.Centimetre)
	cells[trackHeight] = w.opt("height_cm", f.HeightM, quantity.Centimetre)
	cells[trackHeightLow] = w.opt("height_low_cm", f.HeightLowM, quantity.Centimetre)
	cells[trackHeightHigh] = w.opt("height_high_cm", f.HeightHighM, quantity.Centimetre)
}
