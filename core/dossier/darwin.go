package dossier

import (
	"strings"
	"time"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// Files of the Darwin Core Archive.
const (
	darwinFolder = "darwin-core/"
	eventTable   = "event.csv"
	occurTable   = "occurrence.csv"
	measureTable = "extended-measurement-or-fact.csv"
)

// Namespaces and row types of the archive: Darwin Core quick reference guide
// (dwc.tdwg.org/terms), and OBIS's extended measurement or fact.
const (
	dwcTerms  = "http://rs.tdwg.org/dwc/terms/"
	dcTerms   = "http://purl.org/dc/terms/"
	obisTerms = "http://rs.iobis.org/obis/terms/"
)

// term is one column of the archive: its name, where the term is defined, and what
// stands in it here.
type term struct{ name, space, what string }

func (t term) iri() string { return t.space + t.name }

var eventTerms = []term{
	{"eventID", dwcTerms, "Name of the event: site, trial or pass."},
	{"parentEventID", dwcTerms, "Event that it is part of."},
	{"eventType", dwcTerms, "Site, Trial or Pass."},
	{"eventDate", dwcTerms, "ISO 8601 interval or time, with the offset of the site's time zone."},
	{"datasetName", dwcTerms, "Title of the package."},
	{"license", dcTerms, "Address of the licence."},
	{"locationID", dwcTerms, "Name of the site within this archive."},
	{"locality", dwcTerms, "Site, as the package names it."},
	{"decimalLatitude", dwcTerms, "Latitude in degrees; blank: not recorded."},
	{"decimalLongitude", dwcTerms, "Longitude in degrees; blank: not recorded."},
	{"geodeticDatum", dwcTerms, "Datum of the coordinates."},
	{"coordinateUncertaintyInMeters", dwcTerms, "Radius within which the place lies; blank: not known."},
	{"dataGeneralizations", dwcTerms, "What was made less exact."},
	{"minimumDepthInMeters", dwcTerms, "Depth of the bottom: of the site, in a trial with its tide added."},
	{"maximumDepthInMeters", dwcTerms, "The same."},
	{"samplingProtocol", dwcTerms, "How animals were watched."},
	{"sampleSizeValue", dwcTerms, "How long a trial lasted."},
	{"sampleSizeUnit", dwcTerms, "Unit of sampleSizeValue."},
	{"informationWithheld", dwcTerms, "What exists and is not told here."},
	{"eventRemarks", dwcTerms, "Remarks."},
}

var occurrenceTerms = []term{
	{"eventID", dwcTerms, "Pass in which the animal was seen."},
	{"occurrenceID", dwcTerms, "Name of the occurrence: one animal in one pass."},
	{"basisOfRecord", dwcTerms, "MachineObservation where there is a clip, else HumanObservation."},
	{"occurrenceStatus", dwcTerms, "present."},
	{"scientificName", dwcTerms, "Accepted name, as the study writes it."},
	{"kingdom", dwcTerms, "Animalia."},
	{"organismID", dwcTerms, "Animal that was recognised on sight; blank: not identified."},
	{"individualCount", dwcTerms, "1: an occurrence is one animal."},
	{"sex", dwcTerms, "Sex; blank: not recorded."},
	{"behavior", dwcTerms, "What it did; blank: not scored."},
	{"recordedBy", dwcTerms, "Who scored it, as the package names people."},
	{"occurrenceRemarks", dwcTerms, "Response, in the study's words."},
}

var measureTerms = []term{
	{"eventID", dwcTerms, "Event that the value belongs to."},
	{"occurrenceID", dwcTerms, "Occurrence that the value belongs to; blank: the event itself."},
	{"measurementID", dwcTerms, "Name of the value."},
	{"measurementType", dwcTerms, "What was measured or worked out."},
	{"measurementTypeID", obisTerms, "Its place in the vocabulary P01 of NERC; blank where it has none that is certain."},
	{"measurementValue", dwcTerms, "The value, with all its digits."},
	{"measurementValueID", obisTerms, "Its place in a vocabulary; blank."},
	{"measurementAccuracy", dwcTerms, "Its accuracy; blank: not recorded."},
	{"measurementUnit", dwcTerms, "Its unit; blank: it has none."},
	{"measurementUnitID", obisTerms, "Its place in the vocabulary P06 of NERC; blank where it has none that is certain."},
	{"measurementDeterminedDate", dwcTerms, "When."},
	{"measurementDeterminedBy", dwcTerms, "By whom; blank: not recorded."},
	{"measurementMethod", dwcTerms, "How."},
	{"measurementRemarks", dwcTerms, "Remarks."},
}

// darwinKind is the type of a column in the descriptor.
func darwinKind(name string) columnKind {
	switch name {
	case "decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters", "minimumDepthInMeters", "maximumDepthInMeters", "sampleSizeValue":
		return numberKind
	case "individualCount":
		return integerKind
	}
	return textKind
}

func darwinWhat(name string) string {
	for _, terms := range [][]term{eventTerms, occurrenceTerms, measureTerms} {
		for _, t := range terms {
			if t.name == name {
				return t.what
			}
		}
	}
	return whatOfColumn(name)
}

// darwinFiles are the archive: an event core of site, trials and passes, one
// occurrence a pass, and measurements of all three.
func darwinFiles(in Input) []File {
	if in.Study == nil {
		return nil
	}
	d := newDarwin(in)
	return []File{
		{Name: darwinFolder + eventTable, Bytes: csvOf(d.events()), Media: "text/csv", What: "Darwin Core: site, trials and passes as events, each part of the one before."},
		{Name: darwinFolder + occurTable, Bytes: csvOf(d.occurrences()), Media: "text/csv", What: "Darwin Core: one occurrence for each pass of an animal."},
		{Name: darwinFolder + measureTable, Bytes: csvOf(d.measurements()), Media: "text/csv", What: "Darwin Core, OBIS's extension: water, current, fields, distances and sizes."},
		{Name: MetaFile, Bytes: d.meta(), Media: "application/xml", What: "Darwin Core text guide: which column holds which term."},
	}
}

// darwin holds what the tables of the archive share.
type darwin struct {
	in      Input
	prefix  string // of every identifier, so that those of two packages keep apart
	site    place
	animals map[string]*study.Individual
	worked  map[string]*Pass // by the pass's name
	waters  map[string]TrialWater
}

func newDarwin(in Input) *darwin {
	d := &darwin{
		in: in, prefix: packageName(in.Name), site: sitePlaceOf(in),
		animals: map[string]*study.Individual{}, worked: map[string]*Pass{}, waters: map[string]TrialWater{},
	}
	for i := range in.Study.Individuals {
		d.animals[in.Study.Individuals[i].ID] = &in.Study.Individuals[i]
	}
	for i := range in.Passes {
		d.worked[in.Passes[i].ID] = &in.Passes[i]
	}
	for _, w := range in.Waters {
		d.waters[w.Trial] = w
	}
	return d
}

func (d *darwin) id(kind, name string) string {
	id := d.prefix + ":" + kind
	if name != "" {
		id += ":" + plainText(name)
	}
	return id
}

func (d *darwin) siteID() string           { return d.id("site", "") }
func (d *darwin) trialID(i int) string     { return d.id("trial", d.in.Study.Trials[i].ID) }
func (d *darwin) passID(p int) string      { return d.id("pass", d.in.Study.Passes[p].ID) }
func (d *darwin) animalID(p int) string    { return d.id("animal", d.in.Study.Passes[p].ID) }
func (d *darwin) organism(n string) string { return d.id("individual", n) }

// rowOf puts values into the order of terms; a value that no term names is a mistake
// that the tests find by its absence.
func rowOf(terms []term, values map[string]string) []string {
	row := make([]string, len(terms))
	for i, t := range terms {
		row[i] = plainText(values[t.name])
	}
	return row
}

func headerOf(terms []term) []string {
	row := make([]string, len(terms))
	for i, t := range terms {
		row[i] = t.name
	}
	return row
}

// interval is an ISO 8601 interval, or one time where both are the same.
func interval(from, to time.Time) string {
	switch {
	case from.IsZero():
		return timeText(to)
	case to.IsZero() || !to.After(from):
		return timeText(from)
	}
	return timeText(from) + "/" + timeText(to)
}

// seasonSpan is from the beginning of the first trial to the end of the last.
func seasonSpan(s *study.Study) (from, to time.Time) {
	for i := range s.Trials {
		t := &s.Trials[i]
		if from.IsZero() || t.Start.Before(from) {
			from = t.Start
		}
		if t.End.After(to) {
			to = t.End
		}
	}
	return from, to
}

func (d *darwin) events() [][]string {
	s := d.in.Study
	rows := [][]string{headerOf(eventTerms)}
	from, to := seasonSpan(s)
	remarks := ""
	if d.in.Invented {
		remarks = inventedText
	}
	site := d.located(s.Site.DepthM)
	site["eventID"], site["eventType"], site["eventDate"], site["eventRemarks"] = d.siteID(), "Site", interval(from, to), remarks
	rows = append(rows, rowOf(eventTerms, site))
	for i := range s.Trials {
		t := &s.Trials[i]
		e := d.located(s.Site.DepthM + t.TideM.Or(0))
		e["eventID"], e["parentEventID"], e["eventType"], e["eventDate"] = d.trialID(i), d.siteID(), "Trial", interval(t.Start, t.End)
		e["samplingProtocol"] = "Animals that passed pairs of electrodes on the bottom were watched; in each trial no pair, one or several carried a current."
		if t.End.After(t.Start) {
			e["sampleSizeValue"], e["sampleSizeUnit"] = exactNumber(t.End.Sub(t.Start).Minutes()), "minute"
		}
		if t.Sealed {
			e["informationWithheld"] = "Which pair carried the current is sealed and was not opened when this package was made."
		}
		e["eventRemarks"] = joinSentences(remarks, t.Note)
		rows = append(rows, rowOf(eventTerms, e))
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		if p.Trial < 0 || p.Trial >= len(s.Trials) {
			continue
		}
		e := d.located(s.Site.DepthM + s.Trials[p.Trial].TideM.Or(0))
		end := p.Time
		if w, known := d.watched(p); known {
			end = p.Time.Add(time.Duration(w * float64(time.Second)))
		}
		e["eventID"], e["parentEventID"], e["eventType"], e["eventDate"] = d.passID(i), d.trialID(p.Trial), "Pass", interval(p.Time, end)
		e["eventRemarks"] = joinSentences(remarks, p.Note)
		rows = append(rows, rowOf(eventTerms, e))
	}
	return rows
}

func joinSentences(parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, " ")
}

