package dossier

import (
	"slices"
	"strconv"
)

// emlUnit is a unit of the trade as the standard writes it: one of its dictionary, or
// one of our own that is defined by its SI unit.
type emlUnit struct {
	id         string
	own        bool
	parent     string // SI unit, where own
	multiplier string // to the SI unit
	kind, what string
}

// emlUnits by the unit that a column has; "" is a number without one. The standard's
// own names are those of eml-unitTypeDefinitions, 2.2.0.
var emlUnits = map[string]emlUnit{
	"":      {id: "dimensionless"},
	"cm":    {id: "centimeter"},
	"m":     {id: "meter"},
	"mm":    {id: "millimeter"},
	"km":    {id: "kilometer"},
	"s":     {id: "second"},
	"°":     {id: "degree"},
	"°C":    {id: "celsius"},
	"Hz":    {id: "hertz"},
	"S/m":   {id: "siemensPerMeter"},
	"m/s":   {id: "metersPerSecond"},
	"%":     {id: "percent"},
	"V":     {id: "volt"},
	"nV/cm": {"nanovoltPerCentimeter", true, "voltPerMeter", "1e-7", "electricFieldStrength", "Strength of an electric field, nV/cm."},
	"µA":    {"microampere", true, "ampere", "1e-6", "electricCurrent", "Electric current, µA."},
	"1/s":   {"perSecond", true, "hertz", "1", "frequency", "Number of events in a second."},
	"ppm":   {"partPerMillion", true, "dimensionless", "1e-6", "dimensionless", "Parts in a million."},
	"px":    {"pixel", true, "dimensionless", "1", "dimensionless", "Pixels of a picture."},
	"cm²":   {id: "centimeterSquared"},
	"nV/cm/µA": {
		"nanovoltPerCentimeterPerMicroampere", true, "voltPerMeterPerAmpere", "1e-1", "fieldPerCurrent",
		"Strength of an electric field for each µA, nV/cm/µA.",
	},
}

// dataTable describes one table, column by column.
func (e *emlWriter) dataTable(f File, t *csvTable) {
	schema := t.schema(nil, nil)
	e.open("dataTable")
	e.text("entityName", f.Name)
	e.some("entityDescription", oneLine(f.What))
	e.open("physical")
	e.text("objectName", f.Name)
	e.text("size", strconv.Itoa(len(f.Bytes)), "unit", "byte")
	e.text("authentication", sumText(f.Bytes), "method", "SHA-256")
	e.text("characterEncoding", "UTF-8")
	e.open("dataFormat")
	e.open("textFormat")
	e.text("numHeaderLines", "1")
	e.text("recordDelimiter", `\n`)
	e.text("attributeOrientation", "column")
	e.open("simpleDelimited")
	e.text("fieldDelimiter", ",")
	e.text("quoteCharacter", `"`)
	e.close("simpleDelimited")
	e.close("textFormat")
	e.close("dataFormat")
	e.close("physical")
	e.open("attributeList")
	for i, c := range schema.Fields {
		e.attribute(t, i, c)
	}
	e.close("attributeList")
	e.text("numberOfRecords", strconv.Itoa(len(t.rows)))
	e.close("dataTable")
}

func (e *emlWriter) attribute(t *csvTable, i int, c schemaField) {
	e.open("attribute")
	e.text("attributeName", c.Name)
	e.some("attributeLabel", c.Title)
	what := c.Description
	if what == "" {
		what = whatOfColumn(c.Name)
	}
	e.text("attributeDefinition", what+" A blank cell was not recorded or is not known.")
	e.text("storageType", string(c.Type))
	e.open("measurementScale")
	switch c.Type {
	case numberKind, integerKind:
		e.numbers(t, i, c)
	case timeKind:
		e.open("dateTime")
		e.text("formatString", t.timeFormat(i))
		e.close("dateTime")
	case dateKind:
		e.open("dateTime")
		e.text("formatString", "YYYY-MM-DD")
		e.close("dateTime")
	case yesNoKind:
		e.codes([]string{"yes", "no"})
	case textKind:
		if c.Constraints != nil && len(c.Constraints.Enum) > 0 {
			e.codes(c.Constraints.Enum)
			break
		}
		e.open("nominal")
		e.open("nonNumericDomain")
		e.open("textDomain")
		e.text("definition", what)
		e.close("textDomain")
		e.close("nonNumericDomain")
		e.close("nominal")
	}
	e.close("measurementScale")
	e.close("attribute")
}

