package dossier

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/study"
)

func (w *writer) site() {
	w.section("site")
	d := w.d
	place := &d.in.Facts.Place
	name := place.Name
	if tidy(name) == "" {
		name = d.s.Site.Name
	}
	var text passage
	text.say("Site: {}.", orMissing(name))
	if d.s.Site.DepthM > 0 {
		text.say("The water is {} deep there.", withUnitSet(d.s.Site.DepthM, "m"))
	} else {
		text.say("Depth: {}.", missing)
	}
	text.add(w.coordinates())
	if d.s.Site.XAxisBearingDeg.Known {
		text.say("The x axis of all positions points to {}° from true north, clockwise.", setValue(d.s.Site.XAxisBearingDeg.Value))
	}
	if tidy(d.s.Site.Timezone) != "" {
		text.say("Times are those of the zone {}.", d.s.Site.Timezone)
	}
	w.paragraph(text)
	if p := &d.in.Facts.Protocol; tidy(p.Start+p.End) != "" {
		w.say("Planned from {} to {}.", orMissing(dateText(p.Start)), orMissing(dateText(p.End)))
	}
	if d.trials == 0 {
		w.say("Trials: {}.", missing)
		return
	}
	days, minutes := map[string]bool{}, extent{}
	for i := range d.s.Trials {
		t := &d.s.Trials[i]
		days[d.at(t.Start).Format("2006-01-02")] = true
		minutes.add(t.End.Sub(t.Start).Minutes())
	}
	w.say("{} ran on {}, {}; each took {}.", plural(d.trials, "trial", "trials"), plural(len(days), "day", "days"), daysText(d.at(d.first), d.at(d.last)), minutes.text("min"))
}

// withUnitSet is a value that somebody set, with its unit.
func withUnitSet(v float64, unit string) string { return setValue(v) + thin + unit }

func (w *writer) coordinates() []Run {
	place, site := &w.d.in.Facts.Place, &w.d.s.Site
	lat, lon := place.Latitude, place.Longitude
	if !known(lat) || !known(lon) {
		if place.Coarsened || !site.LatitudeDeg.Known || !site.LongitudeDeg.Known {
			return say("Coordinates: {}.", missing)
		}
		lat, lon = &site.LatitudeDeg.Value, &site.LongitudeDeg.Value
	}
	at := degreesText(*lat, "N", "S") + ", " + degreesText(*lon, "E", "W")
	switch {
	case place.Coarsened && known(place.UncertaintyM):
		return say("Coordinates: {}, moved to the middle of a square on purpose; the site lies within {} of there.", at, withUnit(*place.UncertaintyM/1000, "km"))
	case place.Coarsened:
		return say("Coordinates: {}, made coarse on purpose.", at)
	case known(place.UncertaintyM):
		return say("Coordinates: {} (WGS 84 is taken; within {}).", at, withUnit(*place.UncertaintyM, "m"))
	}
	return say("Coordinates: {}, as recorded; how exact they are was {}.", at, missing)
}

func degreesText(v float64, positive, negative string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not known"
	}
	side := positive
	if v < 0 {
		side = negative
	}
	text := strconv.FormatFloat(math.Abs(v), 'f', 5, 64)
	return strings.TrimRight(strings.TrimRight(text, "0"), ".") + "°" + thin + side
}

func (w *writer) water() {
	w.section("water")
	d := w.d
	var text passage
	text.add(w.waterStated())
	if d.water.n > 0 {
		if len(d.waterFrom) > 0 {
			text.say("Over {} the conductivity was {} ({}).", plural(d.water.n, "trial", "trials"), d.water.text("S/m"), strings.Join(d.waterFrom, "; "))
		} else {
			text.say("Over {} the conductivity was {}.", plural(d.water.n, "trial", "trials"), d.water.text("S/m"))
		}
	}
	w.paragraph(text)
	w.casts()
	w.trialWaters()
}

