package dossier

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"brinefield/core/study"
)

// Looks of the timeline: a kind of trial is told by what fills it and by its edge.
var (
	drivenLook  = Look{Line: Ink, WidthPt: 0.5, Fill: Light}
	silentLook  = Look{Line: Ink, WidthPt: 0.5, Hatch: true}
	sealedLook  = Look{Line: Ink, WidthPt: 0.6, Dash: 2, Fill: Paper}
	castLook    = Look{Line: Ink, WidthPt: 0.6, Mark: Triangle, Fill: Paper, SizePt: 4}
	openingLook = Look{Line: Ink, WidthPt: 0.6, Mark: Diamond, Fill: Ink, SizePt: 4.5}
	openingRule = Look{Line: Ink, WidthPt: 0.6, Dash: 3}
	passBars    = Look{Line: Ink, WidthPt: 0.3, Fill: Paper}
	turnBars    = Look{Line: Ink, WidthPt: 0.3, Fill: Ink}
)

// trialKind is how a trial stands on the timeline.
type trialKind struct {
	name string
	look Look
}

func kindOf(t *study.Trial) trialKind {
	switch {
	case t.Sealed:
		return trialKind{"sealed", sealedLook}
	case t.Silent():
		return trialKind{"silent", silentLook}
	}
	return trialKind{"driven", drivenLook}
}

// timelineTrial is one trial with its passes counted.
type timelineTrial struct {
	*study.Trial
	kind                  trialKind
	label                 string // of its active pairs
	passes, turns, unseen int    // unseen: not scored
}

// barsMost is how many trials have a bar each; beyond it, days have.
const barsMost = 120

// longestTrialDays is how many days of one trial are drawn at most.
const longestTrialDays = 40

// Active pairs are written into the boxes of a season of at most so many days and
// trials.
const namedDays, namedTrials = 10, 80

func timelineFigure(in *Input) Figure {
	s := newSketch(in, "timeline", "The season in time", 1)
	trials := timelineTrials(in)
	if len(trials) == 0 {
		return s.cannot("no trial with a time was recorded")
	}
	zone := zoneOf(in)
	first, last := dayOf(trials[0].Start, zone), 0
	for i := range trials {
		last = max(last, dayOf(trials[i].End, zone))
	}
	days := last - first + 1
	openings, later := openingsWithin(in, zone, first, last+max(3, days/4))
	for _, at := range openings {
		last = max(last, dayOf(at, zone))
	}
	casts := castTimes(in)
	casts = slices.DeleteFunc(casts, func(t time.Time) bool { d := dayOf(t, zone); return d < first || d > last })

	panels := []Panel{
		timePanel(trials, casts, openings, zone, first, last),
		trialPanel(trials, zone),
	}
	byDay := len(trials) > barsMost
	if byDay {
		panels[1] = dayPanel(trials, zone, first, last)
	}
	n := sample{trials: len(trials)}
	turns := 0
	for _, t := range trials {
		n.passes += t.passes
		turns += t.turns
	}
	byKind := map[string]int{}
	for _, t := range trials {
		byKind[t.kind.name]++
	}
	s.say("(a) ", s.count("trials", n.trials, "trial", "trials"), " by day and local time",
		" (", s.words("time zone", zone.String()), "): ")
	first3 := true
	for _, k := range []string{"driven", "silent", "sealed"} {
		if byKind[k] == 0 {
			continue
		}
		if !first3 {
			s.say(", ")
		}
		first3 = false
		s.say(s.count(k+" trials", byKind[k], k, k))
	}
	s.say(". Each box reaches from the start to the end of a trial")
	if days <= namedDays && len(trials) <= namedTrials && byKind["driven"] > 0 {
		s.say("; in it, the active pair")
	}
	s.say(".")
	if byKind["sealed"] > 0 {
		s.say(" Which pair was active in a sealed trial, or whether one was, is not known here.")
	}
	if len(casts) > 0 {
		s.say(" Triangles: ", s.count("water casts", len(casts), "water cast", "water casts"), ".")
	}
	if len(openings) > 0 {
		s.say(" Diamonds: ", s.count("openings drawn", len(openings), "opening", "openings"), " of active pairs.")
	}
	if later > 0 {
		s.say(" ", s.count("openings not drawn", later, "opening lies", "openings lie"), " beyond the days drawn.")
	}
	each, what := "in each trial, in order of time", "; dotted lines part the days"
	if byDay {
		each, what = "on each day", ""
	}
	s.say(" (b) Passes and turns (bites among them) ", each, ": ", s.count("passes", n.passes, "pass", "passes"), " and ",
		s.count("turns", turns, "turn", "turns"), " in all", what, ".")
	alt := fmt.Sprintf("Two panels. Trials as boxes over %s of the season by local time, and bars of passes and turns: %s, %s, %s in all.",
		s.count("days", days, "day", "days"), s.count("trials", n.trials, "trial", "trials"),
		s.count("passes", n.passes, "pass", "passes"), s.count("turns", turns, "turn", "turns"))
	return s.done(in, alt, panels, timelineData(trials, zone), eventData(casts, openings, zone))
}

