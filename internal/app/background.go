package app

import (
	"context"
	"fmt"
	"math"
	"time"

	"brinefield/core/background"
	"brinefield/core/seawater"
)

// MeasureBackground works out what a file of a background says. Faults of the
// file come back all at once as a *FaultsError.
func MeasureBackground(name string, data []byte, program Program) (BackgroundDocument, error) {
	spec, err := readBackground(name, data)
	if err != nil {
		return BackgroundDocument{}, err
	}
	return answerBackground(&spec, Input{name: data}.Fingerprints(), program), nil
}

// Background works out what a specification says; faults are a *KnobsError.
func (s *Studies) Background(_ context.Context, spec BackgroundSpec) (BackgroundDocument, error) {
	if err := spec.check(); err != nil {
		return BackgroundDocument{}, err
	}
	return answerBackground(&spec, map[string]string{}, s.options.Program), nil
}

// What a local source may add where the specification does not say.
const (
	usualThresholdNV  = 5
	usualSharePercent = 10
)

// backgroundWork answers one specification, which was checked.
type backgroundWork struct {
	spec      *BackgroundSpec
	warn      warnings
	threshold float64 // nV/cm
	limit     float64 // nV/cm
	height    float64 // m
	seaSD     float64 // of the water, relative
}

func answerBackground(spec *BackgroundSpec, inputs map[string]string, program Program) BackgroundDocument {
	w := &backgroundWork{spec: spec, height: statedOr(spec.HeightM, 0), seaSD: statedOr(spec.WaterSD, 0) / spec.WaterSPerM}
	d := BackgroundDocument{
		Heading:  Heading{Format: Format, Program: program, InputsSHA256: inputs},
		Stimulus: BackgroundStimulus{ThresholdNVPerCm: usualThresholdNV, SharePercent: usualSharePercent},
		Sources:  []BackgroundSourceFound{}, Pairs: []BackgroundPairFound{},
	}
	if spec.Stimulus != nil {
		d.Stimulus = *spec.Stimulus
	} else {
		w.warn.add(fmt.Sprintf("No threshold is stated: a local source may add %d %% of %d nV/cm.", usualSharePercent, usualThresholdNV))
	}
	w.threshold = d.Stimulus.ThresholdNVPerCm
	w.limit = w.threshold * d.Stimulus.SharePercent / 100
	d.LimitNV = finite(w.limit)
	if earth := w.earth(); earth != nil {
		d.Magnetic = w.magnetic(earth)
		d.Motional = w.motional(earth)
	}
	for i := range spec.Sources {
		d.Sources = append(d.Sources, w.source(&spec.Sources[i]))
	}
	for i := range spec.Pairs {
		d.Pairs = append(d.Pairs, w.together(i, d.Sources))
	}
	d.Silent = w.silent()
	d.Meter = w.meter()
	if spec.WaterSD != nil && *spec.WaterSD*2 >= spec.WaterSPerM {
		w.warn.add("The water's standard deviation is half of its conductivity or more: no standoff is told for water that conducts two of them less.")
	}
	d.Notes = backgroundNotes()
	d.Warnings = w.warn.list()
	return d
}

// earth is the magnetic field of site and day, nil where they are not stated.
func (w *backgroundWork) earth() *background.Magnetic {
	site := &w.spec.Site
	if site.Latitude == nil {
		w.warn.add("Latitude and longitude are not stated: nothing is said of the Earth's field and of moving water.")
		return nil
	}
	// Sea level is near enough: the field changes by 0.05 % in a kilometre. The
	// specification was checked, so that the model knows place and year.
	m, err := background.Earth(*site.Latitude, *site.Longitude, 0, w.year())
	if err != nil {
		w.warn.add("Nothing is said of the Earth's field: " + err.Error() + ".")
		return nil
	}
	return &m
}

// year is the day as a decimal year.
func (w *backgroundWork) year() float64 {
	day, err := time.Parse(time.DateOnly, w.spec.Date)
	if err != nil {
		return 0 // no year of the model
	}
	return background.DecimalYear(day)
}

