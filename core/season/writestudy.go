package season

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// tomlWriter gathers the sections of study.toml in canonical order, and in
// each the keys that are needed or hold something.
type tomlWriter struct {
	*writer
	sections []tomlSection
}

// tomlSection is a section with its keys; the first one, at the top of the
// file, has no header.
type tomlSection struct {
	header string // "[site]", "[[pair]]"
	keys   []tomlKey
}

// tomlKey is a key and its value.
type tomlKey struct {
	key  string
	text string // what is meant, where it is text; else as it stands in the file
	kind keyKind
}

// keyKind is what kind of value a key of study.toml has.
type keyKind int

const (
	textKey keyKind = iota
	numberKey
	listKey
)

func (w *writer) studyTOML() []byte {
	var b strings.Builder
	for _, section := range w.studySections() {
		if section.header != "" {
			b.WriteString("\n" + section.header + "\n")
		}
		for _, k := range section.keys {
			text := k.text
			if k.kind == textKey {
				text = tomlString(text)
			}
			b.WriteString(k.key + " = " + text + "\n")
		}
	}
	return []byte(b.String())
}

func (w *writer) studySections() []tomlSection {
	t := &tomlWriter{writer: w, sections: make([]tomlSection, 1)}
	s := w.study
	w.where = StudyFile
	t.put("format", "1", numberKey)
	t.str("title", s.Title)
	t.optStr("question", s.Question)
	t.site(&s.Site)
	t.water(&s.Water)
	t.bottom(&s.Bottom)
	if s.Enclosure != nil {
		t.enclosure(s.Enclosure)
	}
	for i := range s.Plates {
		t.plate(i)
	}
	for i := range s.Pairs {
		t.pair(i)
	}
	for i := range s.Species {
		t.species(i)
	}
	t.schedule(s.Schedule)
	t.analysis(&s.Analysis)
	t.uncertainty(&s.Uncertainty)
	return t.sections
}

func (t *tomlWriter) section(header string) {
	t.where = StudyFile + " " + header
	t.sections = append(t.sections, tomlSection{header: header})
}

func (t *tomlWriter) put(key, text string, kind keyKind) {
	section := &t.sections[len(t.sections)-1]
	section.keys = append(section.keys, tomlKey{key, text, kind})
}

func (t *tomlWriter) str(key, v string) {
	if v == "" {
		t.fail("%s is blank", key)
	}
	t.optStr(key, v)
}

func (t *tomlWriter) optStr(key, v string) {
	if v == "" {
		return
	}
	if v != strings.TrimFunc(v, blankRune) {
		t.fail("%s %q has spaces round it", key, v)
	}
	if !utf8.ValidString(v) {
		t.fail("%s %q is not UTF-8", key, v)
	}
	t.put(key, v, textKey)
}

// label is a text that cells of other files repeat.
func (t *tomlWriter) label(key, v string) {
	t.name(key, v)
	t.str(key, v)
}

func (t *tomlWriter) num(key string, v float64, unit quantity.Unit) {
	t.put(key, t.number(key, v, unit), numberKey)
}

func (t *tomlWriter) optNum(key string, v study.Opt[float64], unit quantity.Unit) {
	if v.Known {
		t.num(key, v.Value, unit)
	}
}

// unlessZero writes a number whose absence means 0.
func (t *tomlWriter) unlessZero(key string, v float64, unit quantity.Unit) {
	if v != 0 {
		t.num(key, v, unit)
	}
}

func (t *tomlWriter) two(key string, x, y float64, unit quantity.Unit) {
	t.put(key, "["+t.number(key, x, unit)+", "+t.number(key, y, unit)+"]", listKey)
}

func (t *tomlWriter) centre(x, y float64) {
	if x != 0 || y != 0 {
		t.two("centre_m", x, y, quantity.Metre)
	}
}

// tomlString is a basic string of TOML.
func tomlString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (t *tomlWriter) site(s *study.Site) {
	t.section("[site]")
	t.str("name", s.Name)
	t.str("timezone", s.Timezone)
	t.num("depth_m", s.DepthM, quantity.Metre)
	t.optNum("latitude", s.LatitudeDeg, quantity.One)
	t.optNum("longitude", s.LongitudeDeg, quantity.One)
	t.optNum("x_axis_bearing_deg", s.XAxisBearingDeg, quantity.One)
}

func (t *tomlWriter) water(w *study.Water) {
	t.section("[water]")
	switch w.Kind {
	case study.WaterConductivity:
		t.num("conductivity_S_per_m", w.ConductivitySPerM, quantity.SiemensPerMetre)
	case study.WaterCompensated:
		t.num("conductivity_at_25C_S_per_m", w.ConductivityAt25CSPerM, quantity.SiemensPerMetre)
		t.num("temperature_C", w.TemperatureC, quantity.One)
		t.optNum("percent_per_C", w.PercentPerC, quantity.One)
	case study.WaterSalinity:
		t.num("temperature_C", w.TemperatureC, quantity.One)
		t.num("salinity", w.Salinity, quantity.One)
		t.optNum("pressure_dbar", w.PressureDbar, quantity.One)
	case study.WaterCast:
		if w.CastFile != WaterFile {
			t.fail("cast is %q, and only %q can be read", w.CastFile, WaterFile)
		}
		t.str("cast", WaterFile)
	default:
		t.fail("water of kind %d is not known", w.Kind)
	}
}