func timelineTrials(in *Input) []timelineTrial {
	if in.Study == nil {
		return nil
	}
	at := map[string]int{}
	var out []timelineTrial
	for i := range in.Study.Trials {
		t := &in.Study.Trials[i]
		if t.Start.IsZero() || !t.End.After(t.Start) {
			continue
		}
		at[t.ID] = len(out)
		out = append(out, timelineTrial{Trial: t, kind: kindOf(t), label: activeLabel(in.Study, t)})
	}
	for i := range in.Passes {
		p := &in.Passes[i]
		k, ok := at[p.Trial]
		if !ok {
			continue
		}
		out[k].passes++
		switch {
		case p.Responded:
			out[k].turns++
		case p.Turned == study.NotScored:
			out[k].unseen++
		}
	}
	slices.SortStableFunc(out, func(a, b timelineTrial) int { return a.Start.Compare(b.Start) })
	return out
}

// activeLabel joins the labels of the pairs that a trial drove.
func activeLabel(st *study.Study, t *study.Trial) string {
	if t.Sealed {
		return ""
	}
	var names []string
	for _, p := range t.ActivePairs {
		if p >= 0 && p < len(st.Pairs) {
			names = append(names, st.Pairs[p].Label)
		}
	}
	return strings.Join(names, "+")
}

func zoneOf(in *Input) *time.Location {
	if in.Study != nil && in.Study.Site.Zone != nil {
		return in.Study.Site.Zone
	}
	return time.UTC
}

