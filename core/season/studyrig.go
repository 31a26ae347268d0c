package season

import (
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// defaultPercentPerC is what a compensating meter takes per °C where the study
// does not say.
const defaultPercentPerC = 1.91

// readWaterKind reads [water], which states the water in one of four ways.
func (r *reader) readWaterKind(s *section) {
	w := &r.study.Water
	var ways []string
	for _, key := range []string{"conductivity_S_per_m", "conductivity_at_25C_S_per_m", "salinity", "cast"} {
		if s.has(key) {
			ways = append(ways, key)
		}
	}
	if len(ways) > 1 {
		later := ways[1]
		if s.line(ways[0]) > s.line(later) {
			later = ways[0]
		}
		s.fault(s.line(later), later, "", "[water] states the water in more than one way: "+strings.Join(ways, ", "), "expected one of them")
	}
	way := ""
	if len(ways) > 0 {
		way = ways[0]
	}
	only := func(keys ...string) {
		for _, key := range []string{"temperature_C", "percent_per_C", "pressure_dbar"} {
			if !contains(keys, key) && len(ways) < 2 {
				s.unwanted("the water is stated by "+way, key)
			}
		}
	}
	switch way {
	case "conductivity_S_per_m":
		w.Kind = study.WaterConductivity
		w.ConductivitySPerM = s.mustNumber(way, quantity.SiemensPerMetre, aboveZero)
		only()
	case "conductivity_at_25C_S_per_m":
		w.Kind = study.WaterCompensated
		w.ConductivityAt25CSPerM = s.mustNumber(way, quantity.SiemensPerMetre, aboveZero)
		w.TemperatureC = s.mustNumber("temperature_C", quantity.One, anyNumber)
		w.PercentPerC = s.number("percent_per_C", quantity.One, zeroOrMore)
		only("temperature_C", "percent_per_C")
		if 1+w.PercentPerC.Or(defaultPercentPerC)/100*(w.TemperatureC-25) <= 0 {
			s.fault(s.line("temperature_C"), "temperature_C", quantity.One.Format(w.TemperatureC), "the water would not conduct at this temperature", "expected a temperature in °C that the meter's compensation holds for")
		}
	case "salinity":
		w.Kind = study.WaterSalinity
		w.Salinity = s.mustNumber(way, quantity.One, aboveZero)
		w.TemperatureC = s.mustNumber("temperature_C", quantity.One, anyNumber)
		w.PressureDbar = s.number("pressure_dbar", quantity.One, zeroOrMore)
		only("temperature_C", "pressure_dbar")
	case "cast":
		w.Kind = study.WaterCast
		w.CastFile = s.choice(way, true, WaterFile)
		only()
	default:
		s.missing("conductivity_S_per_m", "conductivity_S_per_m, or conductivity_at_25C_S_per_m and temperature_C, or temperature_C and salinity, or cast")
	}
	for _, key := range []string{"conductivity_S_per_m", "conductivity_at_25C_S_per_m", "temperature_C", "salinity", "cast", "percent_per_C", "pressure_dbar"} {
		s.get(key)
	}
	s.done()
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

func (r *reader) readBottom(s *section) {
	b := &r.study.Bottom
	layers := []string{"conductivity_S_per_m", "porosity", "cementation_exponent", "thickness_m", "basement_S_per_m"}
	switch s.choice("kind", true, "insulating", "sediment") {
	case "insulating":
		b.Kind = study.BottomInsulating
		s.unwanted(`an insulating bottom has no layers`, layers...)
	case "sediment":
		b.Kind = study.BottomSediment
		r.readSediment(s, b)
	}
	for _, key := range layers {
		s.get(key)
	}
	s.done()
}

func (r *reader) readSediment(s *section, b *study.Bottom) {
	b.ConductivitySPerM = s.number("conductivity_S_per_m", quantity.SiemensPerMetre, aboveZero)
	b.Porosity = s.number("porosity", quantity.One, aboveZero)
	b.CementationExponent = s.number("cementation_exponent", quantity.One, aboveZero)
	archie := s.has("porosity") || s.has("cementation_exponent")
	switch {
	case s.has("conductivity_S_per_m") && archie:
		key := "porosity"
		if !s.has(key) {
			key = "cementation_exponent"
		}
		s.fault(s.line(key), key, "", "the sediment is stated in two ways: by its conductivity and by its porosity", "expected one of them")
	case !s.has("conductivity_S_per_m") && !archie:
		s.missing("conductivity_S_per_m", "conductivity_S_per_m, or porosity and cementation_exponent")
	case archie && !s.has("porosity"):
		s.missing("porosity", "it with cementation_exponent")
	case archie && !s.has("cementation_exponent"):
		s.missing("cementation_exponent", "it with porosity")
	}
	if b.Porosity.Known && b.Porosity.Value > 1 {
		s.fault(s.line("porosity"), "porosity", quantity.One.Format(b.Porosity.Value), "porosity is "+quantity.One.Format(b.Porosity.Value), "expected a share from 0 to 1")
	}
	b.ThicknessM = s.number("thickness_m", quantity.Metre, aboveZero)
	b.BasementSPerM = s.number("basement_S_per_m", quantity.SiemensPerMetre, zeroOrMore)
	switch {
	case s.has("thickness_m") && !s.has("basement_S_per_m"):
		s.missing("basement_S_per_m", "it with thickness_m")
	case !s.has("thickness_m") && s.has("basement_S_per_m"):
		s.missing("thickness_m", "it with basement_S_per_m")
	}
}

// sizeOrDiameter reads size_m = [x, y] or diameter_m, one of them.
func (s *section) sizeOrDiameter() (x, y float64, diameter study.Opt[float64]) {
	x, y, _ = s.pair("size_m", quantity.Metre, aboveZero)
	diameter = s.number("diameter_m", quantity.Metre, aboveZero)
	switch {
	case s.has("size_m") && s.has("diameter_m"):
		s.fault(s.line("diameter_m"), "diameter_m", "", s.name+" has size_m and diameter_m", "expected one of them")
	case !s.has("size_m") && !s.has("diameter_m"):
		s.missing("size_m", "size_m = [x, y], or diameter_m")
	}
	return x, y, diameter
}

func (r *reader) readEnclosure(s *section) {
	var e study.Enclosure
	e.SizeXM, e.SizeYM, e.DiameterM = s.sizeOrDiameter()
	e.CentreXM, e.CentreYM, _ = s.pair("centre_m", quantity.Metre, anyNumber)
	r.study.Enclosure = &e
	s.done()
}

func (r *reader) readPlates(sections []*section) {
	lines := map[string]int{}
	for i, s := range sections {
		p := r.readPlate(s)
		if p.Label != "" && !r.plates.add(p.Label, i) {
			s.doubledLabel("label", p.Label, lines[p.Label])
		} else {
			lines[p.Label] = s.line("label")
		}
		if first := r.study.Plates; i > 0 && s.has("top_above_bottom_m") && sections[0].has("top_above_bottom_m") && p.TopAboveBottomM != first[0].TopAboveBottomM {
			s.fault(s.line("top_above_bottom_m"), "top_above_bottom_m", quantity.Metre.Format(p.TopAboveBottomM),
				"this plate's top is at "+quantity.Metre.Format(p.TopAboveBottomM)+" m and the first plate's at "+quantity.Metre.Format(first[0].TopAboveBottomM)+" m",
				"expected all plates to share one top, which is z = 0")
		}
		r.study.Plates = append(r.study.Plates, p)
	}
}

func (r *reader) readPlate(s *section) study.Plate {
	p := study.Plate{Label: s.label("label", false)}
	switch s.choice("shape", true, "rectangle", "disc") {
	case "rectangle":
		p.SizeXM, p.SizeYM = s.mustPair("size_m", quantity.Metre, aboveZero)
		s.unwanted("the plate is a rectangle", "diameter_m")
	case "disc":
		p.Disc = true
		p.DiameterM = s.mustNumber("diameter_m", quantity.Metre, aboveZero)
		s.unwanted("the plate is a disc", "size_m")
	default:
		s.get("size_m")
		s.get("diameter_m")
	}
	p.ThicknessM = s.mustNumber("thickness_m", quantity.Metre, zeroOrMore)
	p.TopAboveBottomM = s.mustNumber("top_above_bottom_m", quantity.Metre, anyNumber)
	p.CentreXM, p.CentreYM, _ = s.pair("centre_m", quantity.Metre, anyNumber)
	p.YawDeg = s.number("yaw_deg", quantity.One, anyNumber).Value
	s.done()
	return p
}

// The words that stand in the place of a pair's label in trials.csv.
const (
	noPair     = "none"
	sealedPair = "sealed"
)

func (r *reader) readPairs(top *section, sections []*section) {
	if !top.has("pair") {
		top.missing("pair", "a [[pair]] for each pair of electrodes")
	}
	r.pairs.open = len(sections) == 0
	lines := map[string]int{}
	for i, s := range sections {
		label := s.label("label", true)
		switch {
		case label == "":
			r.pairs.open = true
		case strings.Contains(label, "+") || strings.EqualFold(label, noPair) || strings.EqualFold(label, sealedPair):
			s.fault(s.line("label"), "label", label, "the label "+quoted(label)+" has a meaning of its own in active_pair", `expected a label without "+" that is not "none" or "sealed"`)
		}
		if label != "" && !r.pairs.add(label, i) {
			s.doubledLabel("label", label, lines[label])
		} else {
			lines[label] = s.line("label")
		}
		p := study.Pair{Label: label}
		p.CentreXM, p.CentreYM = s.mustPair("centre_m", quantity.Metre, anyNumber)
		p.AzimuthDeg = s.mustNumber("azimuth_deg", quantity.One, anyNumber)
		p.SeparationM = s.mustNumber("separation_m", quantity.Metre, aboveZero)
		p.ElectrodeDiameterM = s.mustNumber("electrode_diameter_m", quantity.Metre, zeroOrMore)
		p.HeightM = s.number("height_m", quantity.Metre, zeroOrMore).Value
		s.done()
		r.study.Pairs = append(r.study.Pairs, p)
	}
}

func (s *section) doubledLabel(key, label string, firstLine int) {
	s.fault(s.line(key), key, label, quoted(label)+" stands twice, first in line "+itoa(firstLine), "expected each "+key+" once")
}

// readSpecies reads the accepted names and what else people write for them.
func (r *reader) readSpecies(top *section, sections []*section) {
	if !top.has("species") {
		top.missing("species", "a [[species]] for each species")
	}
	r.species.open = len(sections) == 0
	lines := map[string]int{}
	take := func(s *section, key, name string, line, i int) {
		if r.species.add(name, i) {
			lines[name] = line
		} else if r.species.at[name] != i {
			s.fault(line, key, name, quoted(name)+" names two species, first in line "+itoa(lines[name]), "expected a name or alias to mean one species")
		}
	}
	for i, s := range sections {
		sp := study.Species{Name: s.label("name", true)}
		if sp.Name != "" {
			take(s, "name", sp.Name, s.line("name"), i)
		}
		aliases, at := s.texts("aliases")
		for k, a := range aliases {
			take(s, "aliases", a, at[k], i)
		}
		sp.Aliases = aliases
		s.done()
		r.study.Species = append(r.study.Species, sp)
	}
}
