package app

import (
	"math"
	"slices"
	"strconv"
)

// headline is one number that a reader quotes.
type headline struct {
	what, unit string
	value      *float64
	why        string
}

const perCm = "nV/cm"

// headlines are the numbers of findings in the order of the report. What names each
// of them is the same in all findings.
func headlines(f *Findings) []headline {
	if f == nil {
		return nil
	}
	var out []headline
	add := func(what, unit string, value *float64, why string) {
		if value != nil && (math.IsNaN(*value) || math.IsInf(*value, 0)) {
			value = nil
		}
		out = append(out, headline{what, unit, value, why})
	}
	whole := func(n int) *float64 { v := float64(n); return &v }
	ends := func(what, unit string, s *Span, why string) {
		if s == nil {
			s = &Span{NotEstimable: why}
		}
		low, high := s.Low, s.High
		if s.NotEstimable != "" {
			add(what+", lower end of its 95 % interval", unit, nil, s.NotEstimable)
			add(what+", upper end of its 95 % interval", unit, nil, s.NotEstimable)
			return
		}
		add(what+", lower end of its 95 % interval", unit, &low, "")
		add(what+", upper end of its 95 % interval", unit, &high, "")
	}
	for i := range f.Detection {
		d := &f.Detection[i]
		what := "Detection median of " + d.Species
		add(what, perCm, d.Median, d.NotEstimable)
		ends(what, perCm, d.CI95, d.NotEstimable)
		add("Passes in the detection model of "+d.Species, "", whole(d.Passes), "")
		add("Recognised animals in the detection model of "+d.Species, "", whole(d.Individuals), "")
	}
	for i := range f.Thresholds {
		t := &f.Thresholds[i]
		add("Median of the step curve of "+t.Species, perCm, t.NPMLE.Median, t.NPMLE.NotEstimable)
		add("Median of the lognormal threshold of "+t.Species, perCm, t.Lognormal.Median, t.Lognormal.NotEstimable)
		add("Median of the lognormal threshold with individuals of "+t.Species, perCm, t.LognormalIndividual.Median, t.LognormalIndividual.NotEstimable)
	}
	for i := range f.Descriptive {
		d := &f.Descriptive[i]
		add("Turns with an onset at the active pair, "+d.Species, "", whole(d.N), "")
		add("Median field at the onset of turns, "+d.Species, perCm, d.Median, "")
		add("Smallest field at the onset of turns, "+d.Species, perCm, d.Smallest, "")
	}
	for i := range f.Preference {
		p := &f.Preference[i]
		of := p.Species
		if of == "all" {
			of = "all species"
		}
		add("Turns at the active pair, "+of, "", whole(p.TurnsActive), "")
		add("Passes at the active pair, "+of, "", whole(p.PassesActive), "")
		add("Turns at control pairs, "+of, "", whole(p.TurnsControl), "")
		add("Passes at control pairs, "+of, "", whole(p.PassesControl), "")
		add("p of the randomisation test, "+of, "", p.RandomisationP, p.RandomisationWhy)
		add("Exact p, "+of, "", p.ExactP, "")
		add("Log odds ratio of a turn, "+of, "", p.Mixed.LogOddsRatio, p.Mixed.NotEstimable)
	}
	return out
}

// changes joins the steps by what each number is.
func changes(w worked) []DossierChange {
	out := []DossierChange{}
	at := map[string]int{}
	row := func(h headline) *DossierChange {
		i, there := at[h.what]
		if !there {
			i = len(out)
			at[h.what] = i
			out = append(out, DossierChange{What: h.what, Unit: h.unit, By: []string{}})
		}
		return &out[i]
	}
	for _, step := range []struct {
		of  *Findings
		put func(c *DossierChange, h headline)
	}{
		{w.new, func(c *DossierChange, h headline) { c.New, c.NewWhy = h.value, h.why }},
		{w.data, func(c *DossierChange, h headline) { c.Data = h.value }},
		{w.model, func(c *DossierChange, h headline) { c.Model = h.value }},
		{w.program, func(c *DossierChange, h headline) { c.Program = h.value }},
		{w.old, func(c *DossierChange, h headline) { c.Old, c.OldWhy = h.value, h.why }},
	} {
		for _, h := range headlines(step.of) {
			step.put(row(h), h)
		}
	}
	for i := range out {
		out[i].By = w.movers(&out[i])
	}
	return out
}

// move is how far one cause moved a number.
type move struct {
	cause string
	step  float64
}