// dayOf is the number of the civil day since 1970-01-01: days that are 23 or 25
// hours long count as one.
func dayOf(t time.Time, zone *time.Location) int {
	y, m, d := t.In(zone).Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func hourOf(t time.Time, zone *time.Location) float64 {
	h, m, s := t.In(zone).Clock()
	return float64(h) + float64(m)/60 + float64(s)/3600
}

func castTimes(in *Input) []time.Time {
	var out []time.Time
	if in.Study == nil {
		return nil
	}
	for i := range in.Study.Cast {
		t := in.Study.Cast[i].Time
		if !t.IsZero() && (len(out) == 0 || !out[len(out)-1].Equal(t)) {
			out = append(out, t)
		}
	}
	return out
}

// openingsWithin are the times at which active pairs were opened, up to the last
// day, and how many lie outside.
func openingsWithin(in *Input, zone *time.Location, first, last int) (out []time.Time, outside int) {
	if in.Facts.Schedule == nil {
		return nil, 0
	}
	for _, o := range in.Facts.Schedule.Openings {
		t, err := time.Parse(time.RFC3339, o.When)
		if err != nil {
			continue
		}
		if d := dayOf(t, zone); d < first || d > last {
			outside++
			continue
		}
		out = append(out, t)
	}
	return out, outside
}

// timePanel draws days along x, in days since the first, and hours along y.
func timePanel(trials []timelineTrial, casts, openings []time.Time, zone *time.Location, first, last int) Panel {
	span := float64(last - first + 1)
	width := max(0.76, span*0.006)
	early, late := 24.0, 0.0
	see := func(h float64) { early, late = min(early, h), max(late, h) }
	var layers []Layer
	if len(openings) > 0 {
		rule := Rules{Look: openingRule}
		for _, t := range openings {
			rule.X = append(rule.X, float64(dayOf(t, zone)-first)+0.5)
			see(hourOf(t, zone))
		}
		layers = append(layers, rule)
	}
	present := map[string]bool{}
	for _, t := range trials {
		d0, d1 := dayOf(t.Start, zone), dayOf(t.End, zone)
		present[t.kind.name] = true
		for d := d0; d <= min(d1, d0+longestTrialDays); d++ {
			from, to := 0.0, 24.0
			if d == d0 {
				from = hourOf(t.Start, zone)
			}
			if d == d1 {
				to = hourOf(t.End, zone)
			}
			if to <= from {
				continue
			}
			see(from)
			see(to)
			x := float64(d-first) + 0.5
			layers = append(layers, Area{At: box(x-width/2, from, x+width/2, to), Look: t.kind.look})
		}
	}
	if len(trials) <= namedTrials && last-first < namedDays {
		layers = append(layers, pairNames(trials, zone, first)...)
	}
	mark := func(times []time.Time, look Look) {
		if len(times) == 0 {
			return
		}
		points := Points{Look: look}
		for _, t := range times {
			see(hourOf(t, zone))
			points.At = append(points.At, XY{float64(dayOf(t, zone)-first) + 0.5, hourOf(t, zone)})
		}
		layers = append(layers, points)
	}
	mark(casts, castLook)
	mark(openings, openingLook)
	low, high := hourSpan(early, late)
	p := Panel{
		Title:  "(a) Trials by day",
		X:      dayAxis(first, last),
		Y:      Axis{Label: "Local time", Min: low, Max: high, Ticks: hourTicks(low, high)},
		Layers: layers, LegendAt: "below", Height: 0.42,
	}
	for _, k := range []trialKind{{"driven", drivenLook}, {"silent", silentLook}, {"sealed", sealedLook}} {
		if present[k.name] {
			p.Legend = append(p.Legend, LegendEntry{Text: map[string]string{
				"driven": "a pair driven", "silent": "silent: none driven", "sealed": "sealed",
			}[k.name], Look: k.look, Sample: "area"})
		}
	}
	if len(casts) > 0 {
		p.Legend = append(p.Legend, LegendEntry{Text: "water cast", Look: castLook, Sample: "mark"})
	}
	if len(openings) > 0 {
		p.Legend = append(p.Legend, LegendEntry{Text: "active pairs opened", Look: openingLook, Sample: "mark"})
	}
	return p
}

// pairNames writes the active pair into each box of a short season.
func pairNames(trials []timelineTrial, zone *time.Location, first int) []Layer {
	var out []Layer
	for _, t := range trials {
		d := dayOf(t.Start, zone)
		if d != dayOf(t.End, zone) || t.label == "" || t.End.Sub(t.Start) < 20*time.Minute {
			continue
		}
		out = append(out, Label{
			At:   XY{float64(d-first) + 0.5, (hourOf(t.Start, zone) + hourOf(t.End, zone)) / 2},
			Text: t.label, Align: "middle", SizePt: 6,
		})
	}
	return out
}

func box(x0, y0, x1, y1 float64) []XY { return []XY{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

// hourSpan are the ends of the axis of local time: whole hours, six at least.
func hourSpan(early, late float64) (low, high float64) {
	low, high = float64(int(early)), float64(int(late+0.999))
	for high-low < 6 {
		if low > 0 {
			low--
		}
		if high < 24 && high-low < 6 {
			high++
		}
	}
	return low, min(high, 24)
}

func hourTicks(low, high float64) []Tick {
	step := 1
	for _, s := range []int{2, 3, 6} {
		if (high-low)/float64(step) > 7 {
			step = s
		}
	}
	var out []Tick
	for h := int(low); h <= int(high); h++ {
		t := Tick{At: float64(h)}
		if h%step == 0 {
			t.Label = fmt.Sprintf("%02d:00", h)
		}
		out = append(out, t)
	}
	return out
}

// dayAxis names at most seven days, in the middle of theirs.
func dayAxis(first, last int) Axis {
	span := last - first + 1
	at := func(d int) time.Time { return time.Unix(int64(d)*86400, 0).UTC() }
	label := "Date in " + at(first).Format("2006")
	if at(first).Year() != at(last).Year() {
		label = "Date, " + at(first).Format("2006") + " to " + at(last).Format("2006")
	}
	step := 1
	for _, s := range []int{2, 3, 5, 7, 14, 28, 56, 91, 182, 365} {
		if float64(span)/float64(step) > 7 {
			step = s
		}
	}
	for span/step > 8 {
		step *= 2
	}
	a := Axis{Label: label, Min: 0, Max: float64(span)}
	for d := 0; d < span; d += step {
		a.Ticks = append(a.Ticks, Tick{At: float64(d) + 0.5, Label: at(first + d).Format("2 Jan")})
	}
	return a
}

// trialPanel draws bars of passes and turns, one trial after the other.
func trialPanel(trials []timelineTrial, zone *time.Location) Panel {
	passes := Bars{Width: 0.8, Look: passBars}
	turns := Bars{Width: 0.8, Look: turnBars}
	var days []float64
	most := 0.0
	x := Axis{Label: "Trial, in order of time", Min: 0.4, Max: float64(len(trials)) + 0.6}
	every := (len(trials) + 6) / 7
	for i, t := range trials {
		at := float64(i + 1)
		passes.X, turns.X = append(passes.X, at), append(turns.X, at)
		passes.High = append(passes.High, float64(t.passes))
		turns.High = append(turns.High, float64(t.turns))
		most = max(most, float64(t.passes))
		if i > 0 && dayOf(trials[i-1].Start, zone) != dayOf(t.Start, zone) {
			days = append(days, at-0.5)
		}
		if i%every == 0 {
			x.Ticks = append(x.Ticks, Tick{At: at, Label: shortened(t.ID, 8)})
		}
	}
	p := Panel{
		Title: "(b) Passes and turns in each trial",
		X:     x, Y: Axis{Label: "Passes", Min: 0, Max: max(linearSpan(most), 5)},
		Layers: []Layer{passes, turns}, Legend: barsLegend(),
		LegendAt: "below", Height: 0.3,
	}
	if len(days) > 0 && len(days) <= 60 {
		p.Layers = append([]Layer{Rules{X: days, Look: Look{Line: Faint, WidthPt: 0.4, Dash: 2}}}, p.Layers...)
	}
	return p
}

// dayPanel draws bars of passes and turns for each day of a season of many trials.
func dayPanel(trials []timelineTrial, zone *time.Location, first, last int) Panel {
	width := max(0.76, float64(last-first+1)*0.004)
	passes, turns := Bars{Width: width, Look: passBars}, Bars{Width: width, Look: turnBars}
	most := 0.0
	for _, t := range trials { // in order of time
		x := float64(dayOf(t.Start, zone)-first) + 0.5
		n := len(passes.X)
		if n == 0 || passes.X[n-1] != x {
			passes.X, turns.X = append(passes.X, x), append(turns.X, x)
			passes.High, turns.High = append(passes.High, 0), append(turns.High, 0)
			n++
		}
		passes.High[n-1] += float64(t.passes)
		turns.High[n-1] += float64(t.turns)
		most = max(most, passes.High[n-1])
	}
	return Panel{
		Title: "(b) Passes and turns on each day",
		X:     dayAxis(first, last), Y: Axis{Label: "Passes", Min: 0, Max: max(linearSpan(most), 5)},
		Layers: []Layer{passes, turns}, Legend: barsLegend(),
		LegendAt: "below", Height: 0.3,
	}
}

func barsLegend() []LegendEntry {
	return []LegendEntry{
		{Text: "passes", Look: passBars, Sample: "area"},
		{Text: "of these, with a turn or a bite", Look: turnBars, Sample: "area"},
	}
}

// shortened is at most so many letters of a name.
func shortened(name string, most int) string {
	r := []rune(name)
	if len(r) <= most {
		return name
	}
	return string(r[:most-1]) + "…"
}

func timelineData(trials []timelineTrial, zone *time.Location) Table {
	t := Table{Title: "Trials in order of time", Columns: []Column{
		textColumn("trial", "Trial", "The trial."),
		textColumn("start", "Start", "Start of the trial, ISO 8601 with the offset of the site."),
		textColumn("end", "End", "End of the trial."),
		textColumn("kind", "Kind", "driven, silent or sealed."),
		textColumn("active_pair", "Active pair", "Pairs that were driven; blank where silent or sealed."),
		numberColumn("passes", "Passes", "", "Passes recorded."),
		numberColumn("turns", "Turns", "", "Passes with a turn or a bite."),
		numberColumn("not_scored", "Not scored", "", "Passes not scored for a turn."),
	}}
	for _, r := range trials {
		t.Rows = append(t.Rows, []Cell{
			{Text: r.ID},
			{Text: r.Start.In(zone).Format(time.RFC3339)},
			{Text: r.End.In(zone).Format(time.RFC3339)},
			{Text: r.kind.name},
			{Text: r.label},
			whole(r.passes), whole(r.turns), whole(r.unseen),
		})
	}
	return t
}

func eventData(casts, openings []time.Time, zone *time.Location) Table {
	t := Table{Title: "Water casts and openings", Columns: []Column{
		textColumn("time", "Time", "ISO 8601 with the offset of the site."),
		textColumn("what", "What", "water cast, or opening of active pairs."),
	}}
	for _, c := range casts {
		t.Rows = append(t.Rows, []Cell{{Text: c.In(zone).Format(time.RFC3339)}, {Text: "water cast"}})
	}
	for _, o := range openings {
		t.Rows = append(t.Rows, []Cell{{Text: o.In(zone).Format(time.RFC3339)}, {Text: "opening of active pairs"}})
	}
	return t
}
