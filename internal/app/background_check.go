package app

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/background"
	"brinefield/core/season"
	"brinefield/core/seawater"
	"brinefield/core/study"
)

// The words of a background, and what it holds at most: places of a line may be
// asked for as if they were pairs.
const (
	sourceDipole   = "dipole"
	sourceCouple   = "couple"
	sourceMeasured = "measured"
	sourceCable    = "cable"

	openBottom = "none"

	meterYes     = "yes"
	meterNo      = "no"
	meterUnknown = "unknown"

	mostBackgroundPlaces = 512
	mostSources          = 64
	mostStreamLines      = 300
	usualPercentPerC     = 1.91
	moonPeriodH          = 12.42
)

// modelDays says which days the magnetic model knows.
var modelDays = fmt.Sprintf("a day such as 2026-06-01, from %.0f-01-01 to %.0f-01-01: the years for which the magnetic model (WMM2025) holds", background.FirstYear, background.LastYear)

// check says everything that is wrong with a background, each with its place.
func (s *BackgroundSpec) check() error {
	c := &knobCheck{}
	s.checkSite(c)
	c.above0("background/water_S_per_m", s.WaterSPerM, 100, "a conductivity above 0 and up to 100 S/m")
	if sd := s.WaterSD; sd != nil && !(*sd >= 0 && *sd < s.WaterSPerM) {
		c.fault("background/water_S_per_m_sd", fmt.Sprintf("found %g", *sd), "0 or more, and less than the conductivity")
	}
	if s.Stream != nil {
		s.Stream.check(c)
	}
	c.optional("background/swim_m_per_s", s.SwimMPerS, 0, 30, "a speed between 0 and 30 m/s")
	c.optional("background/height_m", s.HeightM, 0, farthestM, fmt.Sprintf("a height between 0 and %d m", farthestM))
	s.checkPairs(c)
	if st := s.Stimulus; st != nil {
		c.within("background/stimulus/threshold_nV_per_cm", st.ThresholdNVPerCm, 1e-6, 1e12, "a field above 0 nV/cm, such as 5")
		c.within("background/stimulus/share_percent", st.SharePercent, 1e-3, 100, "a share between 0.001 and 100 %, such as 10")
	}
	if len(s.Sources) > mostSources {
		c.fault("background/sources", fmt.Sprintf("found %d", len(s.Sources)), fmt.Sprintf("up to %d sources", mostSources))
	}
	for i := range s.Sources {
		s.checkSource(c, fmt.Sprintf("background/sources/%d", i), &s.Sources[i])
	}
	s.checkMeter(c)
	s.checkCable(c)
	return c.err()
}

// optional is a number that may be absent.
func (c *knobCheck) optional(place string, v *float64, low, high float64, expected string) {
	if v != nil {
		c.within(place, *v, low, high, expected)
	}
}

// needed is a number above 0.
func (c *knobCheck) needed(place string, v *float64, high float64, expected string) {
	if v == nil {
		c.fault(place, "missing", expected)
		return
	}
	c.above0(place, *v, high, expected)
}

func (s *BackgroundSpec) checkSite(c *knobCheck) {
	site := &s.Site
	c.optional("background/site/latitude", site.Latitude, -90, 90, "degrees north between -90 and 90")
	c.optional("background/site/longitude", site.Longitude, -360, 360, "degrees east between -180 and 180 (or 0 and 360)")
	c.optional("background/site/x_axis_bearing_deg", site.XAxisDeg, -3600, 3600, "a bearing in degrees from true north")
	if site.DepthM != nil {
		c.above0("background/site/depth_m", *site.DepthM, deepestM, fmt.Sprintf("a depth above 0 and up to %d m, or nothing", deepestM))
		if s.HeightM != nil && *s.HeightM > *site.DepthM {
			c.fault("background/height_m", fmt.Sprintf("found %g", *s.HeightM), fmt.Sprintf("a height in the water, which is %g m deep", *site.DepthM))
		}
	}
	switch {
	case site.Latitude != nil && site.Longitude == nil:
		c.fault("background/site/longitude", "missing", "a longitude beside the latitude")
	case site.Latitude == nil && site.Longitude != nil:
		c.fault("background/site/latitude", "missing", "a latitude beside the longitude")
	}
	switch {
	case s.Date != "":
		day, err := time.Parse(time.DateOnly, s.Date)
		if err != nil {
			c.fault("background/date", fmt.Sprintf("found %q", s.Date), modelDays)
		} else if y := background.DecimalYear(day); y < background.FirstYear || y > background.LastYear {
			c.fault("background/date", "found "+s.Date, modelDays)
		}
	case site.Latitude != nil && site.Longitude != nil:
		c.fault("background/date", "missing", modelDays)
	}
}

