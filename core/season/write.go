package season

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// Write gives the canonical season folder of a study: keys and columns in
// fixed order, those that hold nothing left out unless the format needs them,
// numbers with the fewest digits that read back as the same value, times in
// the site's zone (with an offset only where the clock showed that time
// twice), the readings of a cast together, species by their accepted names, UTF-8, line feeds.
//
// What Read made of a season without faults, Write takes, and reading the
// result gives the same study but for the row numbers. Write is meant for such
// studies. It refuses, with an error that names the thing and the field, what
// no season can hold: a zone that is not known, an index out of range, a
// number that is not finite, a name that is blank or doubled, a text that
// would not read back.
func Write(s *study.Study) (Files, error) {
	w, err := newWriter(s)
	if err != nil {
		return nil, err
	}
	files := Files{StudyFile: w.studyTOML()}
	if cast := castByTime(s.Cast); len(cast) > 0 || s.Water.Kind == study.WaterCast {
		files[WaterFile] = w.table("water reading", waterColumns, len(cast), w.castRows(cast))
	}
	files[TrialsFile] = w.table("trial", trialColumns, len(s.Trials), w.trialRow)
	if len(s.Individuals) > 0 {
		files[IndividualsFile] = w.table("individual", individualColumns, len(s.Individuals), w.individualRow)
	}
	if len(s.Clips) > 0 {
		files[ClipsFile] = w.table("clip", clipColumns, len(s.Clips), w.clipRow)
	}
	files[PassesFile] = w.table("pass", passColumns, len(s.Passes), w.passRow)
	if len(s.Tracks) > 0 {
		files[TracksFile] = w.tracks()
	}
	if w.err != nil {
		return nil, w.err
	}
	return files, nil
}

// writer keeps the first error, so that the code that lays out a file need not
// stop at every cell.
type writer struct {
	study *study.Study
	where string // the thing being written, for an error: "pass 3"
	err   error
	local localTimes
}

func newWriter(s *study.Study) (*writer, error) {
	switch {
	case s == nil:
		return nil, errors.New("no study to write")
	case s.Site.Zone == nil:
		return nil, errors.New("site: the time zone is not known, so that no time can be written")
	}
	return &writer{study: s}, nil
}

func (w *writer) fail(format string, args ...any) {
	if w.err == nil {
		w.err = fmt.Errorf("%s: %s", w.where, fmt.Sprintf(format, args...))
	}
}

// table lays out one table: the columns that are needed and those that hold
// something in some row.
func (w *writer) table(what string, specs []columnSpec, n int, row rowMaker) []byte {
	rows := make([]string, 0, n*len(specs))
	used := w.eachRow(what, specs, n, row, func(_ int, cells []string) { rows = append(rows, cells...) })
	var b bytes.Buffer
	header := make([]string, len(specs))
	for c, spec := range specs {
		header[c] = spec.name
	}
	writeRow(&b, header, used)
	for i := range n {
		writeRow(&b, rows[i*len(specs):(i+1)*len(specs)], used)
	}
	return b.Bytes()
}

// rowMaker puts the texts of row i into its cells, which are blank.
type rowMaker func(i int, cells []string)

// brokenText is a text of more than one line, in row i.
type brokenText struct {
	i    int
	text string
}

// eachRow hands on the cells of each row, one for each spec, good until the
// next row. It checks what must be true of a whole table, and returns which
// columns are written: those that are needed or hold something.
func (w *writer) eachRow(what string, specs []columnSpec, n int, row rowMaker, take func(i int, cells []string)) (used []bool) {
	cells := make([]string, len(specs))
	used = neededColumns(specs)
	names := make(map[string]bool, n)
	var broken []brokenText
	for i := range n {
		w.where = fmt.Sprintf("%s %d", what, i+1)
		clear(cells)
		row(i, cells)
		for c, text := range cells {
			used[c] = used[c] || text != ""
			if specs[c].need == cellNeeded && text == "" {
				w.fail("%s is blank", specs[c].name)
			}
			if strings.Contains(text, "\n") {
				broken = append(broken, brokenText{i, text})
			}
		}
		if cells[0] != "" && what != "water reading" && names[cells[0]] {
			w.fail("%s %q stands twice", specs[0].name, cells[0])
		}
		names[cells[0]] = true
		take(i, cells)
	}
	w.checkBreaks(what, broken, used)
	return used
}