// watched is how long the pass was watched, in whole milliseconds so that the clock
// shows it.
func (d *darwin) watched(p *study.Pass) (float64, bool) {
	w := d.worked[p.ID]
	if w == nil || w.WatchedS == nil || exactNumber(*w.WatchedS) == "" || *w.WatchedS < 0 || *w.WatchedS > 86400 {
		return 0, false
	}
	return float64(int64(*w.WatchedS*1000+0.5)) / 1000, true
}

func (d *darwin) located(depthM float64) map[string]string {
	e := map[string]string{
		"datasetName": packageTitle(d.in), "locationID": d.siteID(), "locality": d.site.name,
		"minimumDepthInMeters": exactNumber(round(depthM, 3)), "maximumDepthInMeters": exactNumber(round(depthM, 3)),
	}
	if l, granted := licenceOf(d.in.Spec.Licence); granted {
		e["license"] = l.address
	}
	if d.site.known {
		e["decimalLatitude"], e["decimalLongitude"], e["geodeticDatum"] = exactNumber(d.site.latitude), exactNumber(d.site.longitude), datumText
		if d.site.uncertaintyM != nil {
			e["coordinateUncertaintyInMeters"] = exactNumber(*d.site.uncertaintyM)
		}
	}
	if d.site.coarsened {
		e["dataGeneralizations"] = coarsenedText
	}
	return e
}