func (s *BackgroundStream) check(c *knobCheck) {
	const place = "background/stream"
	sine := s.FloodPeakMPerS != nil || s.FloodBearing != nil || s.Slack != "" || s.PeriodH != nil || s.EbbPeakMPerS != nil
	switch {
	case len(s.Table) > 0 && sine:
		c.fault(place, "both a table and a tide", "one of them")
	case len(s.Table) > 0:
		s.checkTable(c)
	default:
		const speed = "a speed between 0 and 30 m/s"
		if s.FloodPeakMPerS == nil {
			c.fault(place+"/flood_peak_m_per_s", "missing", speed+", or a table")
		}
		c.optional(place+"/flood_peak_m_per_s", s.FloodPeakMPerS, 0, 30, speed)
		c.optional(place+"/ebb_peak_m_per_s", s.EbbPeakMPerS, 0, 30, speed)
		if s.FloodBearing == nil {
			c.fault(place+"/flood_bearing_deg", "missing", "where the flood runs to, in degrees from true north")
		}
		c.optional(place+"/flood_bearing_deg", s.FloodBearing, -360, 360, "a bearing between 0 and 360°")
		c.optional(place+"/period_h", s.PeriodH, 0.5, 1000, "a period between 0.5 and 1000 h; the moon's half-day tide has 12.42")
		if _, ok := hourOf(s.Slack); !ok {
			c.fault(place+"/slack", fmt.Sprintf("found %q", s.Slack), "a time such as 09:30")
		}
	}
}

func (s *BackgroundStream) checkTable(c *knobCheck) {
	if len(s.Table) > mostStreamLines {
		c.fault("background/stream/table", fmt.Sprintf("found %d lines", len(s.Table)), fmt.Sprintf("up to %d", mostStreamLines))
	}
	last := -1.0
	for i := range s.Table {
		row, place := &s.Table[i], fmt.Sprintf("background/stream/table/%d", i)
		hour, ok := hourOf(row.Time)
		switch {
		case !ok:
			c.fault(place+"/time", fmt.Sprintf("found %q", row.Time), "a time between 00:00 and 24:00, such as 09:30")
		case hour <= last:
			c.fault(place+"/time", "found "+row.Time, "a time after the one of the line before")
		default:
			last = hour
		}
		c.within(place+"/speed_m_per_s", row.SpeedMPerS, 0, 30, "a speed between 0 and 30 m/s")
		c.within(place+"/bearing_deg", row.Bearing, -360, 360, "a bearing between 0 and 360°, where the water runs to")
	}
}

// hourOf reads HH:MM, up to 24:00.
func hourOf(text string) (hour float64, ok bool) {
	h, m, found := strings.Cut(text, ":")
	if !found || len(h) != 2 || len(m) != 2 {
		return 0, false
	}
	hours, err1 := strconv.ParseUint(h, 10, 8)
	minutes, err2 := strconv.ParseUint(m, 10, 8)
	if err1 != nil || err2 != nil || minutes > 59 || hours > 24 || hours == 24 && minutes > 0 {
		return 0, false
	}
	return float64(hours) + float64(minutes)/60, true
}

func (s *BackgroundSpec) checkPairs(c *knobCheck) {
	if len(s.Pairs) > mostBackgroundPlaces {
		c.fault("background/pairs", fmt.Sprintf("found %d", len(s.Pairs)), fmt.Sprintf("up to %d pairs", mostBackgroundPlaces))
	}
	for i := range s.Pairs {
		c.vector(fmt.Sprintf("background/pairs/%d/centre_m", i), s.Pairs[i].CentreM, 2, "[x, y] in metres")
	}
}

