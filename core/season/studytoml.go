package season

import (
	"cmp"
	"errors"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// Limits of study.toml that no study reaches; beyond them a document is a
// mistake, and reading it could take for ever.
const (
	largestStudyFile = 1 << 20
	deepestBrackets  = 500
	mostDotsInLine   = 2000
)

// readStudy reads study.toml. Where it is not there or not TOML, what other
// files name in it is let pass.
func (r *reader) readStudy() {
	data, ok := r.files[StudyFile]
	r.pairs.open, r.plates.open, r.species.open = true, true, true
	if !ok {
		r.faults.add(0, Fault{
			File: StudyFile, Row: 1, Column: "format", Wrong: "the file is missing",
			Expected: didYouMean("expected it to say format = 1 and what the study is", r.suggest.nearest("file", StudyFile, r.files.Extra())),
		})
		return
	}
	text := r.studyText(data)
	if wrong := tooLarge(text); wrong != "" {
		r.faults.add(0, Fault{File: StudyFile, Row: 1, Column: "format", Wrong: wrong, Expected: "expected a text file that describes a study"})
		return
	}
	root, err := parseTOML(text)
	if err != nil {
		r.faults.add(0, syntaxFault(text, err))
		return
	}
	r.studyRead = true
	r.pairs.open, r.plates.open, r.species.open = false, false, false
	r.readDocument(&section{r: r, name: "study.toml", node: root})
}

// studyText decodes study.toml and tells bytes that are no UTF-8.
func (r *reader) studyText(data []byte) string {
	text := unixBreaks(decodeText(data))
	if utf8.ValidString(text) {
		return text
	}
	for i, line := range strings.Split(text, "\n") {
		if !utf8.ValidString(line) {
			meant := fromLatin1(line)
			r.faults.add(0, Fault{
				File: StudyFile, Row: i + 1, Column: keyOf(meant, "format"), Found: meant,
				Wrong:    "a character that is not UTF-8 (probably in " + quoted(meant) + ")",
				Expected: "expected UTF-8: save the file again with the encoding UTF-8",
			})
		}
	}
	return fromLatin1(text)
}

// keyOf is the key that a line sets or the section that it opens, or the other
// word where it does neither.
func keyOf(line, other string) string {
	if name := strings.Trim(trim(line), "[]"); name != "" && line[0] == '[' {
		return name
	}
	if key, _, ok := strings.Cut(line, "="); ok && trim(key) != "" {
		return trim(key)
	}
	return other
}

// tooLarge says what makes a document one that no study needs, "" where nothing
// does.
func tooLarge(text string) string {
	if len(text) > largestStudyFile {
		return "the file is larger than 1 MB"
	}
	depth, dots := 0, 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case '.':
			dots++
		case '\n':
			dots = 0
		}
		if depth > deepestBrackets || dots > mostDotsInLine {
			return "the file opens more brackets or parts of a name than any study needs"
		}
	}
	return ""
}

var (
	curlyMarks   = "“”„‟‘’‚«»"
	decimalComma = regexp.MustCompile(`=\s*[+-]?\d+,\d+\s*(#|$)`)
	unquoted     = regexp.MustCompile(`=\s*\pL`)
)

// syntaxFault tells where a document is no TOML, with what usually is the cause.
func syntaxFault(text string, err error) Fault {
	f := Fault{File: StudyFile, Row: 1, Column: "format", Wrong: "the file is not valid TOML: " + err.Error(), Expected: `expected lines such as depth_m = 0.9`}
	var walk *walkError
	if errors.As(err, &walk) {
		f.Row, f.Column, f.Wrong, f.Expected = walk.line, cmp.Or(walk.key, "format"), walk.what, "expected "+walk.right
		return f
	}
	var parse toml.ParseError
	if !errors.As(err, &parse) {
		return f
	}
	lines := strings.Split(text, "\n")
	f.Row = min(max(1, parse.Position.Line), len(lines))
	line := lines[f.Row-1]
	f.Found = trim(line)
	f.Column = keyOf(line, cmp.Or(parse.LastKey, "format"))
	f.Wrong = "the line is not valid TOML: " + oneSentence(parse.Message)
	switch {
	case strings.ContainsAny(line, curlyMarks):
		f.Expected = `expected straight quotation marks ("), not curly ones`
	case decimalComma.MatchString(line):
		f.Expected = "expected a decimal point, not a comma"
	case unquoted.MatchString(line):
		f.Expected = `expected text in quotation marks: key = "text"`
	}
	return f
}

// oneSentence makes the library's message fit into a line of faults.
func oneSentence(message string) string {
	first, _, _ := strings.Cut(message, "\n")
	return strings.TrimSuffix(first, ".")
}

func (r *reader) readDocument(top *section) {
	if !r.knownFormat(top) {
		r.stopped = true
		return
	}
	r.study.Title = top.text("title", true)
	r.study.Question = top.text("question", false)
	r.readSite(top.table("site", true))
	r.readWaterKind(top.table("water", true))
	r.readBottom(top.table("bottom", true))
	if e := top.table("enclosure", false); !e.absent {
		r.readEnclosure(e)
	}
	r.readPlates(top.tables("plate"))
	r.readPairs(top, top.tables("pair"))
	r.readSpecies(top, top.tables("species"))
	if s := top.table("schedule", false); !s.absent {
		r.readSchedule(s)
	}
	r.readAnalysis(top.table("analysis", true))
	if u := top.table("uncertainty", false); !u.absent {
		r.readUncertainty(u)
	}
	top.done()
}

