package season

import (
	"errors"
	"strings"
	"time"

	"brinefield/core/study"
)

// reader is one reading of a folder: the study as far as it is known, what its
// parts are called, and the faults so far.
type reader struct {
	files   Files
	records map[string]*recordRows // the tables, where they are not files but records
	opt     Options
	study   *study.Study
	faults  faultList
	suggest *suggester
	stopped bool // the format is not known: nothing else can be judged

	studyRead bool // study.toml is TOML; where not, other files are held against nothing in it

	pairs, plates, species             index
	trials, individuals, clips, passes index
	fieldAtLine                        int    // where study.toml names the point
	heightRangeStated                  bool   // study.toml says where unknown heights lie
	passTable                          *table // for faults of passes that only the tracks show
	unheighted                         []int  // passes whose old position has no height
	tracksRead                         bool   // there is a tracks.csv
	kept                               map[string]string
}

func newReader(files Files, opt Options) *reader {
	if opt.Zone == nil {
		opt.Zone = onlyUTC
	}
	return &reader{
		files: files, opt: opt, study: &study.Study{}, suggest: newSuggester(), kept: map[string]string{},
		pairs:       newIndex("a [[pair]] of study.toml"),
		plates:      newIndex("a [[plate]] of study.toml"),
		species:     newIndex("a [[species]] of study.toml, by name or alias"),
		trials:      newIndex("a trial of trials.csv"),
		individuals: newIndex("an individual of individuals.csv"),
		clips:       newIndex("a clip of clips.csv"),
		passes:      newIndex("a pass of passes.csv"),
	}
}

func onlyUTC(name string) (*time.Location, error) {
	if name == "UTC" {
		return time.UTC, nil
	}
	return nil, errors.New("no time zones at hand")
}

// open opens a table of the folder; nil where it is not there or has no header.
// A file that must be there and is not is one fault.
func (r *reader) open(file string, specs []columnSpec, why string) *table {
	if rows := r.records[file]; rows != nil {
		return openRecords(rows, &r.faults, r.suggest)
	}
	data, ok := r.files[file]
	switch {
	case r.stopped:
		return nil
	case !ok && why != "":
		r.faults.add(0, Fault{
			File: file, Row: 1, Column: specs[0].name, Wrong: "the file is missing" + why,
			Expected: didYouMean("expected it with the columns "+headerOf(specs), r.suggest.nearest("file", file, r.files.Extra())),
		})
		return nil
	case !ok:
		return nil
	}
	return openTable(file, data, specs, false, &r.faults, r.suggest)
}

// keep returns a copy of s that does not hold the file in memory, the same one
// for the same s.
func (r *reader) keep(s string) string {
	if s == "" {
		return ""
	}
	if k, ok := r.kept[s]; ok {
		return k
	}
	k := strings.Clone(s)
	r.kept[k] = k
	return k
}

// index finds things by what they are called.
type index struct {
	what   string // "a trial of trials.csv"
	at     map[string]int
	names  []string
	folded [][]rune // names as they are compared, for suggestions
	// open: what is called so could not be read, which was told; any name is
	// let pass.
	open bool
}

func newIndex(what string) index { return index{what: what, at: map[string]int{}} }

// add names the thing at position i; false where the name was taken.
func (x *index) add(name string, i int) bool {
	if _, taken := x.at[name]; taken {
		return false
	}
	x.at[name] = i
	x.names = append(x.names, name)
	return true
}

// reference reads a cell that names a thing and returns its position, -1 where
// the cell is blank or at fault.
func (r *reader) reference(t *table, column int, x *index) int {
	c := tidyName(t.cell(column))
	if c == "" {
		t.blankFault(column, x.what)
		return -1
	}
	return r.referenceTo(t, column, c, x)
}

func (r *reader) referenceTo(t *table, column int, name string, x *index) int {
	if i, ok := x.at[name]; ok {
		return i
	}
	switch {
	case isErrorMark(name):
		t.fault(column, quoted(name)+" is a spreadsheet's error mark", "expected "+x.what)
	case !x.open:
		t.fault(column, quoted(name)+" is not "+x.what, didYouMean("expected one that is listed there", r.suggest.nearestIn(x, name)))
	}
	return -1
}

// doubled tells an identifier that an earlier row has.
func (r *reader) doubled(t *table, column int, name string, firstRow int) {
	t.fault(column, quoted(name)+" stands twice, first in row "+itoa(firstRow), "expected each "+t.specs[column].name+" once")
}