// faintHorizontalNT is the level field below which the model's makers warn of
// compasses.
const faintHorizontalNT = 6000

func (w *backgroundWork) magnetic(m *background.Magnetic) *BackgroundMagnetic {
	horizontal, total, declination, inclination := m.Rates()
	if m.HorizontalNT() < faintHorizontalNT {
		w.warn.add(fmt.Sprintf("The level part of the Earth's field is only %.0f nT here: the declination is uncertain, and a compass with it.", m.HorizontalNT()))
	}
	f, r := m.FieldNT, m.RateNT
	return &BackgroundMagnetic{
		Model: "WMM2025", From: "World Magnetic Model 2025, NOAA National Centers for Environmental Information and British Geological Survey, public domain; at sea level, without rocks, storms and iron nearby",
		Year: w.year(), NorthNT: f.North, EastNT: f.East, DownNT: f.Down, HorizontalNT: m.HorizontalNT(), TotalNT: m.TotalNT(),
		Declination: finite(m.DeclinationDeg()), Inclination: finite(m.InclinationDeg()),
		NorthRate: r.North, EastRate: r.East, DownRate: r.Down,
		HorizontalRate: finite(horizontal), TotalRate: finite(total), DeclinationRate: finite(declination), InclinationRate: finite(inclination),
	}
}

func (w *backgroundWork) motional(m *background.Magnetic) *BackgroundMotional {
	perSpeed, _ := background.SwimmingNV(1, m.FieldNT)
	out := &BackgroundMotional{
		Rows: []BackgroundMoving{}, PerMPerS: finite(perSpeed),
		Bound: "It is the most that moving water can make: currents that close through the bottom and through slower water take part of it away, how much nobody can say without measuring. It is nearly uniform round the plate and has no standoff; an animal that drifts with the water meets it too.",
	}
	if s := w.spec.SwimMPerS; s != nil {
		largest, smallest := background.SwimmingNV(*s, m.FieldNT)
		out.Swim = &BackgroundSwim{SpeedMPerS: *s, LargestNV: finite(largest), SmallestNV: finite(smallest), Thresholds: finite(largest / w.threshold)}
	}
	stream := w.stream()
	if stream == nil {
		return out
	}
	for half := range 49 {
		if f, ok := stream.At(float64(half) / 2); ok {
			out.Rows = append(out.Rows, w.moving(float64(half)/2, f, m))
		}
	}
	if len(out.Rows) > 0 && len(out.Rows) < 49 {
		w.warn.add("The stream is not known for the whole day: " + out.Rows[0].Time + " to " + out.Rows[len(out.Rows)-1].Time + " is told.")
	}
	for _, hour := range stream.Peaks() {
		f, ok := stream.At(hour)
		if !ok {
			continue
		}
		if row := w.moving(hour, f, m); out.Largest == nil || *row.MagnitudeNV > *out.Largest.MagnitudeNV {
			out.Largest = &row
		}
	}
	for i := range out.Rows {
		if row := out.Rows[i]; out.Smallest == nil || *row.MagnitudeNV < *out.Smallest.MagnitudeNV {
			out.Smallest = &row
		}
	}
	return out
}

// stream is the water's motion, nil where none is stated.
func (w *backgroundWork) stream() background.Stream {
	s := w.spec.Stream
	switch {
	case s == nil:
		return nil
	case len(s.Table) > 0:
		var atlas background.Atlas
		for i := range s.Table {
			hour, _ := hourOf(s.Table[i].Time)
			atlas = append(atlas, background.AtlasLine{Hour: hour, Flow: background.Flow{SpeedMPerS: s.Table[i].SpeedMPerS, BearingDeg: s.Table[i].Bearing}})
		}
		return atlas
	}
	slack, _ := hourOf(s.Slack)
	flood := *s.FloodPeakMPerS
	return background.Tide{
		FloodMPerS: flood, EbbMPerS: statedOr(s.EbbPeakMPerS, flood), FloodBearingDeg: math.Mod(*s.FloodBearing+360, 360),
		SlackHour: slack, PeriodHours: statedOr(s.PeriodH, moonPeriodH),
	}
}

