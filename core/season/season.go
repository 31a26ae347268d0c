// Package season reads and writes the season folder: the plain text files that
// a biologist makes with a text editor and a spreadsheet, and from which a
// study is made.
//
// [Read] takes the folder as values (name → bytes) and returns the study with
// every fault it found, not the first one. [Write] gives the canonical folder
// of a study: reading that and writing it again gives the same bytes.
// [ReadIntervals] reads the one table that `infer` takes.
//
// The package tolerates what spreadsheets do to a table (byte order marks,
// semicolons with decimal commas, blank rows, quoted line breaks) and reports,
// without guessing, what they do to its values (dates in the style of a
// country, thousands separators, error marks).
package season

import (
	"slices"
	"time"

	"brinefield/core/study"
)

// The files of a season folder.
const (
	StudyFile       = "study.toml"
	WaterFile       = "water.csv"
	TrialsFile      = "trials.csv"
	IndividualsFile = "individuals.csv"
	ClipsFile       = "clips.csv"
	PassesFile      = "passes.csv"
	TracksFile      = "tracks.csv"
)

// fileNames are the files of a season in the order in which faults are told.
var fileNames = []string{StudyFile, WaterFile, TrialsFile, IndividualsFile, ClipsFile, PassesFile, TracksFile}

// Files is a season folder: name → bytes. A name is the file's base name.
type Files map[string][]byte

// Extra lists the names, sorted, that are no part of a season and that [Read]
// leaves alone.
func (f Files) Extra() []string {
	var extra []string
	for name := range f {
		if !slices.Contains(fileNames, name) {
			extra = append(extra, name)
		}
	}
	slices.Sort(extra)
	return extra
}

// Options are what reading needs from outside.
type Options struct {
	// Zone finds an IANA time zone: [time.LoadLocation]. Without it only UTC
	// is known.
	Zone func(name string) (*time.Location, error)
}

// Read makes a study of a season folder and tells every fault, ordered by
// file (study.toml, water.csv, trials.csv, individuals.csv, clips.csv,
// passes.csv, tracks.csv), row and column.
//
// The study is never nil. With no faults it is complete. With faults it holds
// what could be read, to be shown beside them and not to be analysed: an index
// whose reference is at fault is -1, a number that could not be read is not
// known or 0, and the zone may be nil.
//
// trials.csv and passes.csv must be there (a header alone will do);
// water.csv must where `[water] cast` names it; the others may be left out.
// Any input is safe: Read does not panic, and takes time in proportion to its
// size.
func Read(files Files, opt Options) (*study.Study, []Fault) {
	r := newReader(files, opt)
	r.readStudy()
	r.readTables()
	return r.study, r.faults.sorted()
}

// readTables reads what stands beside study.toml.
func (r *reader) readTables() {
	r.readWater()
	r.readTrials()
	r.readIndividuals()
	r.readClips()
	r.readPasses()
	r.readTracks()
	r.checkAcross()
}
