package app

import (
	"context"
	"time"
)

// Stimulus answers what the page Stimulus asks: pure calculations on knobs,
// with the last solutions kept. It is safe for concurrent use.
type Stimulus struct {
	clock func() time.Time
}

// NewStimulus makes one that has solved nothing yet. The clock says how long
// an answer took; nil: answers say 0.
func NewStimulus(clock func() time.Time) *Stimulus {
	return &Stimulus{clock: clock}
}

// Section is the field in one plane.
func (s *Stimulus) Section(context.Context, SectionRequest) (StimulusSection, error) {
	return StimulusSection{}, ErrNotReady
}

// Points is the field at places.
func (s *Stimulus) Points(context.Context, PointsRequest) (StimulusPoints, error) {
	return StimulusPoints{}, ErrNotReady
}

// Range is how far the field reaches.
func (s *Stimulus) Range(context.Context, RangeRequest) (StimulusRange, error) {
	return StimulusRange{}, ErrNotReady
}

// Target is the current that a field at a place needs.
func (s *Stimulus) Target(context.Context, TargetRequest) (TargetAnswer, error) {
	return TargetAnswer{}, ErrNotReady
}

// Errors is what an error of each knob does.
func (s *Stimulus) Errors(context.Context, ErrorsRequest) (StimulusErrors, error) {
	return StimulusErrors{}, ErrNotReady
}

// Volume is the field in a box.
func (s *Stimulus) Volume(context.Context, VolumeRequest) (StimulusVolume, error) {
	return StimulusVolume{}, ErrNotReady
}

// Prey is what is published of natural prey.
func (s *Stimulus) Prey(context.Context) (PreyList, error) { return PreyList{}, ErrNotReady }

// Waveform says whether the field is that of a steady current.
func (s *Stimulus) Waveform(context.Context, WaveformRequest) (WaveformAnswer, error) {
	return WaveformAnswer{}, ErrNotReady
}
