package dossier

import (
	"strconv"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// measure is one kind of value of the extended measurement or fact.
type measure struct{ what, id, unit, unitID, method string }

const (
	nercP01 = "http://vocab.nerc.ac.uk/collection/P01/current/"
	nercP06 = "http://vocab.nerc.ac.uk/collection/P06/current/"

	unitMetre      = nercP06 + "ULAA/"
	unitCentimetre = nercP06 + "ULCM/"
	unitSiemens    = nercP06 + "UECA/"
	unitCelsius    = nercP06 + "UPAA/"
	unitSecond     = nercP06 + "UTBB/"
)

const (
	boundsMethod   = "Worked out from the animal's track and the field of the driven electrodes: between the two bounds the response began."
	recordedMethod = "As recorded in season/passes.csv, else in season/individuals.csv."
	placeMethod    = "Worked out from the track: head to the centre of the pass's own pair, at the onset less the reaction time, or in the largest field."
)

var (
	depthMeasure       = measure{"depth of the bottom", "", "m", unitMetre, "As recorded in season/study.toml."}
	activeMeasure      = measure{"pair that carried the current", "", "", "", "As recorded in season/trials.csv; none: a silent trial."}
	currentMeasure     = measure{"current through each driven pair", "", "µA", "", "Mean of the currents measured before and after, or the one that was measured, else as stated."}
	conductivity       = measure{"electrical conductivity of the water", nercP01 + "CNDCZZ01/", "S/m", unitSiemens, ""}
	temperatureMeasure = measure{"temperature of the water", nercP01 + "TEMPPR01/", "°C", unitCelsius, "As recorded in season/trials.csv (ITS-90)."}
	salinityMeasure    = measure{"practical salinity of the water", nercP01 + "PSLTZZ01/", "", "", "As recorded in season/trials.csv (PSS-78)."}
	pairMeasure        = measure{"pair of electrodes that was passed", "", "", "", "As recorded in season/passes.csv."}
	roleMeasure        = measure{"role of the pair that was passed", "", "", "", "active: it carried the current; control: another did; silent: none did."}
	watchedMeasure     = measure{"time watched", "", "s", unitSecond, "As recorded, else to the end of the track."}
	lowMeasure         = measure{"electric field at the head, lower bound", "", "nV/cm", "", boundsMethod}
	highMeasure        = measure{"electric field at the head, upper bound", "", "nV/cm", "", boundsMethod}
	distanceMeasure    = measure{"distance of the head from the pair", "", "cm", unitCentimetre, placeMethod}
	heightMeasure      = measure{"height of the head above the plate or the bottom", "", "cm", unitCentimetre, placeMethod}
	lengthMeasure      = measure{"total length", "", "cm", unitCentimetre, recordedMethod}
	discMeasure        = measure{"disc width", "", "cm", unitCentimetre, recordedMethod}
	headMeasure        = measure{"head width", "", "cm", unitCentimetre, "As recorded in season/individuals.csv."}
)

// measures collects rows of the table.
type measures struct {
	rows [][]string
}

// add writes one value; a blank one was not recorded and makes no row.
func (m *measures) add(k measure, value, event, occurrence, date, by string) {
	if value == "" {
		return
	}
	of := event
	if occurrence != "" {
		of = occurrence
	}
	m.rows = append(m.rows, rowOf(measureTerms, map[string]string{
		"eventID": event, "occurrenceID": occurrence, "measurementID": of + ":" + packageName(k.what),
		"measurementType": k.what, "measurementTypeID": k.id, "measurementValue": value,
		"measurementUnit": k.unit, "measurementUnitID": k.unitID,
		"measurementDeterminedDate": date, "measurementDeterminedBy": by, "measurementMethod": k.method,
	}))
}

func (d *darwin) measurements() [][]string {
	s := d.in.Study
	m := &measures{rows: [][]string{headerOf(measureTerms)}}
	from, to := seasonSpan(s)
	m.add(depthMeasure, exactNumber(s.Site.DepthM), d.siteID(), "", interval(from, to), "")
	for i := range s.Trials {
		d.measureTrial(m, i)
	}
	for i := range s.Passes {
		if t := s.Passes[i].Trial; t >= 0 && t < len(s.Trials) {
			d.measurePass(m, i)
		}
	}
	return m.rows
}

func (d *darwin) measureTrial(m *measures, i int) {
	t := &d.in.Study.Trials[i]
	event, date := d.trialID(i), interval(t.Start, t.End)
	if !t.Sealed {
		m.add(activeMeasure, activePairText(d.in.Study, t), event, "", date, "")
		if a, known := drivenUA(t); known && !t.Silent() {
			m.add(currentMeasure, exactNumber(a), event, "", date, "")
		}
	}
	if w, known := d.waters[t.ID]; known {
		k := conductivity
		k.method = w.From
		m.add(k, exactNumber(w.SPerM), event, "", date, "")
	}
	m.add(temperatureMeasure, optText(t.TemperatureC, quantity.One), event, "", date, "")
	m.add(salinityMeasure, optText(t.Salinity, quantity.One), event, "", date, "")
}

func (d *darwin) measurePass(m *measures, i int) {
	s := d.in.Study
	p := &s.Passes[i]
	event, occurrence, date := d.passID(i), d.animalID(i), timeText(p.Time)
	m.add(pairMeasure, pairLabel(s, p.Pair), event, "", date, "")
	if w := d.worked[p.ID]; w != nil {
		m.add(roleMeasure, w.Role, event, "", date, "")
		m.add(watchedMeasure, numberCell(w.WatchedS).Exact, event, "", date, "")
		if w.Role != "" {
			m.add(lowMeasure, numberCell(w.LowNVPerCm).Exact, event, occurrence, date, "")
			m.add(highMeasure, numberCell(w.HighNVPerCm).Exact, event, occurrence, date, "")
		}
		m.add(distanceMeasure, numberCell(w.DistanceCm).Exact, event, occurrence, date, "")
		m.add(heightMeasure, numberCell(w.HeightCm).Exact, event, occurrence, date, "")
	}
	length, disc, head := p.TotalLengthM, p.DiscWidthM, study.Opt[float64]{}
	if a := d.animals[p.Individual]; a != nil && p.Individual != "" {
		head = a.HeadWidthM
		if !length.Known {
			length = a.TotalLengthM
		}
		if !disc.Known {
			disc = a.DiscWidthM
		}
	}
	m.add(lengthMeasure, optText(length, quantity.Centimetre), event, occurrence, date, "")
	m.add(discMeasure, optText(disc, quantity.Centimetre), event, occurrence, date, "")
	m.add(headMeasure, optText(head, quantity.Centimetre), event, occurrence, date, "")
}

// meta is meta.xml of the Darwin Core text guide (dwc.tdwg.org/text): each table with
// its encoding, its delimiters and the term of each column. The first column of every
// table names the event.
func (d *darwin) meta() []byte {
	var x xmlWriter
	x.head()
	x.open("archive", "xmlns", "http://rs.tdwg.org/dwc/text/", "metadata", "eml.xml")
	d.metaTable(&x, "core", "id", dwcTerms+"Event", eventTable, eventTerms)
	d.metaTable(&x, "extension", "coreid", dwcTerms+"Occurrence", occurTable, occurrenceTerms)
	d.metaTable(&x, "extension", "coreid", obisTerms+"ExtendedMeasurementOrFact", measureTable, measureTerms)
	x.close("archive")
	return x.bytes()
}

func (*darwin) metaTable(x *xmlWriter, element, key, rowType, file string, terms []term) {
	x.open(element, "encoding", "UTF-8", "fieldsTerminatedBy", ",", "linesTerminatedBy", `\n`, "fieldsEnclosedBy", `"`, "ignoreHeaderLines", "1", "rowType", rowType)
	x.open("files")
	x.text("location", file)
	x.close("files")
	x.empty(key, "index", "0")
	for i, t := range terms {
		x.empty("field", "index", strconv.Itoa(i), "term", t.iri())
	}
	x.close(element)
}
