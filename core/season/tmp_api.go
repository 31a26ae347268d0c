package season

import (
	"brinefield/core/study"
	"errors"
)

type reader struct {
	study  *study.Study
	faults faultList
}

func newReader(Files, Options) *reader {
	r := &reader{study: &study.Study{}}
	r.faults.add(0, Fault{File: StudyFile, Row: 1, Wrong: "cannot be read by this version", Expected: "the next"})
	return r
}
func (r *reader) readStudy()       {}
func (r *reader) readWater()       {}
func (r *reader) readTrials()      {}
func (r *reader) readIndividuals() {}
func (r *reader) readClips()       {}
func (r *reader) readPasses()      {}
func (r *reader) readTracks()      {}
func (r *reader) checkAcross()     {}

// ReadIntervals reads the table of `infer`.
func ReadIntervals(name string, data []byte) (*IntervalTable, []Fault) {
	return &IntervalTable{}, newReader(nil, Options{}).faults.sorted()
}

// Write gives the canonical season folder of a study.
func Write(s *study.Study) (Files, error) {
	return nil, errors.New("cannot be written by this version")
}