func neededColumns(specs []columnSpec) []bool {
	used := make([]bool, len(specs))
	for c, spec := range specs {
		used[c] = spec.need != optional
	}
	return used
}

// checkBreaks refuses a text with a line that [scanner.swallowsRows] would take
// for a row of the table.
func (w *writer) checkBreaks(what string, broken []brokenText, used []bool) {
	width := 0
	for _, u := range used {
		if u {
			width++
		}
	}
	for _, t := range broken {
		if holdsRow(t.text, ',', width) {
			w.where = fmt.Sprintf("%s %d", what, t.i+1)
			w.fail("the text %q has a line that would be read as a row", t.text)
		}
	}
}

func writeRow(b *bytes.Buffer, cells []string, used []bool) {
	first := true
	for c, text := range cells {
		if !used[c] {
			continue
		}
		if !first {
			b.WriteByte(',')
		}
		first = false
		writeCell(b, text)
	}
	b.WriteByte('\n')
}

// writeCell quotes only what would otherwise be read as something else.
func writeCell(b *bytes.Buffer, text string) {
	if !strings.ContainsAny(text, ",\"\n\r") {
		b.WriteString(text)
		return
	}
	b.WriteByte('"')
	b.WriteString(strings.ReplaceAll(text, `"`, `""`))
	b.WriteByte('"')
}

// number prints an SI value in the unit.
func (w *writer) number(field string, v float64, unit quantity.Unit) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		w.fail("%s is not finite", field)
		return ""
	}
	return unit.Format(v)
}

// count prints a whole number from 1; 0 is blank.
func (w *writer) count(field string, n int) string {
	if n == 0 {
		return ""
	}
	if !isCount(float64(n)) {
		w.fail("%s is %d, which is not from 1 to %d", field, n, largestCount)
	}
	return itoa(n)
}

func (w *writer) opt(field string, v study.Opt[float64], unit quantity.Unit) string {
	if !v.Known {
		return ""
	}
	return w.number(field, v.Value, unit)
}

// text checks that a text reads back as it is.
func (w *writer) text(field, s string) string {
	if s != strings.TrimFunc(s, blankRune) {
		w.fail("%s %q has spaces round it", field, s)
	}
	if strings.ContainsFunc(s, func(r rune) bool {
		return r < ' ' && r != '\n' && r != '\t' || r == 0x7F
	}) || !utf8.ValidString(s) {
		w.fail("%s %q holds control characters or is not UTF-8", field, s)
	}
	if s != "" && isErrorMark(s) {
		w.fail("%s %q would be read as a spreadsheet's error mark", field, s)
	}
	return s
}

// name checks that an identifier reads back as it is.
func (w *writer) name(field, s string) string {
	if s != tidyName(s) || holdsControl(s) {
		w.fail("%s %q has spaces round it or invisible characters", field, s)
	}
	return w.text(field, s)
}

func (w *writer) time(field string, t time.Time) string {
	local := t.In(w.study.Site.Zone)
	if local.Year() < firstYear || local.Year() > lastYear {
		w.fail("%s is outside the years %d to %d", field, firstYear, lastYear)
		return ""
	}
	return w.local.format(t, w.study.Site.Zone)
}

func (w *writer) pair(field string, i int) string {
	if i < 0 || i >= len(w.study.Pairs) {
		w.fail("%s is pair %d of %d", field, i, len(w.study.Pairs))
		return ""
	}
	return w.study.Pairs[i].Label
}

func (w *writer) species(i int) string {
	if i < 0 || i >= len(w.study.Species) {
		w.fail("species is %d of %d", i, len(w.study.Species))
		return ""
	}
	return w.study.Species[i].Name
}

func answerWord(a study.Answer) string {
	switch a {
	case study.Yes:
		return "yes"
	case study.No:
		return "no"
	}
	return ""
}

// localTimes writes times, and remembers the last stretch in which the clock
// was not set, because the times of a season mostly lie in one.
type localTimes struct {
	from, to time.Time
}

func (l *localTimes) format(t time.Time, zone *time.Location) string {
	if t.After(l.from) && t.Before(l.to) {
		return t.In(zone).Format(isoLocal)
	}
	start, end := t.In(zone).ZoneBounds()
	const day = 26 * time.Hour
	if !start.IsZero() && !end.IsZero() && t.Sub(start) > day && end.Sub(t) > day {
		l.from, l.to = start.Add(day), end.Add(-day)
	}
	return formatTime(t, zone)
}