func (s *BackgroundSpec) checkSource(c *knobCheck, place string, o *BackgroundSource) {
	kinds := []string{sourceDipole, sourceCouple, sourceMeasured, sourceCable}
	for _, k := range background.Kinds() {
		kinds = append(kinds, k.Kind)
	}
	c.oneOf(place+"/kind", o.Kind, kinds...)
	s.checkPlace(c, place+"/at_m", o.AtM)
	if o.Bottom != "" {
		c.oneOf(place+"/bottom", o.Bottom, bottomInsulating, openBottom)
	}
	c.optional(place+"/axis_deg", o.AxisDeg, -3600, 3600, "an angle in degrees, or nothing where it is not known")
	switch o.Kind {
	case sourceDipole:
		if o.MomentAM == nil {
			c.fault(place+"/moment_A_m", "missing", "a dipole moment in A·m: current times distance")
		}
	case sourceCouple:
		o.checkCouple(c, place)
	case sourceMeasured:
		if o.FieldNVPerCm == nil {
			c.fault(place+"/field_nV_per_cm", "missing", "the field that was measured")
		}
		c.needed(place+"/distance_m", o.DistanceM, farthestM, "the distance at which it was measured, above 0 m")
	case sourceCable:
		if o.CurrentNA == nil {
			c.fault(place+"/current_nA", "missing", "the current that leaks")
		}
		c.needed(place+"/length_m", o.LengthM, 1e5, "a length above 0 m: from where the current leaves to where it comes back")
	}
	c.optional(place+"/moment_A_m", o.MomentAM, 0, 1e6, "a dipole moment between 0 and 1 000 000 A·m")
	c.optional(place+"/field_nV_per_cm", o.FieldNVPerCm, 0, 1e12, "a field of 0 nV/cm or more")
	c.optional(place+"/current_nA", o.CurrentNA, 0, 1e12, "a current of 0 nA or more")
	o.checkForeign(c, place)
}

// checkForeign finds what the kind has no use for, which would be left out in
// silence.
func (o *BackgroundSource) checkForeign(c *knobCheck, place string) {
	dipole := o.Kind == sourceDipole || readyKind(o.Kind) != nil
	for _, k := range []struct {
		key          string
		there, ofIts bool
	}{
		{"moment_A_m", o.MomentAM != nil, dipole},
		{"axis_deg", o.AxisDeg != nil, dipole || o.Kind == sourceCouple},
		{"metals", len(o.Metals) > 0, o.Kind == sourceCouple},
		{"areas_cm2", len(o.AreasCm2) > 0, o.Kind == sourceCouple},
		{"radii_cm", len(o.RadiiCm) > 0, o.Kind == sourceCouple},
		{"apart_m", o.ApartM != nil, o.Kind == sourceCouple},
		{"painted_percent", o.PaintedPercent != nil, o.Kind == sourceCouple},
		{"field_nV_per_cm", o.FieldNVPerCm != nil, o.Kind == sourceMeasured},
		{"distance_m", o.DistanceM != nil, o.Kind == sourceMeasured},
		{"current_nA", o.CurrentNA != nil, o.Kind == sourceCable},
		{"length_m", o.LengthM != nil, o.Kind == sourceCable},
	} {
		if k.there && !k.ofIts && o.Kind != "" {
			c.fault(place+"/"+k.key, fmt.Sprintf("a source of the kind %q has none", o.Kind), "nothing")
		}
	}
}

// checkPlace is a place in the water.
func (s *BackgroundSpec) checkPlace(c *knobCheck, place string, at []float64) {
	c.vector(place, at, 3, "[x, y, z] in metres")
	if d := s.Site.DepthM; len(at) == 3 && d != nil && *d > 0 && at[2] > *d {
		c.fault(place+"/2", fmt.Sprintf("found %g", at[2]), fmt.Sprintf("a height in the water, which is %g m deep", *d))
	}
}

func (o *BackgroundSource) checkCouple(c *knobCheck, place string) {
	before := len(c.faults)
	if len(o.Metals) != 2 {
		c.fault(place+"/metals", fmt.Sprintf("found %d", len(o.Metals)), "two names of the galvanic table")
	} else if _, err := background.CoupleVoltage(o.Metals[0], o.Metals[1]); err != nil {
		c.fault(place+"/metals", err.Error(), "two names of the galvanic table")
	}
	switch {
	case len(o.AreasCm2) > 0 && len(o.RadiiCm) > 0:
		c.fault(place+"/areas_cm2", "both areas_cm2 and radii_cm", "one of them")
	case len(o.RadiiCm) > 0:
		c.sizes(place+"/radii_cm", o.RadiiCm, 2, 1e4)
	default:
		c.sizes(place+"/areas_cm2", o.AreasCm2, 2, 1e8)
	}
	c.needed(place+"/apart_m", o.ApartM, farthestM, "the distance between the middles of the two metals, above 0 m")
	c.optional(place+"/painted_percent", o.PaintedPercent, 0, 100, "a share between 0 and 100 %")
	if len(c.faults) > before {
		return
	}
	if r := o.radii(); r[0]+r[1] > *o.ApartM {
		c.fault(place+"/apart_m", fmt.Sprintf("found %g", *o.ApartM), fmt.Sprintf("at least %.3g m: as balls of their bare surfaces the metals would overlap", r[0]+r[1]))
	}
}

