package dossier

import "math"

func (w *writer) stimulus() {
	w.section("stimulus")
	d := w.d
	var text passage
	switch {
	case d.driven == 0 && d.sealed > 0:
		text.say("What was driven in the trials is sealed, and with it the currents.")
	case len(d.nominal) == 0:
		text.say("Nominal currents: {}.", missing)
	default:
		text.say("Nominal currents: {}, in {}.", listText(d.nominal)+thin+"µA", plural(d.driven, "driven trial", "driven trials"))
	}
	if d.driven > 0 {
		text.add(w.measuredCurrents())
		text.add(w.waveform())
	}
	w.paragraph(text)
	w.rig()
	w.bench()
	w.calibration()
}

func (w *writer) measuredCurrents() []Run {
	d := w.d
	if d.measured == 0 {
		return say("Currents measured before or after trials: {}.", missing)
	}
	var text passage
	text.say("The current was measured before or after {} of them: {}.", d.measured, d.measuredUA.text("µA"))
	if d.offNominal.n > 0 {
		far := math.Max(math.Abs(d.offNominal.low), math.Abs(d.offNominal.high))
		mean := 0.0
		for _, v := range d.offNominal.all {
			mean += v / float64(d.offNominal.n)
		}
		text.say("Measured currents were off the nominal ones by {} on average and by {} at most; where one was measured, fields are worked out from it.", signedPercent(mean), percentText(far))
	}
	return text
}

func signedPercent(share float64) string {
	v := rounded(share*100, 2)
	if share > 0 {
		v = "+" + v
	}
	return v + thin + "%"
}

func (w *writer) waveform() []Run {
	d := w.d
	var frequency extent
	for i := range d.s.Trials {
		if t := &d.s.Trials[i]; !t.Sealed && t.FrequencyHz.Known {
			frequency.add(t.FrequencyHz.Value)
		}
	}
	if len(d.waveforms) == 0 && frequency.n == 0 {
		return say("Waveform: {}.", missing)
	}
	out := say("Waveform: {}", orMissing(listText(d.waveforms)))
	if frequency.n > 0 {
		out = joinRuns(out, say(", {}", frequency.text("Hz"))...)
	}
	return joinRuns(out, Run{Text: "."})
}

func (w *writer) rig() {
	r := w.d.in.Facts.Rig
	if r == nil {
		w.say("Supply, resistors and cable: {}.", missing)
		return
	}
	w.say("Supply: {}. Cable: {}. Electrodes: {}.", orMissing(clause(r.Supply)), orMissing(clause(r.Cable)), orMissing(clause(r.Electrodes)))
	t := Table{
		Name: "rig-currents", Title: "Currents that the rig was worked out to deliver",
		Note: "95 % interval over the tolerances of its parts.",
		Columns: []Column{
			{Name: "position", Title: "Position of the switch"},
			{Name: "nominal_uA", Title: "Nominal", Unit: "µA", Numbers: true},
			{Name: "low_uA", Title: "From", Unit: "µA", Numbers: true},
			{Name: "high_uA", Title: "To", Unit: "µA", Numbers: true},
		},
	}
	for i := range r.Positions {
		p := &r.Positions[i]
		t.Rows = append(t.Rows, []Cell{wordCell(p.Label), roundedCell(&p.NominalUA), roundedCell(&p.LowUA), roundedCell(&p.HighUA)})
	}
	w.table(t)
	w.list(w.d.sentencesOf(r.Safety))
	w.list(w.d.sentencesOf(r.Methods))
}

func (w *writer) bench() {
	b := w.d.in.Facts.Bench
	if len(b) == 0 {
		w.say("Currents measured on the bench: {}.", missing)
		return
	}
	var driven, silent, water extent
	for i := range b {
		driven.addPointer(b[i].CurrentUA)
		silent.addPointer(b[i].SilentUA)
		water.addPointer(b[i].WaterSPM)
	}
	var text passage
	text.say("{} on the bench or on site.", plural(len(b), "check was made", "checks were made"))
	if driven.n > 0 {
		text.say("Through a driven pair flowed {} ({}).", driven.text("µA"), plural(driven.n, "reading", "readings"))
	}
	if silent.n > 0 {
		text.say("With no pair switched on {} flowed ({}).", silent.text("µA"), plural(silent.n, "reading", "readings"))
	}
	if water.n > 0 {
		text.say("The water conducted {} meanwhile.", water.text("S/m"))
	}
	w.paragraph(text)
}

func (w *writer) calibration() {
	c := w.d.in.Facts.Calibration
	if c == nil {
		w.say("Potentials measured round a pair, as a check of the field: {}.", missing)
		return
	}
	w.say("As a check of the field, {} measured round pair {}.", plural(c.Readings, "potential was", "potentials were"), orMissing(c.Pair))
	w.list(w.d.sentencesOf(c.Sentences))
}

func (w *writer) background() {
	w.section("background")
	b := w.d.in.Facts.Background
	if b == nil || len(b.Sources) == 0 {
		w.say("Fields that the stimulus did not make (moving water, metal, divers, cameras, leaks), and how far those stood off: {}.", missing)
		return
	}
	w.say("Fields that the stimulus did not make were worked out for the sources in the table.")
	t := Table{
		Name: "background", Title: "Fields that the stimulus did not make",
		Columns: []Column{
			{Name: "source", Title: "Source"},
			{Name: "field_nV_per_cm", Title: "Field", Unit: "nV/cm", Numbers: true},
			{Name: "where", Title: "Where"},
			{Name: "note", Title: "Note"},
		},
	}
	for i := range b.Sources {
		s := &b.Sources[i]
		field := roundedCell(s.NVPerCm)
		if field.Text == "" {
			field = Cell{Text: missing.Text, Style: Missing}
		}
		t.Rows = append(t.Rows, []Cell{wordCell(s.What), field, wordCell(s.Where), wordCell(s.Note)})
	}
	w.table(t)
	w.list(w.d.sentencesOf(b.Methods))
}