// waterStated is how the study states its water.
func (w *writer) waterStated() []Run {
	v := &w.d.s.Water
	switch {
	case v.Kind == study.WaterConductivity && v.ConductivitySPerM > 0:
		return say("The conductivity of the water was stated for the study: {}.", withUnitSet(v.ConductivitySPerM, "S/m"))
	case v.Kind == study.WaterCompensated:
		return say("The conductivity of the water was read from a meter that refers it to 25{}°C: {} at {}; {}{}% per °C were taken back.",
			thin, withUnitSet(v.ConductivityAt25CSPerM, "S/m"), withUnitSet(v.TemperatureC, "°C"), setValue(v.PercentPerC.Or(1.91)), thin)
	case v.Kind == study.WaterSalinity:
		out := say("The conductivity of the water was worked out from a temperature of {} and a practical salinity of {} (PSS-78; {})", withUnitSet(v.TemperatureC, "°C"), setValue(v.Salinity), w.cite("perkin"))
		if v.PressureDbar.Known {
			return joinRuns(out, say(" at {}.", withUnitSet(v.PressureDbar.Value, "dbar"))...)
		}
		return joinRuns(out, Run{Text: "."})
	case v.Kind == study.WaterCast:
		return say("The conductivity of the water was taken from water casts: from the cast nearest in time to each trial, at the depth of the pairs.")
	}
	return say("Conductivity of the water: {}.", missing)
}

func (w *writer) casts() {
	times := map[int64]bool{}
	var warm, salt, conducts, depth extent
	for i := range w.d.s.Cast {
		r := &w.d.s.Cast[i]
		times[r.Time.UnixNano()] = true
		depth.add(r.DepthM)
		for _, v := range []struct {
			value study.Opt[float64]
			to    *extent
		}{{r.TemperatureC, &warm}, {r.Salinity, &salt}, {r.ConductivitySPerM, &conducts}} {
			if v.value.Known {
				v.to.add(v.value.Value)
			}
		}
	}
	if len(times) == 0 {
		return
	}
	var parts [][]Run
	add := func(e *extent, what, unit string) {
		if e.n > 0 {
			parts = append(parts, say("{} {}", what, e.text(unit)))
		}
	}
	add(&warm, "temperature", "°C")
	add(&salt, "practical salinity", "")
	add(&conducts, "conductivity", "S/m")
	var text passage
	text.say("{} with {}, at depths of {}.", plural(len(times), "cast", "casts"), plural(len(w.d.s.Cast), "reading", "readings"), depth.text("m"))
	if len(parts) > 0 {
		text.say("Range of all readings: {}.", listRuns(parts))
	}
	if salt.n > 0 {
		text.say("Conductivity follows from salinity by PSS-78 ({}).", w.cite("perkin"))
	}
	w.paragraph(text)
}

// trialWaters are what trials recorded of the water beside its conductivity.
func (w *writer) trialWaters() {
	type reading struct {
		what, unit string
		of         func(*study.Trial) study.Opt[float64]
		factor     float64
	}
	var items [][]Run
	for _, r := range []reading{
		{"temperature", "°C", func(t *study.Trial) study.Opt[float64] { return t.TemperatureC }, 1},
		{"practical salinity", "", func(t *study.Trial) study.Opt[float64] { return t.Salinity }, 1},
		{"tide", "m", func(t *study.Trial) study.Opt[float64] { return t.TideM }, 1},
		{"flow", "m/s", func(t *study.Trial) study.Opt[float64] { return t.FlowMPerS }, 1},
		{"visibility", "m", func(t *study.Trial) study.Opt[float64] { return t.VisibilityM }, 1},
		{"sand over the plate", "mm", func(t *study.Trial) study.Opt[float64] { return t.SandOverPlateM }, 1000},
	} {
		var e extent
		for i := range w.d.s.Trials {
			if v := r.of(&w.d.s.Trials[i]); v.Known {
				e.add(v.Value * r.factor)
			}
		}
		if e.n > 0 {
			items = append(items, say("{} {} (in {} of {} trials)", r.what, e.text(r.unit), e.n, w.d.trials))
		}
	}
	if len(items) == 0 {
		if w.d.trials > 0 {
			w.say("Temperature, tide, flow and visibility of single trials: {}.", missing)
		}
		return
	}
	w.say("Recorded trial by trial: {}.", listRuns(items))
}

func (w *writer) arrangement() {
	w.section("arrangement")
	if w.d.in.Study == nil {
		w.say("Bottom, plate and pairs: {}.", missing)
		return
	}
	var text passage
	text.add(w.bottom())
	if e := w.d.s.Enclosure; e != nil {
		if e.DiameterM.Known {
			text.say("The trials were run in a round tank of {} across, with walls that do not conduct.", withUnitSet(e.DiameterM.Value, "m"))
		} else {
			text.say("The trials were run in a tank of {} by {}, with walls that do not conduct.", withUnitSet(e.SizeXM, "m"), withUnitSet(e.SizeYM, "m"))
		}
	} else {
		text.say("No wall is recorded: the water is taken to have none nearby.")
	}
	w.paragraph(text)
	w.plates()
	w.pairs()
}