// radii of the two metals of a couple as balls of their bare surface, in metres.
func (o *BackgroundSource) radii() (r [2]float64) {
	for i := range r {
		area := 0.0
		if len(o.RadiiCm) > 0 {
			area = 4 * math.Pi * o.RadiiCm[i] * o.RadiiCm[i] * 1e-4
		} else {
			area = o.AreasCm2[i] * 1e-4
		}
		r[i] = background.BareRadius(area, statedOr(o.PaintedPercent, 0))
	}
	return r
}

// readyKind is the ready-made source of a kind, nil where it is none.
func readyKind(kind string) *background.Kind {
	kinds := background.Kinds()
	i := slices.IndexFunc(kinds, func(k background.Kind) bool { return k.Kind == kind })
	if i < 0 {
		return nil
	}
	return &kinds[i]
}

func (s *BackgroundSpec) checkMeter(c *knobCheck) {
	m := s.Meter
	if m == nil {
		return
	}
	const place = "background/meter"
	before := len(c.faults)
	c.above0(place+"/reading_S_per_m", m.ReadingSPerM, 100, "a conductivity above 0 and up to 100 S/m")
	c.oneOf(place+"/compensated_to_25C", m.Compensated, meterYes, meterNo, meterUnknown)
	c.within(place+"/temperature_C", m.TemperatureC, -5, 50, "a temperature between -5 and 50 °C")
	c.optional(place+"/percent_per_C", m.PercentPerC, 0, 5, "a coefficient between 0 and 5 % per °C, usually 1.91")
	if len(c.faults) > before {
		return
	}
	if _, err := seawater.FromCompensated(m.ReadingSPerM, m.TemperatureC, statedOr(m.PercentPerC, usualPercentPerC)); err != nil {
		c.fault(place+"/percent_per_C", err.Error(), "usually 1.91")
	}
}

func (s *BackgroundSpec) checkCable(c *knobCheck) {
	if s.Cable == nil {
		return
	}
	const place = "background/cable"
	c.within(place+"/leak_to_water_Mohm", s.Cable.LeakMohm, 1e-6, 1e9, "an insulation above 0 MΩ, such as 100")
	c.within(place+"/voltage_V", s.Cable.VoltageV, 0, 1e4, "a voltage between 0 and 10 000 V")
	c.above0(place+"/length_m", s.Cable.LengthM, 1e5, "a length above 0 m")
	s.checkPlace(c, place+"/plate_end_at_m", s.Cable.PlateEndAtM)
}

// readBackground reads a specification and checks it; every fault is told with
// its line as a *FaultsError.
func readBackground(name string, data []byte) (BackgroundSpec, error) {
	var spec BackgroundSpec
	if err := decodeStrict(name, data, &spec); err != nil {
		var faults *FaultsError
		if errors.As(err, &faults) {
			for i := range faults.Faults {
				faults.Faults[i].Expected = strings.ReplaceAll(faults.Faults[i].Expected, "the keys of the field command", "the keys of a background (docs/formats/background-spec.schema.json)")
			}
		}
		return spec, err
	}
	err := spec.check()
	var wrong *KnobsError
	if !errors.As(err, &wrong) {
		return spec, err
	}
	c := &specCheck{name: name, lines: jsonLines(data)}
	for _, f := range wrong.Faults {
		path := indexed.ReplaceAllString(strings.TrimPrefix(f.Place, "background/"), "[$1]")
		c.fault(strings.ReplaceAll(path, "/", "."), f.Wrong, f.Expected)
	}
	return spec, &FaultsError{Faults: c.faults}
}

// checkBackground checks the specification that an edit writes.
func (e *edit) checkBackground(r *study.Record) {
	text := r.Fields["spec"]
	if text == "" {
		return
	}
	_, err := readBackground("spec", []byte(text))
	var faults *FaultsError
	if !errors.As(err, &faults) {
		return
	}
	for _, f := range faults.Faults {
		e.fault(nameOf(*r), "spec", specFault(f), "expected "+f.Expected)
	}
}

// specFault is a fault of a specification in a cell: its key, and what is wrong.
func specFault(f season.Fault) string {
	if f.Column == "" {
		return f.Wrong
	}
	return f.Column + ": " + f.Wrong
}