// codeWords are what codes mean, where the code alone does not say it.
var codeWords = map[string]string{
	"active": "The pair carried the current.", "control": "Another pair carried the current.", "silent": "No pair carried a current.",
	"step": "Step curve of maximum likelihood.", "lognormal": "Lognormal thresholds.", "lognormal_individual": "Lognormal thresholds of individuals that differ.",
	"yes": "Yes.", "no": "No.",
}

func (e *emlWriter) codes(codes []string) {
	e.open("nominal")
	e.open("nonNumericDomain")
	e.open("enumeratedDomain")
	for _, c := range codes {
		word := codeWords[c]
		if word == "" {
			word = c
		}
		e.open("codeDefinition")
		e.text("code", c)
		e.text("definition", word)
		e.close("codeDefinition")
	}
	e.close("enumeratedDomain")
	e.close("nonNumericDomain")
	e.close("nominal")
}

// numbers are on a ratio scale, but for temperatures and times of no zero.
func (e *emlWriter) numbers(t *csvTable, i int, c schemaField) {
	scale := "ratio"
	if c.Unit == "°C" {
		scale = "interval"
	}
	u, known := emlUnits[c.Unit]
	if !known {
		u = emlUnits[""]
	}
	kind := "real"
	if c.Type == integerKind {
		kind = "integer"
	}
	e.open(scale)
	e.open("unit")
	if u.own {
		e.custom[c.Unit] = true
		e.text("customUnit", u.id)
	} else {
		e.text("standardUnit", u.id)
	}
	e.close("unit")
	e.open("numericDomain")
	e.text("numberType", kind)
	if b := c.Constraints; b != nil && (b.Minimum != nil || b.Maximum != nil) {
		e.open("bounds")
		if b.Minimum != nil {
			e.text("minimum", exactNumber(*b.Minimum), "exclusive", "false")
		}
		if b.Maximum != nil {
			e.text("maximum", exactNumber(*b.Maximum), "exclusive", "false")
		}
		e.close("bounds")
	}
	e.close("numericDomain")
	e.close(scale)
}

// timeFormat is how the column's times are written: with an offset, or in the site's
// time zone without one.
func (t *csvTable) timeFormat(i int) string {
	for _, r := range t.rows {
		if c := r[i]; len(c) >= len("2025-06-01T09:00:00") {
			if tail := c[len("2025-06-01T09:00:00"):]; slices.ContainsFunc([]byte(tail), func(b byte) bool { return b == '+' || b == '-' || b == 'Z' }) {
				return "YYYY-MM-DDThh:mm:ss+hh:mm"
			}
		}
	}
	return "YYYY-MM-DDThh:mm:ss"
}

// units defines the units of our own that a column has.
func (e *emlWriter) units() {
	if len(e.custom) == 0 {
		return
	}
	names := make([]string, 0, len(e.custom))
	for n := range e.custom {
		names = append(names, n)
	}
	slices.Sort(names)
	e.open("additionalMetadata")
	e.open("metadata")
	e.open("stmml:unitList")
	for _, n := range names {
		u := emlUnits[n]
		e.open("stmml:unit", "id", u.id, "name", u.id, "unitType", u.kind, "parentSI", u.parent, "multiplierToSI", u.multiplier)
		e.text("stmml:description", u.what)
		e.close("stmml:unit")
	}
	e.close("stmml:unitList")
	e.close("metadata")
	e.close("additionalMetadata")
}
