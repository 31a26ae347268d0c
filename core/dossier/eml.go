package dossier

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"brinefield/core/study"
)

// emlFile is the metadata as Ecological Metadata Language 2.2.0
// (eml.ecoinformatics.org), in the order of elements that the standard asks for. It
// describes the tables among files.
func emlFile(in Input, files []File) ([]byte, error) {
	tables, err := readTables(files)
	if err != nil {
		return nil, err
	}
	e := &emlWriter{in: in, site: sitePlaceOf(in), custom: map[string]bool{}}
	id, system := "brinefield:"+packageName(in.Name)+":"+in.Made.UTC().Format("20060102T150405Z"), "brinefield"
	if doi := plainDOI(in.Spec.DOI); doi != "" {
		id, system = "https://doi.org/"+doi, "https://doi.org"
	}
	e.head()
	e.open("eml:eml", "xmlns:eml", "https://eml.ecoinformatics.org/eml-2.2.0", "xmlns:stmml", stmmlSpace, "packageId", id, "system", system)
	e.open("dataset")
	e.resource()
	e.parties("contact", contactsOf(in.People))
	e.methods()
	e.project()
	for _, f := range files {
		if t := tables[f.Name]; t != nil && !strings.HasPrefix(f.Name, darwinFolder) {
			e.dataTable(f, t)
		}
	}
	e.close("dataset")
	e.units()
	e.close("eml:eml")
	return e.bytes(), nil
}

const stmmlSpace = "http://www.xml-cml.org/schema/stmml-1.2"

type emlWriter struct {
	xmlWriter
	in     Input
	site   place
	custom map[string]bool // custom units that a column has, by their ids
}

// resource is what every resource has: title, people, words, rights, coverage.
func (e *emlWriter) resource() {
	e.text("title", packageTitle(e.in))
	e.parties("creator", authorsOf(e.in.People))
	for _, p := range e.in.People {
		if p.Role == "contributor" && personName(p) != "" {
			e.open("associatedParty")
			e.party(p)
			e.text("role", "contributor")
			e.close("associatedParty")
		}
	}
	if !e.in.Made.IsZero() {
		e.text("pubDate", e.in.Made.Format("2006-01-02"))
	}
	language := oneLine(e.in.Spec.Language)
	if language == "" {
		language = "en"
	}
	e.text("language", language)
	e.paragraphs("abstract", e.abstract())
	if words := keywordsOf(e.in); len(words) > 0 {
		e.open("keywordSet")
		for _, k := range words {
			e.text("keyword", k)
		}
		e.close("keywordSet")
	}
	l, granted := licenceOf(e.in.Spec.Licence)
	if !granted {
		e.paragraphs("intellectualRights", []string{"No licence is granted. Ask the authors before you share or use the data."})
	} else {
		e.paragraphs("intellectualRights", []string{joinSentences(l.title+".", l.address)})
		e.open("licensed")
		e.text("licenseName", l.title)
		e.some("url", l.address)
		e.text("identifier", l.id)
		e.close("licensed")
	}
	e.coverage()
}

func (e *emlWriter) abstract() []string {
	var out []string
	if e.in.Invented {
		out = append(out, inventedText)
	}
	for p := range strings.SplitSeq(plainText(e.in.Spec.Abstract), "\n\n") {
		if p = oneLine(p); p != "" {
			out = append(out, p)
		}
	}
	if q := oneLine(e.in.Study.Question); q != "" {
		out = append(out, "Question of the study: "+q)
	}
	return out
}

// paragraphs is a text of the standard; nothing where there is none.
func (e *emlWriter) paragraphs(name string, paragraphs []string) {
	if len(paragraphs) == 0 {
		return
	}
	e.open(name)
	for _, p := range paragraphs {
		e.text("para", p)
	}
	e.close(name)
}

func contactsOf(people []Person) []Person {
	for _, p := range people {
		if p.Role == "contact" && personName(p) != "" {
			return []Person{p}
		}
	}
	for _, p := range authorsOf(people) {
		if oneLine(p.Email) != "" {
			return []Person{p}
		}
	}
	if a := authorsOf(people); len(a) > 0 {
		return a[:1]
	}
	return nil
}

// parties are people; where there is none the standard still asks for one.
func (e *emlWriter) parties(element string, people []Person) {
	if len(people) == 0 {
		e.open(element)
		e.text("organizationName", notRecordedText)
		e.close(element)
	}
	for _, p := range people {
		e.open(element)
		e.party(p)
		e.close(element)
	}
}

func (e *emlWriter) party(p Person) {
	family, given := oneLine(p.Family), oneLine(p.Given)
	if family == "" { // the standard asks for a family name
		family, given = given, ""
	}
	e.open("individualName")
	e.some("givenName", given)
	e.text("surName", family)
	e.close("individualName")
	e.some("organizationName", oneLine(p.Affiliation))
	e.some("electronicMailAddress", oneLine(p.Email))
	if id := plainORCID(p.ORCID); orcidShape.MatchString(id) {
		e.text("userId", orcidAddress+id, "directory", strings.TrimSuffix(orcidAddress, "/"))
	}
}

// coverage is where, when and of what.
func (e *emlWriter) coverage() {
	s := e.in.Study
	from, to := seasonSpan(s)
	named := false
	for i := range s.Species {
		named = named || oneLine(s.Species[i].Name) != ""
	}
	if !e.site.known && from.IsZero() && !named {
		return
	}
	e.open("coverage")
	if e.site.known {
		e.geography()
	}
	if !from.IsZero() && !to.IsZero() {
		e.open("temporalCoverage")
		e.open("rangeOfDates")
		e.moment("beginDate", from)
		e.moment("endDate", to)
		e.close("rangeOfDates")
		e.close("temporalCoverage")
	}
	if named {
		e.open("taxonomicCoverage")
		for i := range s.Species {
			e.taxon(s.Species[i])
		}
		e.close("taxonomicCoverage")
	}
	e.close("coverage")
}

