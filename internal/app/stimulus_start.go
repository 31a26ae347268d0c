package app

import "context"

// Stimulus is what the page Stimulus begins with.
func (s *Study) Stimulus(context.Context) (StimulusStart, error) {
	return StimulusStart{}, ErrNotReady
}

// Stimulus is what the page Stimulus begins with.
func (l *LooseSeason) Stimulus(context.Context) (StimulusStart, error) {
	return StimulusStart{}, ErrNotReady
}
