package conduction

import (
	"fmt"
	"math"
)

// Wave is the kind of a current's course in time.
type Wave uint8

// The kinds.
const (
	WaveDirect Wave = iota // steady
	WaveSine
	WaveSquare // to and fro between +peak and −peak
	WavePulses // between 0 and peak
)

// Waveform is a current that repeats itself. Duty is the share of a period for which a square wave is
// positive or a pulse lasts, above 0 and below 1; a square wave's 0 means one half. A
// steady current has neither frequency nor duty (0), a sine no duty.
type Waveform struct {
	Kind        Wave
	FrequencyHz float64
	Duty        float64
	PeakA       float64 // of any sign
}

// Strength is a current's peak, root mean square and mean over a period.
type Strength struct{ PeakA, RMSA, MeanA float64 }

// Validate says what is wrong with the waveform, or nil; the error is an [ErrWave].
func (w Waveform) Validate() error {
	switch {
	case w.Kind > WavePulses:
		return fmt.Errorf("%w: kind %d; expected direct, sine, square or pulses", ErrWave, w.Kind)
	case !finite(w.PeakA):
		return fmt.Errorf("%w: a peak of %g A; expected a finite number", ErrWave, w.PeakA)
	case w.Kind == WaveDirect && (w.FrequencyHz != 0 || w.Duty != 0):
		return fmt.Errorf("%w: a direct current with a frequency of %g Hz and a duty of %g; expected neither", ErrWave, w.FrequencyHz, w.Duty)
	case w.Kind == WaveDirect:
		return nil
	case !finite(w.FrequencyHz) || w.FrequencyHz <= 0:
		return fmt.Errorf("%w: a frequency of %g Hz; expected a finite number above 0", ErrWave, w.FrequencyHz)
	case w.Kind == WaveSine && w.Duty != 0:
		return fmt.Errorf("%w: a sine with a duty of %g; expected none", ErrWave, w.Duty)
	case w.Kind == WaveSquare && w.Duty == 0:
		return nil
	case w.Kind != WaveSine && !(w.Duty > 0 && w.Duty < 1):
		return fmt.Errorf("%w: a duty of %g; expected a share between 0 and 1", ErrWave, w.Duty)
	}
	return nil
}

// duty is the share of a period on the upper level.
func (w Waveform) duty() float64 {
	if w.Kind == WaveSquare && w.Duty == 0 {
		return 0.5
	}
	return w.Duty
}

// Strength works the figures out of the course in time.
func (w Waveform) Strength() Strength {
	s := Strength{PeakA: w.PeakA}
	switch d := w.duty(); w.Kind {
	case WaveSine:
		s.RMSA = math.Abs(w.PeakA) / math.Sqrt2
	case WaveSquare:
		s.RMSA, s.MeanA = math.Abs(w.PeakA), w.PeakA*(2*d-1)
	case WavePulses:
		s.RMSA, s.MeanA = math.Abs(w.PeakA)*math.Sqrt(d), w.PeakA*d
	default:
		s.RMSA, s.MeanA = math.Abs(w.PeakA), w.PeakA
	}
	return s
}

// CornerHz is where the spectrum begins to fall: the frequency of a sine, 1/(πw)
// of pulses and square waves, with w the shorter of the times on the upper and on the lower
// level; 0 for a steady current.
func (w Waveform) CornerHz() float64 {
	switch w.Kind {
	case WaveSine:
		return w.FrequencyHz
	case WaveSquare, WavePulses:
		return w.FrequencyHz / (math.Pi * w.shorter())
	}
	return 0
}

func (w Waveform) shorter() float64 { return math.Min(w.duty(), 1-w.duty()) }

// powerShare is the part of the changing current's power that counts.
const powerShare = 0.99

// HighestHz is the highest frequency that matters: up to the harmonic with which 99 % of the power
// of the changing part of the current is in. Harmonic n of pulses and square waves has the
// share 2·sin²(πnD)/((πn)²·D(1−D)); edges are taken as vertical. Of a sine it is
// its frequency, of a steady current 0.
func (w Waveform) HighestHz() float64 {
	if w.Kind != WaveSquare && w.Kind != WavePulses {
		return w.CornerHz()
	}
	// Of pulses shorter than a thousandth of the period only the length still counts.
	d, f := w.shorter(), w.FrequencyHz
	if least := 1e-3; d < least {
		d, f = least, f*(least/d)
	}
	sum := 0.0
	for n := 1; ; n++ {
		x := math.Sin(math.Pi*float64(n)*d) / (math.Pi * float64(n))
		if sum += 2 * x * x / (d * (1 - d)); sum >= powerShare {
			return float64(n) * f
		}
	}
}

// Slowness is how far the field of a waveform is that of a steady current.
type Slowness struct {
	CornerHz, HighestHz float64 // see [Waveform.CornerHz] and [Waveform.HighestHz]
	SkinDepthM          float64 // at HighestHz; +Inf for a steady current
	// LargestChange is |E − E_steady|/|E_steady| at HighestHz anywhere up to the distance asked
	// for ([LargestChange]): a bound for all harmonics below. ChangeAtCorner is the same at CornerHz,
	// where most of the power lies.
	LargestChange, ChangeAtCorner float64
	StaticToM                     float64 // up to where LargestChange stays within the share; +Inf for a steady current
	DisplacementRatio             float64 // at HighestHz, with a relative permittivity of 80
}

// waterPermittivity is that of sea water, relative, up to about mostHz.
const (
	waterPermittivity = 80
	mostHz            = 1e9
)

// Slowness checks a waveform in unbounded water of a conductivity, up to a
// distance and for a share of the steady field that may be missed. A train of pulses is
// judged by its harmonics, not by how often it comes. Errors: [ErrWave].
func (w Waveform) Slowness(sPerM, distanceM, share float64) (Slowness, error) {
	if err := w.Validate(); err != nil {
		return Slowness{}, err
	}
	if !finite(sPerM) || sPerM <= 0 {
		return Slowness{}, fmt.Errorf("%w: water of %g S/m; expected a finite number above 0", ErrWave, sPerM)
	}
	if !finite(distanceM) || distanceM <= 0 {
		return Slowness{}, fmt.Errorf("%w: a distance of %g m; expected a finite number above 0", ErrWave, distanceM)
	}
	q, err := StaticTo(share)
	if err != nil {
		return Slowness{}, err
	}
	s := Slowness{CornerHz: w.CornerHz(), HighestHz: w.HighestHz()}
	if s.HighestHz > mostHz {
		return Slowness{}, fmt.Errorf("%w: harmonics up to %g Hz count; expected at most %g Hz, beyond which water does not conduct as it does below", ErrWave, s.HighestHz, mostHz)
	}
	s.SkinDepthM = SkinDepthM(s.HighestHz, sPerM)
	s.LargestChange = LargestChange(distanceM / s.SkinDepthM)
	s.ChangeAtCorner = LargestChange(distanceM / SkinDepthM(s.CornerHz, sPerM))
	s.StaticToM = q * s.SkinDepthM
	s.DisplacementRatio = DisplacementRatio(s.HighestHz, sPerM, waterPermittivity)
	return s, nil
}