// knownFormat reports whether the document is one that this program can judge.
// A format that it does not know is the only fault told; none at all is told
// beside the others.
func (r *reader) knownFormat(top *section) bool {
	n := top.get("format")
	switch {
	case n == nil:
		top.missing("format", "format = 1")
	case n.kind != scalarNode || n.raw != "1":
		top.fault(n.line, "format", n.show(), "the format is "+n.show()+", which this program does not know", "expected format = 1")
		return false
	}
	return true
}

func (r *reader) readSite(s *section) {
	site := &r.study.Site
	site.Name = s.text("name", true)
	r.readZone(s)
	site.DepthM = s.mustNumber("depth_m", quantity.Metre, aboveZero)
	site.LatitudeDeg = s.within("latitude", 90)
	site.LongitudeDeg = s.within("longitude", 180)
	site.XAxisBearingDeg = s.number("x_axis_bearing_deg", quantity.One, anyNumber)
	s.done()
}

// within reads an angle from −limit to limit.
func (s *section) within(key string, limit float64) study.Opt[float64] {
	v := s.number(key, quantity.One, anyNumber)
	if v.Known && (v.Value < -limit || v.Value > limit) {
		text := quantity.One.Format(limit)
		s.fault(s.line(key), key, quantity.One.Format(v.Value), key+" is "+quantity.One.Format(v.Value), "expected degrees from -"+text+" to "+text)
		return study.Opt[float64]{}
	}
	return v
}

func (r *reader) readZone(s *section) {
	name := s.text("timezone", true)
	if name == "" {
		return
	}
	zone, err := r.opt.Zone(name)
	if err != nil || zone == nil || strings.EqualFold(name, "local") {
		s.fault(s.line("timezone"), "timezone", name, quoted(name)+" is not a time zone that is known here", `expected an IANA name such as "Europe/Dublin"`)
		return
	}
	r.study.Site.Timezone, r.study.Site.Zone = name, zone
}

func (r *reader) readSchedule(s *section) {
	rule := s.choice("rule", false, "uniform", "blocks")
	switch rule {
	case "uniform":
		r.study.Schedule.Kind = study.ScheduleUniform
	case "blocks":
		r.study.Schedule.Kind = study.ScheduleBlocks
		r.study.Schedule.Block = s.count("block", true, "a whole number of trials")
		r.study.Schedule.MostAlike = s.count("most_alike", false, "a whole number of trials, or no most_alike where there is no limit")
	}
	if rule == "uniform" || !s.has("rule") {
		s.unwanted(`it goes with rule = "blocks"`, "block", "most_alike")
	}
	s.get("block")
	s.get("most_alike")
	s.done()
}

// count reads a whole number from 1; 0 where it is not there or at fault.
func (s *section) count(key string, required bool, expected string) int {
	v := s.number(key, quantity.One, aboveZero)
	switch {
	case v.Known && !isCount(v.Value):
		s.fault(s.line(key), key, quantity.One.Format(v.Value), key+" is "+quantity.One.Format(v.Value), "expected "+expected)
		return 0
	case required && !s.has(key):
		s.missing(key, key+" = a number")
	}
	return int(v.Value)
}

func (r *reader) readAnalysis(s *section) {
	a := &r.study.Analysis
	a.PassRadiusM = s.mustNumber("pass_radius_cm", quantity.Centimetre, aboveZero)
	a.ReactionTimeS = s.number("reaction_time_s", quantity.Second, zeroOrMore)
	a.ReactionTimeSDS = s.number("reaction_time_sd_s", quantity.Second, zeroOrMore)
	a.FixSDM = s.number("fix_sd_cm", quantity.Centimetre, zeroOrMore)
	low, high, ok := s.pair("height_range_cm", quantity.Centimetre, zeroOrMore)
	switch {
	case ok && low > high:
		s.fault(s.line("height_range_cm"), "height_range_cm", "", "height_range_cm falls from "+quantity.Centimetre.Format(low)+" to "+quantity.Centimetre.Format(high), "expected [low, high]")
	case ok:
		a.HeightLowM, a.HeightHighM = study.Some(low), study.Some(high)
	}
	// A range that is there but at fault still answers "where is the range?".
	r.heightRangeStated = s.has("height_range_cm")
	a.FieldAt = s.label("field_at", false)
	r.fieldAtLine = s.line("field_at")
	s.done()
}

func (r *reader) readUncertainty(s *section) {
	u := &r.study.Uncertainty
	u.BottomSPerMSD = s.number("bottom_S_per_m_sd", quantity.SiemensPerMetre, zeroOrMore)
	u.PositionSDM = s.number("position_sd_cm", quantity.Centimetre, zeroOrMore)
	u.HeightSDM = s.number("height_sd_cm", quantity.Centimetre, zeroOrMore)
	u.CurrentSDPercent = s.number("current_sd_percent", quantity.One, zeroOrMore)
	s.done()
}