func (t *tomlWriter) bottom(b *study.Bottom) {
	t.section("[bottom]")
	switch b.Kind {
	case study.BottomInsulating:
		t.str("kind", "insulating")
	case study.BottomSediment:
		t.str("kind", "sediment")
		t.optNum("conductivity_S_per_m", b.ConductivitySPerM, quantity.SiemensPerMetre)
		t.optNum("porosity", b.Porosity, quantity.One)
		t.optNum("cementation_exponent", b.CementationExponent, quantity.One)
		t.optNum("thickness_m", b.ThicknessM, quantity.Metre)
		t.optNum("basement_S_per_m", b.BasementSPerM, quantity.SiemensPerMetre)
	default:
		t.fail("a bottom of kind %d is not known", b.Kind)
	}
}

func (t *tomlWriter) enclosure(e *study.Enclosure) {
	t.section("[enclosure]")
	if e.DiameterM.Known {
		t.optNum("diameter_m", e.DiameterM, quantity.Metre)
	} else {
		t.two("size_m", e.SizeXM, e.SizeYM, quantity.Metre)
	}
	t.centre(e.CentreXM, e.CentreYM)
}

func (t *tomlWriter) plate(i int) {
	p := &t.study.Plates[i]
	t.section("[[plate]]")
	if p.Label != "" {
		t.label("label", p.Label)
	}
	if p.Disc {
		t.str("shape", "disc")
		t.num("diameter_m", p.DiameterM, quantity.Metre)
	} else {
		t.str("shape", "rectangle")
		t.two("size_m", p.SizeXM, p.SizeYM, quantity.Metre)
	}
	t.num("thickness_m", p.ThicknessM, quantity.Metre)
	t.num("top_above_bottom_m", p.TopAboveBottomM, quantity.Metre)
	t.centre(p.CentreXM, p.CentreYM)
	t.unlessZero("yaw_deg", p.YawDeg, quantity.One)
}

func (t *tomlWriter) pair(i int) {
	p := &t.study.Pairs[i]
	t.section("[[pair]]")
	t.label("label", p.Label)
	t.two("centre_m", p.CentreXM, p.CentreYM, quantity.Metre)
	t.num("azimuth_deg", p.AzimuthDeg, quantity.One)
	t.num("separation_m", p.SeparationM, quantity.Metre)
	t.num("electrode_diameter_m", p.ElectrodeDiameterM, quantity.Metre)
	t.unlessZero("height_m", p.HeightM, quantity.Metre)
}

func (t *tomlWriter) species(i int) {
	s := &t.study.Species[i]
	t.section("[[species]]")
	t.label("name", s.Name)
	quoted := make([]string, len(s.Aliases))
	for k, a := range s.Aliases {
		quoted[k] = tomlString(t.name("aliases", a))
	}
	t.put("aliases", "["+strings.Join(quoted, ", ")+"]", listKey)
}

func (t *tomlWriter) schedule(s study.ScheduleRule) {
	switch s.Kind {
	case study.ScheduleUniform:
		t.section("[schedule]")
		t.str("rule", "uniform")
	case study.ScheduleBlocks:
		t.section("[schedule]")
		t.str("rule", "blocks")
		t.num("block", float64(s.Block), quantity.One)
		if text := t.count("most_alike", s.MostAlike); text != "" {
			t.put("most_alike", text, numberKey)
		}
	}
}

func (t *tomlWriter) analysis(a *study.Analysis) {
	t.section("[analysis]")
	t.num("pass_radius_cm", a.PassRadiusM, quantity.Centimetre)
	t.optNum("reaction_time_s", a.ReactionTimeS, quantity.Second)
	t.optNum("reaction_time_sd_s", a.ReactionTimeSDS, quantity.Second)
	t.optNum("fix_sd_cm", a.FixSDM, quantity.Centimetre)
	if a.HeightLowM.Known && a.HeightHighM.Known {
		t.two("height_range_cm", a.HeightLowM.Value, a.HeightHighM.Value, quantity.Centimetre)
	} else if a.HeightLowM.Known || a.HeightHighM.Known {
		t.fail("height_range_cm has one end")
	}
	t.optStr("field_at", a.FieldAt)
}

func (t *tomlWriter) uncertainty(u *study.Uncertainty) {
	if *u == (study.Uncertainty{}) {
		return
	}
	t.section("[uncertainty]")
	t.optNum("bottom_S_per_m_sd", u.BottomSPerMSD, quantity.SiemensPerMetre)
	t.optNum("position_sd_cm", u.PositionSDM, quantity.Centimetre)
	t.optNum("height_sd_cm", u.HeightSDM, quantity.Centimetre)
	t.optNum("current_sd_percent", u.CurrentSDPercent, quantity.One)
}
