// Package exposure joins a track with the field of its trial and says what the
// animal met, between which bounds: the largest field that it let pass without
// a turn, and the largest field by the time it turned.
//
// Call [NewFields] once for a study, then [Compute] for one [Exposure] a pass;
// [Sensitivity] repeats the bounds at other reaction times, and [Along] gives
// one pass densely, for a picture. The rules, the search for the largest field
// and the smoother are explained in docs/physics/exposure.md.
//
// Everything is in SI and in the season frame. Nothing here draws random
// numbers: equal inputs give equal bits with any number of workers.
package exposure

import "brinefield/core/study"

// timeTolS is the margin within which two times of a track are the same.
const timeTolS = 1e-9

// Options are the choices of one computation that are not the study's own.
// The zero value follows the study, on one worker.
type Options struct {
	// ReactionTimeS overrides the study's reaction time, in seconds.
	ReactionTimeS study.Opt[float64]
	// TreatOldAsExact takes the field at the onset columns of a pass without a
	// track as the threshold itself (low = high) instead of its upper bound
	// (low = 0). It is an assumption of the older literature and must be
	// labelled wherever its results are shown.
	TreatOldAsExact bool
	// Workers is how many passes are worked on at once; 0 means one.
	Workers int
	// Progress, where not nil, is told how many passes are done. It is called
	// from several workers, one at a time.
	Progress func(done, total int)
	// Stop, where not nil, is asked now and then, from several workers at once,
	// whether to give up with [ErrStopped].
	Stop func() bool
}

func (o *Options) crew() crew { return crew{o.Workers, o.Progress, o.Stop} }

// Exposure is one pass joined with the field of its trial. Fields are
// magnitudes in V/m, lengths in metres, times in seconds on the track's clock,
// angles in degrees.
type Exposure struct {
	Pass       int // index into Study.Passes
	Role       study.Role
	Used       bool   // counts in the estimates
	WhyNotUsed string // plain words; empty where Used

	// Low and High bound the field met, of everything driven in the trial;
	// PhantomLow and PhantomHigh are the same with the trial's current moved to
	// the pass's own pair. V/m. They mean something where Known; the high ones
	// only where HighKnown (there was a turn).
	Low, High               float64
	PhantomLow, PhantomHigh float64
	Known, HighKnown        bool
	// FallingField: there was an onset and High ≤ Low, so that the field
	// cannot have caused the turn.
	FallingField bool
	// Exact: Low = High is meant as the threshold itself.
	Exact bool

	// Textbook is ρId·|cos θ|/(πr³) in V/m, from DistanceM and AngleDeg.
	Textbook study.Opt[float64]
	// Here is the field of the same current at the same place, as it is solved:
	// the trial's current at the pass's own pair, whichever was driven. It is
	// known where HeadXM, HeadYM and HeightM are and the trial is not sealed.
	Here study.Opt[FieldHere]

	// From the pass's pair to the head at the onset less the reaction time, or
	// at the largest field where there was no onset. Distance and angle are in
	// three dimensions; all but HorizontalM are unknown where the height is.
	DistanceM, HorizontalM, AngleDeg, HeightM study.Opt[float64]
	// HeadXM and HeadYM are where the head was then, in the season frame;
	// unknown without a track.
	HeadXM, HeadYM study.Opt[float64]

	// WatchedS is how long the pass was watched.
	WatchedS study.Opt[float64]
	// OnsetBeforeS and OnsetS bracket the onset: it was in (t0, t1].
	OnsetBeforeS, OnsetS study.Opt[float64]

	// ComputedPair is the pair whose circle the track entered first.
	ComputedPair study.Opt[int]
	// AfterFirstResponse: an earlier pass of the same visit had a turn or bite.
	AfterFirstResponse bool

	// Cluster groups the passes of one animal; animals that nobody recognised
	// share one cluster with the others of their species in their trial.
	Cluster    string
	Identified bool

	Warnings []string
}

// FieldHere is a field at one place, in V/m, in the frame of a pair: along its
// axis (from the negative to the positive electrode), across it (the axis
// turned 90° anticlockwise seen from above), and up.
type FieldHere struct {
	AlongVPerM, AcrossVPerM, UpVPerM float64
	MagnitudeVPerM                   float64
}

// Bounds are the fields of an [Exposure] that depend on the reaction time:
// bounds on the field met, in V/m, with the same conditions on their meaning.
type Bounds struct {
	Low, High    float64
	FallingField bool
}
