package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/study"
)

// The words of a calibration.
const (
	offsetFit  = "fit"
	offsetNone = "none"
)

// What a calibration may hold at most.
const (
	mostCalibrationReadings = 500
	mostReadingUV           = 1e7
	leastSDUV               = 1e-6
	leastPriorSD            = 1e-9 // smaller ones are slips
	longestReadingLabel     = 100
)

// check says everything that is wrong with a specification taken by itself;
// what takes the whole scene to see the engine says.
func (s *CalibrationSpec) check(c *knobCheck) {
	s.Knobs.fill()
	s.Knobs.check(c)
	if s.Knobs.CurrentUA == 0 {
		c.fault("knobs/current_uA", "found 0: without a current there is nothing to compare with", "the current as designed")
	}
	c.oneOf("offset", s.Offset, offsetFit, offsetNone)
	s.Priors.check(c)
	if n := len(s.Readings); n > mostCalibrationReadings {
		c.fault("readings", fmt.Sprintf("found %d", n), fmt.Sprintf("up to %d readings", mostCalibrationReadings))
		return
	}
	for i := range s.Readings {
		s.Readings[i].check(c, fmt.Sprintf("readings/%d", i), s.Knobs.Enclosure != nil)
	}
	s.checkStated(c)
}

func (p *CalibrationPriors) check(c *knobCheck) {
	if v := p.CurrentUASD; v != nil {
		c.within("priors/current_uA_sd", *v, leastPriorSD, mostCurrentUA, "a standard deviation above 0 µA, or null where the current was not measured")
	}
	if v := p.WaterSPerM; v != nil {
		c.within("priors/water_S_per_m_sd", *v, leastPriorSD, 100, "a standard deviation above 0 S/m, or null where the conductivity was not measured")
	}
	if v := p.PositionSDM; v != nil {
		c.within("priors/position_sd_m", *v, 0, 10, "a standard deviation between 0 and 10 m")
	}
}

func (r *CalibrationReading) check(c *knobCheck, place string, inTank bool) {
	c.vector(place+"/plus_m", r.PlusM, 3, "[x, y, z] of the plus tip in metres")
	if len([]rune(r.Label)) > longestReadingLabel {
		c.fault(place+"/label", "the label is too long", fmt.Sprintf("up to %d characters", longestReadingLabel))
	}
	switch {
	case r.MinusM != nil:
		c.vector(place+"/minus_m", r.MinusM, 3, "[x, y, z] of the minus tip in metres, or null for a reference far away")
		if len(r.PlusM) == 3 && len(r.MinusM) == 3 && [3]float64(r.PlusM) == [3]float64(r.MinusM) {
			c.fault(place+"/minus_m", "both tips are at one place", "two places")
		}
	case inTank:
		c.fault(place+"/minus_m", "found null: in a tank there is no far away, the potential does not go to 0 anywhere", "the place of the other tip")
	}
	if r.UV != nil {
		c.within(place+"/uV", *r.UV, -mostReadingUV, mostReadingUV, fmt.Sprintf("between -%g and %g µV, or null where it was not measured yet", mostReadingUV, mostReadingUV))
	}
	if r.SDUV != nil {
		c.within(place+"/sd_uV", *r.SDUV, leastSDUV, mostReadingUV, "a standard deviation of a picovolt (1e-6 µV) or more, or null")
	}
}

// checkStated wants standard deviations of all measured readings or of none:
// the weight of one without cannot be told beside one with.
func (s *CalibrationSpec) checkStated(c *knobCheck) {
	stated, missing := 0, -1
	for i := range s.Readings {
		switch r := &s.Readings[i]; {
		case r.UV == nil:
		case r.SDUV != nil:
			stated++
		case missing < 0:
			missing = i
		}
	}
	if stated > 0 && missing >= 0 {
		c.fault(fmt.Sprintf("readings/%d/sd_uV", missing), fmt.Sprintf("missing, while %d of the others state one", stated), "standard deviations of all measured readings, or of none")
	}
}

// Calibration is what the calibration begins with: the specification as saved,
// or one made of the study's knobs without readings.
func (s *Study) Calibration(ctx context.Context) (CalibrationStart, error) {
	current, err := s.current(ctx)
	if err != nil {
		return CalibrationStart{}, err
	}
	fields, err := s.fields(ctx, current, recordName{kind: study.KindCalibration})
	if err != nil {
		return CalibrationStart{}, err
	}
	text := fields["spec"]
	var unreadable string
	if text != "" {
		spec, err := readCalibrationSpec(text)
		if err == nil {
			return CalibrationStart{Spec: spec, Saved: true, SpecText: text, From: []string{"As saved in the study."}, Warnings: []string{}}, nil
		}
		unreadable = err.Error()
	}
	knobs, err := s.Stimulus(ctx)
	if err != nil {
		return CalibrationStart{}, err
	}
	start := calibrationStart(&knobs)
	start.SpecText = text
	if unreadable != "" {
		start.Warnings = append(start.Warnings, "What was saved cannot be read, and a new one stands in; it stays in the study until it is written over. "+unreadable)
	}
	return start, nil
}

// Calibration is what the calibration begins with.
func (l *LooseSeason) Calibration(ctx context.Context) (CalibrationStart, error) {
	knobs, err := l.Stimulus(ctx)
	if err != nil {
		return CalibrationStart{}, err
	}
	return calibrationStart(&knobs), nil
}

func calibrationStart(knobs *StimulusStart) CalibrationStart {
	return CalibrationStart{
		Spec:     CalibrationSpec{Knobs: knobs.Knobs, Readings: []CalibrationReading{}, Offset: offsetFit},
		From:     append(append([]string{}, knobs.KnobsFrom...), "Readings: none yet. Offset: fitted, as probes have one. Current and water: taken as not measured, until a standard deviation says otherwise."),
		Warnings: append([]string{}, knobs.Warnings...),
	}
}

// readCalibrationSpec reads and checks the text of a specification.
func readCalibrationSpec(text string) (CalibrationSpec, error) {
	var spec CalibrationSpec
	if err := decodeStrict("spec", []byte(text), &spec); err != nil {
		var faults *FaultsError
		if errors.As(err, &faults) && len(faults.Faults) > 0 {
			f := faults.Faults[0]
			return spec, &KnobsError{[]KnobFault{{f.Column, f.Wrong, strings.ReplaceAll(f.Expected, "the keys of the field command", "the keys of docs/formats/calibration-spec.schema.json")}}}
		}
		return spec, err
	}
	c := &knobCheck{}
	spec.check(c)
	if spec.Readings == nil {
		spec.Readings = []CalibrationReading{}
	}
	return spec, c.err()
}

// checkCalibrationSpec refuses a specification that could not be worked out.
func (e *edit) checkCalibrationSpec(r *study.Record) {
	text := r.Fields["spec"]
	if text == "" {
		return
	}
	_, err := readCalibrationSpec(text)
	var wrong *KnobsError
	switch {
	case errors.As(err, &wrong):
		for _, f := range wrong.Faults {
			e.fault(nameOf(*r), "spec", strings.TrimPrefix(f.Place+": "+f.Wrong, ": "), "expected "+f.Expected)
		}
	case err != nil:
		e.fault(nameOf(*r), "spec", err.Error(), "expected the text of a calibration")
	}
}

// text is the specification as JSON, whose fingerprint stands in the document.
func (s *CalibrationSpec) text() ([]byte, error) { return json.Marshal(s) }