// geography is the site as a box: the point itself, or the box round the circle in
// which it lies.
func (e *emlWriter) geography() {
	north, east := 0.0, 0.0
	if u := e.site.uncertaintyM; u != nil && math.Abs(e.site.latitude) < 89 {
		frame := newEarthFrame(e.site, 0)
		north, east = *u*frame.perNorth, *u*frame.perEst
	}
	name := e.site.name
	if name == "" {
		name = "Name of the site: " + notRecordedText
	}
	if e.site.coarsened {
		name = joinSentences(name+".", coarsenedText)
	}
	degrees := func(v, most float64) string { return exactNumber(round(min(max(v, -most), most), 6)) }
	depth := exactNumber(-e.in.Study.Site.DepthM)
	e.open("geographicCoverage")
	e.text("geographicDescription", name)
	e.open("boundingCoordinates")
	e.text("westBoundingCoordinate", degrees(e.site.longitude-east, 180))
	e.text("eastBoundingCoordinate", degrees(e.site.longitude+east, 180))
	e.text("northBoundingCoordinate", degrees(e.site.latitude+north, 90))
	e.text("southBoundingCoordinate", degrees(e.site.latitude-north, 90))
	e.open("boundingAltitudes")
	e.text("altitudeMinimum", depth)
	e.text("altitudeMaximum", depth)
	e.text("altitudeUnits", "meter")
	e.close("boundingAltitudes")
	e.close("boundingCoordinates")
	e.close("geographicCoverage")
}

func (e *emlWriter) moment(name string, t time.Time) {
	e.open(name)
	e.text("calendarDate", t.Format("2006-01-02"))
	e.text("time", t.Format("15:04:05Z07:00"))
	e.close(name)
}

func (e *emlWriter) taxon(s study.Species) {
	name := oneLine(s.Name)
	if name == "" {
		return
	}
	e.open("taxonomicClassification")
	if len(strings.Fields(name)) == 2 {
		e.text("taxonRankName", "species")
	}
	e.text("taxonRankValue", name)
	e.close("taxonomicClassification")
}

// methods are steps and sampling, in short: the report has them whole.
func (e *emlWriter) methods() {
	s := e.in.Study
	e.open("methods")
	step := func(sentences ...string) {
		e.open("methodStep")
		e.paragraphs("description", sentences)
		e.close("methodStep")
	}
	step(e.stimulusSteps()...)
	tracked := 0
	for i := range e.in.Passes {
		if e.in.Passes[i].HasTrack {
			tracked++
		}
	}
	step(fmt.Sprintf("%s of animals by a pair were recorded in %s; %s with a track of the head.",
		countText(len(s.Passes), "pass", "passes"), countText(len(s.Trials), "trial", "trials"), countText(tracked, "pass", "passes")))
	step("The field that every animal met was worked out from its track, the conductivity of the water and the currents. A turn lies between two bounds: the largest field before it could have been caused, and the largest while it could.",
		"Models, intervals and their limits are told in "+MethodsMD+".",
		"Software: Brinefield "+versionText(e.in.Program)+".")
	from, to := seasonSpan(s)
	where := e.site.name
	if where == "" {
		where = notRecordedText
	}
	extent := "Site: " + where + ". Depth of the water: " + exactNumber(s.Site.DepthM) + " m."
	if !from.IsZero() {
		extent += " Trials from " + from.Format("2006-01-02") + " to " + to.Format("2006-01-02") + "."
	}
	method := oneLine(e.in.Facts.Protocol.Method)
	if method == "" {
		method = "Protocol in the study's own words: " + notRecordedText + "."
	}
	e.open("sampling")
	e.open("studyExtent")
	e.paragraphs("description", []string{extent})
	e.close("studyExtent")
	e.paragraphs("samplingDescription", []string{method})
	e.close("sampling")
	e.close("methods")
}

func (e *emlWriter) stimulusSteps() []string {
	s := e.in.Study
	silent := 0
	for i := range s.Trials {
		if s.Trials[i].Silent() {
			silent++
		}
	}
	out := []string{fmt.Sprintf("%s of electrodes lay on the bottom. In each trial a current was driven through the pairs that tables/trials.csv names; %s silent.",
		countText(len(s.Pairs), "pair", "pairs"), countText(silent, "trial was", "trials were"))}
	switch s.Schedule.Kind {
	case study.ScheduleUniform:
		out = append(out, "The active pair of each trial was drawn independently with equal chances.")
	case study.ScheduleBlocks:
		out = append(out, "The active pairs were drawn in permuted blocks of "+strconv.Itoa(s.Schedule.Block)+" trials.")
	case study.ScheduleUnstated:
		out = append(out, "How the active pairs were drawn: "+notRecordedText+".")
	}
	if e.in.Sealed > 0 {
		out = append(out, "The active pairs of "+countText(e.in.Sealed, "trial", "trials")+" are sealed.")
	}
	return out
}

func (e *emlWriter) project() {
	funding := oneLine(e.in.Spec.Funding)
	if funding == "" {
		return
	}
	e.open("project")
	e.text("title", packageTitle(e.in))
	people := authorsOf(e.in.People)
	if len(people) == 0 {
		e.open("personnel")
		e.text("organizationName", notRecordedText)
		e.text("role", "author")
		e.close("personnel")
	}
	for _, p := range people {
		e.open("personnel")
		e.party(p)
		e.text("role", "author")
		e.close("personnel")
	}
	e.paragraphs("funding", []string{funding})
	e.close("project")
}

func sumText(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}