func (w *writer) bottom() []Run {
	b := &w.d.s.Bottom
	if b.Kind == study.BottomInsulating {
		return say("The bottom was taken not to conduct, like the floor of a tank.")
	}
	var text passage
	switch {
	case b.ConductivitySPerM.Known:
		text.say("The bottom was sediment that conducts {}.", withUnitSet(b.ConductivitySPerM.Value, "S/m"))
	case b.Porosity.Known && b.CementationExponent.Known:
		text.say("The bottom was sediment of porosity {} and cementation exponent {}; what it conducts follows from the water in its pores ({}, with a{}={}1).", setValue(b.Porosity.Value), setValue(b.CementationExponent.Value), w.cite("archie"), thin, thin)
	default:
		text.say("The bottom was sediment; what it conducts was {}.", missing)
	}
	if b.ThicknessM.Known && b.BasementSPerM.Known {
		text.say("It is {} thick and lies on ground that conducts {}.", withUnitSet(b.ThicknessM.Value, "m"), withUnitSet(b.BasementSPerM.Value, "S/m"))
	}
	return text
}

func (w *writer) plates() {
	plates := w.d.s.Plates
	if len(plates) == 0 {
		w.say("Plate: none is recorded. Heights of pairs are those above the bottom.")
		return
	}
	var items [][]Run
	for i := range plates {
		p := &plates[i]
		size := fmt.Sprintf("a rectangle of %s by %s", setValue(p.SizeXM*100), withUnitSet(p.SizeYM*100, "cm"))
		if p.Disc {
			size = "a disc of " + withUnitSet(p.DiameterM*100, "cm") + " across"
		}
		height := "flush with the bottom"
		switch {
		case p.TopAboveBottomM > 0:
			height = "its top " + withUnitSet(p.TopAboveBottomM*100, "cm") + " above the bottom"
		case p.TopAboveBottomM < 0:
			height = "its top " + withUnitSet(-p.TopAboveBottomM*100, "cm") + " below the bottom"
		}
		thick := "thin as a sheet"
		if p.ThicknessM > 0 {
			thick = withUnitSet(p.ThicknessM*1000, "mm") + " thick"
		}
		label := ""
		if tidy(p.Label) != "" {
			label = " " + tidy(p.Label)
		}
		items = append(items, say("plate{}: {}, {}, {}", label, size, thick, height))
	}
	if len(items) == 1 {
		w.say("The pairs were mounted on an insulating {}.", items[0])
		return
	}
	w.say("The pairs were mounted on insulating plates.")
	w.list(items)
}

func (w *writer) pairs() {
	if len(w.d.s.Pairs) == 0 {
		w.say("Pairs of electrodes: {}.", missing)
		return
	}
	t := Table{
		Name: "pairs", Title: "Pairs of electrodes",
		Note: "Centres along x and y in the season's frame; axis: from the negative to the positive electrode, anticlockwise from x. A diameter of 0 stands for a point.",
		Columns: []Column{
			{Name: "pair", Title: "Pair"},
			{Name: "x_cm", Title: "x", Unit: "cm", Numbers: true},
			{Name: "y_cm", Title: "y", Unit: "cm", Numbers: true},
			{Name: "axis_deg", Title: "Axis", Unit: "°", Numbers: true},
			{Name: "separation_cm", Title: "Separation", Unit: "cm", Numbers: true},
			{Name: "diameter_mm", Title: "Diameter", Unit: "mm", Numbers: true},
			{Name: "height_cm", Title: "Height", Unit: "cm", Numbers: true},
		},
	}
	for i := range w.d.s.Pairs {
		p := &w.d.s.Pairs[i]
		row := []Cell{wordCell(p.Label)}
		for _, v := range []float64{p.CentreXM * 100, p.CentreYM * 100, p.AzimuthDeg, p.SeparationM * 100, p.ElectrodeDiameterM * 1000, p.HeightM * 100} {
			row = append(row, Cell{Text: setValue(v), Exact: exactDigits(v)})
		}
		t.Rows = append(t.Rows, row)
	}
	w.say("{} stood as the table says.", plural(len(w.d.s.Pairs), "pair of electrodes", "pairs of electrodes"))
	w.table(t)
}

// speciesRuns are names in italics, joined.
func speciesRuns(names []string) []Run {
	var items [][]Run
	for _, n := range slices.Compact(slices.Clone(names)) {
		items = append(items, []Run{speciesWords(n)})
	}
	return listRuns(items)
}
