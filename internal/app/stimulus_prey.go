package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"brinefield/core/conduction"
	"brinefield/core/reach"
)

// Prey is what is published of natural prey. What a source does not give is
// null or empty.
func (t *Stimulus) Prey(context.Context) (PreyList, error) {
	out := PreyList{Prey: []PreyView{}}
	given := func(v float64) *float64 {
		if v == 0 {
			return nil
		}
		return figure(v)
	}
	for _, p := range reach.Preys() {
		v := PreyView{
			Name: p.Name, DipoleMomentAM: given(p.DipoleMomentAM), FieldNVPerCm: given(p.FieldVPerM * nVPerCmPerVPerM), AtCm: given(p.AtM * 100),
			SurfaceUV: Figures{}, ModulationHz: append(Figures{}, p.ModulationHz...), Source: p.Cited(), Note: p.Note,
		}
		if p.VoltageV != [2]float64{} {
			v.SurfaceUV = Figures{p.VoltageV[0] * 1e6, p.VoltageV[1] * 1e6}
		}
		out.Prey = append(out.Prey, v)
	}
	return out, nil
}

// preyWithField are the names of those of which a field at a distance is
// published.
func preyWithField() []string {
	var out []string
	for _, p := range reach.Preys() {
		if p.FieldVPerM > 0 && p.AtM > 0 {
			out = append(out, p.Name)
		}
	}
	return out
}

// steadyShare is the share of the steady field that may be missed where a
// waveform counts as slow.
const steadyShare = 0.01

var waves = map[string]conduction.Wave{
	waveDirect: conduction.WaveDirect, waveSine: conduction.WaveSine, waveSquare: conduction.WaveSquare, wavePulses: conduction.WavePulses,
}

// Waveform says whether the field is that of a steady current up to a distance.
func (t *Stimulus) Waveform(_ context.Context, in WaveformRequest) (WaveformAnswer, error) {
	distance := cmp.Or(in.DistanceM, 1)
	c := &knobCheck{}
	c.above0("distance_m", distance, 1e5, "a distance above 0 and up to 100 000 m")
	k := in.Knobs
	k.fill()
	k.check(c)
	if err := c.err(); err != nil {
		return WaveformAnswer{}, err
	}
	water, _, warned, err := k.conductivities()
	if err != nil {
		return WaveformAnswer{}, err
	}
	w := conduction.Waveform{Kind: waves[k.Waveform.Kind], PeakA: k.CurrentUA * 1e-6}
	if w.Kind != conduction.WaveDirect {
		w.FrequencyHz = *k.Waveform.FrequencyHz
	}
	if d := k.Waveform.Duty; d != nil && (w.Kind == conduction.WaveSquare || w.Kind == conduction.WavePulses) {
		w.Duty = *d
	}
	s, err := w.Slowness(water, distance, steadyShare)
	if errors.Is(err, conduction.ErrWave) {
		return WaveformAnswer{}, &KnobsError{[]KnobFault{{"knobs/waveform", err.Error(), "a slower current"}}}
	}
	if err != nil {
		return WaveformAnswer{}, err
	}
	strength := w.Strength()
	out := WaveformAnswer{
		SkinDepthM: figure(s.SkinDepthM), LargestRelativeChange: figure(s.LargestChange), StaticWithin1PercentM: figure(s.StaticToM),
		PeakUA: figure(strength.PeakA * 1e6), RMSUA: figure(strength.RMSA * 1e6), MeanUA: figure(strength.MeanA * 1e6),
		Warnings: warned,
	}
	if w.Kind != conduction.WaveDirect {
		out.HighestHz = figure(s.HighestHz)
	}
	out.Says = saysOfWave(w, &s, distance)
	return out, nil
}

func saysOfWave(w conduction.Waveform, s *conduction.Slowness, distanceM float64) string {
	if w.Kind == conduction.WaveDirect {
		return "A direct current: the field is the steady one everywhere."
	}
	up := fmt.Sprintf("%.3g Hz", s.HighestHz)
	if w.Kind != conduction.WaveSine {
		up += " (with its harmonics up to there it has 99 % of its power)"
	}
	if s.LargestChange <= steadyShare {
		return fmt.Sprintf("Slow enough: at %s the skin depth is %.3g m, and up to %.3g m the field differs from the steady one by at most %.2g %%.", up, s.SkinDepthM, distanceM, s.LargestChange*100)
	}
	return fmt.Sprintf("Not slow any more: at %s the skin depth is %.3g m, and up to %.3g m the field differs from the steady one by up to %.2g %%; it is within 1 %% to %.2g m.", up, s.SkinDepthM, distanceM, s.LargestChange*100, s.StaticToM)
}