func (w *backgroundWork) moving(hour float64, f background.Flow, m *background.Magnetic) BackgroundMoving {
	e := background.Motional(f.Velocity(), m.FieldNT)
	minutes := int(math.Round(hour * 60))
	row := BackgroundMoving{
		Time: fmt.Sprintf("%02d:%02d", minutes/60, minutes%60), SpeedMPerS: f.SpeedMPerS, Bearing: f.BearingDeg,
		NorthEastDown: Figures{e.North, e.East, e.Down}, MagnitudeNV: finite(e.Length()), Thresholds: finite(e.Length() / w.threshold),
	}
	if x := w.spec.Site.XAxisDeg; x != nil {
		inSeason := e.InSeason(*x)
		row.Season = &inSeason
	}
	return row
}

// meter says what a reading means, both ways.
func (w *backgroundWork) meter() *BackgroundMeterFound {
	m := w.spec.Meter
	if m == nil {
		return nil
	}
	percent := statedOr(m.PercentPerC, usualPercentPerC)
	compensated, err := seawater.FromCompensated(m.ReadingSPerM, m.TemperatureC, percent)
	if err != nil {
		w.warn.add("The meter: " + err.Error() + ".")
		return nil
	}
	ratio := m.ReadingSPerM / compensated
	out := &BackgroundMeterFound{
		IfCompensated: finite(compensated), IfActual: finite(m.ReadingSPerM),
		SalinityIfCompensated: salinityOf(compensated, m.TemperatureC), SalinityIfActual: salinityOf(m.ReadingSPerM, m.TemperatureC),
		TooHighPercent: finite(100 * (ratio - 1)), FieldErrorPercent: finite(100 * (1/ratio - 1)), RangeErrorPercent: finite(100 * (math.Cbrt(1/ratio) - 1)),
	}
	wrong := fmt.Sprintf("Taken the wrong way the conductivity is off by a factor of %.2f and every field of a known current with it.", math.Max(ratio, 1/ratio))
	switch m.Compensated {
	case meterYes:
		out.SPerM = finite(compensated)
		out.Verdict = fmt.Sprintf("The meter shows what the water would conduct at 25 °C; at %g °C it conducts %.4g S/m. %s", m.TemperatureC, compensated, wrong)
	case meterNo:
		out.SPerM = finite(m.ReadingSPerM)
		out.Verdict = fmt.Sprintf("The meter shows what the water conducts: %.4g S/m. %s", m.ReadingSPerM, wrong)
	default:
		out.Verdict = fmt.Sprintf("Find out whether the meter compensates to 25 °C: the water conducts %.4g S/m if it does, %.4g S/m if not. %s", compensated, m.ReadingSPerM, wrong)
		w.warn.add("It is not known whether the meter compensates to 25 °C.")
	}
	if out.SPerM != nil && math.Abs(*out.SPerM/w.spec.WaterSPerM-1) > 0.02 {
		w.warn.add(fmt.Sprintf("The meter says %.4g S/m, the specification %.4g S/m; the fields are worked out with the latter.", *out.SPerM, w.spec.WaterSPerM))
	}
	return out
}

func salinityOf(sPerM, temperatureC float64) *float64 {
	s, err := seawater.SalinityFromConductivity(sPerM, temperatureC, 0)
	if err != nil {
		return nil
	}
	return finite(s)
}

func backgroundNotes() []string {
	return []string{
		"Moving water and local sources are kept apart and are never added: the one is nearly uniform, and animals meet it everywhere; only the other falls with the distance and has a standoff.",
		"The field of moving water is E = v × B, an upper bound. Fields of ocean streams in the literature are some 50 to 500 nV/cm (from memory).",
		"Local sources are told over an insulating bottom unless stated otherwise, which is the most that any bottom can do: a sand bottom gives three quarters to five sixths of it.",
		"Not in it: the rocks' and wrecks' own magnetic field, magnetic storms, cables of mains and wind farms, waves, animals, and the few nV/cm that layers of salt and pressure make in still water (about 3 nV/cm by pressure alone, J Electromagn Anal Appl 7:10, 2015).",
	}
}
