package app

import (
	"context"
	"fmt"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// calibrationFacts are what potentials measured round a pair say; none where none
// were saved or they cannot be fitted.
func (s *Study) calibrationFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	text, err := s.savedSpec(ctx, raw, study.KindCalibration)
	if err != nil || text == "" {
		return err
	}
	spec, err := readCalibrationSpec(text)
	if err != nil {
		return nil // told on the page Stimulus
	}
	if len(spec.Readings) == 0 {
		return nil
	}
	s.dossiers.mu.Lock()
	held := s.dossiers.calibrated
	s.dossiers.mu.Unlock()
	if held.text != text {
		d, err := NewStimulus(s.options.Clock).calibrate(ctx, spec, s.options.Program)
		if err != nil {
			return ctx.Err()
		}
		held = calibrated{text, calibrationSentences(&spec, &d)}
		s.dossiers.mu.Lock()
		s.dossiers.calibrated = held
		s.dossiers.mu.Unlock()
	}
	copied := *held.facts // privacy writes into it
	copied.Sentences = append([]string{}, copied.Sentences...)
	f.Calibration = &copied
	return nil
}

// calibrated keeps what a text of a calibration came to: with plates it takes
// seconds.
type calibrated struct {
	text  string
	facts *dossier.CalibrationFacts
}

func calibrationSentences(spec *CalibrationSpec, d *CalibrationDocument) *dossier.CalibrationFacts {
	out := &dossier.CalibrationFacts{Readings: d.Fit.UsedReadings, Sentences: []string{}}
	for i := range spec.Knobs.Pairs {
		if p := &spec.Knobs.Pairs[i]; p.Share != 0 {
			out.Pair = p.Label
			break
		}
	}
	if d.Verdict.Sentence != "" {
		out.Sentences = append(out.Sentences, d.Verdict.Sentence)
	}
	for _, v := range []struct {
		what, unit string
		value      *CalibrationValue
	}{
		{"The measured potentials are the designed ones times", "", &d.Fit.Factor},
		{"Current by the potentials:", " µA", &d.Fit.CurrentUA},
		{"Conductivity of the water by the potentials:", " S/m", &d.Fit.WaterSPerM},
		{"Offset of the probe:", " µV", &d.Fit.OffsetUV},
	} {
		if v.value.Value == nil {
			continue
		}
		sentence := fmt.Sprintf("%s %.4g%s", v.what, *v.value.Value, v.unit)
		if v.value.CI95.NotEstimable == "" && finite(v.value.CI95.Low) != nil && finite(v.value.CI95.High) != nil {
			sentence += fmt.Sprintf(" (95 %% interval %.4g to %.4g%s)", v.value.CI95.Low, v.value.CI95.High, v.unit)
		}
		out.Sentences = append(out.Sentences, sentence+".")
	}
	if d.Fit.ResidualSDUV != nil {
		out.Sentences = append(out.Sentences, fmt.Sprintf("One reading scatters about the fit by %.3g µV.", *d.Fit.ResidualSDUV))
	}
	return out
}

// backgroundFacts are fields that the stimulus did not make, of the specification
// that was saved. Where the place is coarsened, the Earth's field is that of the
// coarse place: the exact one would tell it.
func (s *Study) backgroundFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	text, err := s.savedSpec(ctx, raw, study.KindBackground)
	if err != nil || text == "" {
		return err
	}
	spec, err := readBackground("spec", []byte(text))
	if err != nil {
		return nil // told on the page Background
	}
	if km := raw.heading.Spec.CoarsenKm; km > 0 && spec.Site.Latitude != nil && spec.Site.Longitude != nil {
		lat, lon, _ := coarsened(*spec.Site.Latitude, *spec.Site.Longitude, km)
		spec.Site.Latitude, spec.Site.Longitude = &lat, &lon
	}
	d := answerBackground(&spec, map[string]string{}, s.options.Program)
	out := &dossier.BackgroundFacts{Sources: []dossier.BackgroundSource{}, Methods: d.Notes}
	if m := d.Motional; m != nil {
		if m.Largest != nil {
			out.Sources = append(out.Sources, dossier.BackgroundSource{
				What: "water moving through the Earth's magnetic field", NVPerCm: m.Largest.MagnitudeNV,
				Where: fmt.Sprintf("everywhere, at most, at %.3g m/s", m.Largest.SpeedMPerS), Note: m.Bound,
			})
		}
		if m.Swim != nil {
			out.Sources = append(out.Sources, dossier.BackgroundSource{
				What: "the animal's own swimming through the Earth's magnetic field", NVPerCm: m.Swim.LargestNV,
				Where: fmt.Sprintf("at the animal, at most, at %.3g m/s", m.Swim.SpeedMPerS),
			})
		}
	}
	for i := range d.Sources {
		found := &d.Sources[i]
		one := dossier.BackgroundSource{What: found.Label, Note: found.Verdict, Where: "at the pairs"}
		for _, at := range found.Pairs {
			if at.FieldNV != nil && (one.NVPerCm == nil || *at.FieldNV > *one.NVPerCm) {
				one.NVPerCm, one.Where = at.FieldNV, "at pair "+at.Pair
				if at.DistanceM != nil {
					one.Where += fmt.Sprintf(", %.3g m away", *at.DistanceM)
				}
			}
		}
		out.Sources = append(out.Sources, one)
	}
	f.Background = out
	return nil
}