// coarsenedText says what was done to coordinates; never how far they were moved.
const coarsenedText = "Coordinates were moved to the middle of a square, to protect the site."

func (d *darwin) occurrences() [][]string {
	s := d.in.Study
	rows := [][]string{headerOf(occurrenceTerms)}
	sexes := sexOfPasses(s)
	for i := range s.Passes {
		p := &s.Passes[i]
		if p.Trial < 0 || p.Trial >= len(s.Trials) {
			continue
		}
		o := map[string]string{
			"eventID": d.passID(i), "occurrenceID": d.animalID(i), "basisOfRecord": "HumanObservation", "occurrenceStatus": "present",
			"scientificName": oneLine(speciesName(s, p.Species)), "kingdom": "Animalia", "individualCount": "1", "sex": sexes[p.ID],
			"behavior": behaviour(p), "recordedBy": recordedBy(p), "occurrenceRemarks": p.Response,
		}
		if p.Clip != "" {
			o["basisOfRecord"] = "MachineObservation"
		}
		if p.Individual != "" {
			o["organismID"] = d.organism(p.Individual)
		}
		rows = append(rows, rowOf(occurrenceTerms, o))
	}
	return rows
}

func speciesName(s *study.Study, i int) string {
	if i < 0 || i >= len(s.Species) {
		return ""
	}
	return s.Species[i].Name
}

// behaviour tells nothing of which pair was driven.
func behaviour(p *study.Pass) string {
	turned, bit := p.Turned == study.Yes, p.Bit == study.Yes
	which := "the pair of electrodes"
	if p.TurnPair.Known && p.TurnPair.Value != p.Pair {
		which = "another pair of electrodes"
	}
	switch {
	case turned && bit:
		return "turned towards " + which + " and bit"
	case bit:
		return "bit at the pair of electrodes"
	case turned:
		return "turned towards " + which
	case p.Turned == study.No:
		return "passed the pair of electrodes without a turn"
	}
	return ""
}

func recordedBy(p *study.Pass) string {
	names := make([]string, 0, 2)
	for _, n := range []string{p.Scorer, p.SecondScorer} {
		if n != "" && (len(names) == 0 || names[0] != n) {
			names = append(names, n)
		}
	}
	return strings.Join(names, " | ")
}

// optText is a recorded value in a unit of the trade; "" where there is none.
func optText(o study.Opt[float64], u quantity.Unit) string { return optCell(o, u).Exact }