// movers are the causes that moved a number, the largest step first. Where a step
// could not be worked out, the causes of both its sides are named together.
func (w *worked) movers(c *DossierChange) []string {
	program := stepOf(c.Old, c.Program, w.old, w.program) + stepOf(c.Data, c.New, w.data, w.new)
	moves := []move{{"program", program}}
	switch {
	case w.model == nil && w.program != nil && w.data != nil:
		joint := stepOf(c.Program, c.Data, w.program, w.data)
		moves = append(moves, move{"data", joint}, move{"model", joint})
	case w.program == nil || w.data == nil:
		joint := stepOf(c.Old, c.New, w.old, w.new)
		moves = []move{{"data", joint}, {"model", joint}, {"program", joint}}
	default:
		moves = append(moves, move{"model", stepOf(c.Program, c.Model, w.program, w.model)}, move{"data", stepOf(c.Model, c.Data, w.model, w.data)})
	}
	slices.SortStableFunc(moves, func(a, b move) int {
		switch {
		case a.step > b.step:
			return -1
		case a.step < b.step:
			return 1
		}
		return 0
	})
	by := []string{}
	for _, m := range moves {
		if m.step > 0 {
			by = append(by, m.cause)
		}
	}
	return by
}

// stepOf is how far apart two values are; a number that comes or goes is further
// than any. Steps below the limit of the program's own accuracy are none.
func stepOf(a, b *float64, before, after *Findings) float64 {
	switch {
	case before == nil || after == nil || a == nil && b == nil:
		return 0
	case a == nil || b == nil:
		return math.Inf(1)
	}
	step := math.Abs(*b - *a)
	if step <= againLimits[1].Relative*max(math.Abs(*a), leastScale) {
		return 0
	}
	return step
}

// passValues are the values of a pass that are compared.
var passValues = []struct {
	what string
	of   func(p *PassExposure) string
}{
	{"role", func(p *PassExposure) string { return sayText(p.Role, "sealed") }},
	{"used", func(p *PassExposure) string { return sayUsed(p) }},
	{"pair", func(p *PassExposure) string { return p.Pair }},
	{"field_low_nV_per_cm", func(p *PassExposure) string { return sayField(p.FieldLow) }},
	{"field_high_nV_per_cm", func(p *PassExposure) string { return sayField(p.FieldHigh) }},
}

func sayText(s *string, absent string) string {
	if s == nil {
		return absent
	}
	return *s
}

func sayUsed(p *PassExposure) string {
	switch {
	case p.Used == nil:
		return "unknown: the trial is sealed"
	case *p.Used:
		return "used"
	case p.NotUsedBecause != "":
		return "left out: " + p.NotUsedBecause
	}
	return "left out"
}

func sayField(v *float64) string {
	if v == nil {
		return "none"
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}

// passChanges lists the passes of both packages whose field or role is another, with
// the step at which it changed most.
func passChanges(w worked) (out []PassChange, more int) {
	out = []PassChange{}
	first, last := w.old, w.new
	if first == nil {
		first = w.program
	}
	if last == nil {
		last = w.data
	}
	if first == nil || last == nil {
		return out, 0
	}
	steps := []struct {
		cause string
		after map[string]*PassExposure
	}{{"program", passesOf(w.program)}, {"model", passesOf(w.model)}, {"data", passesOf(w.data)}, {"program", passesOf(w.new)}}
	before := passesOf(first)
	for i := range last.Passes {
		now := &last.Passes[i]
		was := before[now.Pass]
		if was == nil {
			continue
		}
		for _, v := range passValues {
			a, b := v.of(was), v.of(now)
			if !differentEnough(a, b) {
				continue
			}
			if len(out) == mostNumbers {
				more++
				continue
			}
			cause, at := "", a
			var largest float64
			for _, s := range steps {
				p := s.after[now.Pass]
				if p == nil {
					continue
				}
				next := v.of(p)
				if d := distanceOf(at, next); differentEnough(at, next) && d > largest {
					cause, largest = s.cause, d
				}
				at = next
			}
			if w.model == nil && cause == "data" {
				cause = "data or model"
			}
			out = append(out, PassChange{Pass: now.Pass, What: v.what, Was: a, Now: b, Cause: cause})
		}
	}
	return out, more
}

func passesOf(f *Findings) map[string]*PassExposure {
	if f == nil {
		return nil
	}
	out := make(map[string]*PassExposure, len(f.Passes))
	for i := range f.Passes {
		out[f.Passes[i].Pass] = &f.Passes[i]
	}
	return out
}

// differentEnough reports whether two values are told as another: texts that
// differ, numbers beyond the accuracy of fields.
func differentEnough(a, b string) bool {
	if a == b {
		return false
	}
	x, errX := strconv.ParseFloat(a, 64)
	y, errY := strconv.ParseFloat(b, 64)
	return errX != nil || errY != nil || math.Abs(x-y) > againLimits[0].Relative*max(math.Abs(x), leastScale)
}

// distanceOf is how far a value moved; what is no number is further than any.
func distanceOf(a, b string) float64 {
	x, errX := strconv.ParseFloat(a, 64)
	y, errY := strconv.ParseFloat(b, 64)
	if errX != nil || errY != nil {
		return math.MaxFloat64
	}
	return math.Abs(x - y)
}
