package dossier

import (
	"math"
	"slices"
	"strconv"
)

var (
	activeLook    = Look{Line: Ink, WidthPt: 0.9, Mark: Circle, Fill: Ink, SizePt: 4.5}
	controlLook   = Look{Line: Ink, WidthPt: 0.9, Mark: Square, Fill: Paper, SizePt: 4}
	mixedLook     = Look{Line: Ink, WidthPt: 0.9, Mark: Diamond, Fill: Ink, SizePt: 5}
	penalisedLook = Look{Line: Ink, WidthPt: 0.9, Dash: 1, Mark: Triangle, Fill: Paper, SizePt: 5}
	zeroLook      = Look{Line: Strong, WidthPt: 0.6, Dash: 2}
)

// oddsRow is the log odds ratio of one row of the right panel.
type oddsRow struct {
	value, low, high float64
	penalised        bool
	why              string
}

func preferenceFigure(in *Input) Figure {
	s := newSketch(in, "preference", "Turns at active and control pairs", 2)
	rows := preferenceRows(in)
	if len(rows) == 0 {
		if why := noPasses(in); why != "" {
			return s.cannot(why)
		}
		return s.cannot("there is no pass at an active or a control pair")
	}
	shares := Panel{
		Title: "(a) Share of passes with a turn",
		X:     Axis{Label: "Share of passes", Min: 0, Max: 1, Ticks: percentTicks()},
		Y:     Axis{Min: 0, Max: float64(len(rows)), Hidden: true},
		Legend: []LegendEntry{
			{Text: "active pair", Look: activeLook, Sample: "mark"},
			{Text: "control pairs", Look: controlLook, Sample: "mark"},
		},
		LegendAt: "below", Height: rowsHeight(len(rows)),
	}
	odds := Panel{
		Title:    "(b) Log odds ratio of the mixed model",
		Y:        Axis{Min: 0, Max: float64(len(rows)), Hidden: true},
		LegendAt: "below", Height: rowsHeight(len(rows)),
	}
	data := preferenceData()
	active, control := Points{Look: activeLook}, Points{Look: controlLook}
	mixed, penalised := Points{Look: mixedLook}, Points{Look: penalisedLook}
	s.say("(a) Share of passes with a turn (bites count as turns), with Wilson's 95\u00a0% interval over passes: not the test, since the passes of one animal are not independent. ",
		"(b) Log odds ratio of a turn at the active against the control pair: logistic model with a random animal, with its 95\u00a0% Wald interval")
	if slices.ContainsFunc(rows, func(r *Preference) bool { return oddsOf(r).penalised }) {
		s.say("; triangles: penalised estimate with its own 95\u00a0% interval, where the mixed model cannot be estimated")
	}
	s.say(". Exact p: Fisher, two-sided, as if passes were independent; randomisation p: active pairs drawn again by the rule of the schedule.")
	alt := ""
	low, high := -0.5, 0.5
	for i, r := range rows {
		y := float64(len(rows)-i) - 0.5
		name := Label{At: XY{0.01, y + 0.33}, Text: speciesTitle(r.Species), Italic: r.Species != "all", Align: "left", SizePt: 7.5}
		if i > 0 {
			rule := Rules{Y: []float64{y + 0.5}, Look: Look{Line: Faint, WidthPt: 0.4}}
			shares.Layers, odds.Layers = append(shares.Layers, rule), append(odds.Layers, rule)
		}
		shares.Layers = append(shares.Layers, name)
		shares.Layers = append(shares.Layers, addShare(&active, r.TurnsActive, r.PassesActive, y+0.04)...)
		shares.Layers = append(shares.Layers, addShare(&control, r.TurnsControl, r.PassesControl, y-0.26)...)
		o := oddsOf(r)
		if o.why == "" {
			points := &mixed
			if o.penalised {
				points = &penalised
			}
			points.At = append(points.At, XY{o.value, y - 0.1})
			points.Low, points.High = append(points.Low, o.low), append(points.High, o.high)
			for _, v := range []float64{o.value, o.low, o.high} {
				if !math.IsInf(v, 0) {
					low, high = math.Min(low, v), math.Max(high, v)
				}
			}
		}
		alt += sayPreference(s, r, o)
		data.Rows = append(data.Rows, preferenceCells(r, o))
	}
	step := niceStep((high - low) / 6)
	odds.X = Axis{Label: "Log odds ratio (0: no preference)", Min: step * math.Floor(low*1.05/step), Max: step * math.Ceil(high*1.05/step)}
	odds.Layers = append([]Layer{Rules{X: []float64{0}, Look: zeroLook}}, odds.Layers...)
	for i, r := range rows {
		y := float64(len(rows)-i) - 0.5
		width := odds.X.Max - odds.X.Min
		odds.Layers = append(odds.Layers, Label{At: XY{odds.X.Min + 0.01*width, y + 0.33}, Text: speciesTitle(r.Species), Italic: r.Species != "all", Align: "left", SizePt: 7.5})
		o := oddsOf(r)
		text := "not estimable"
		if o.why == "" {
			text = oddsText(o)
		}
		odds.Layers = append(odds.Layers, Label{At: XY{odds.X.Max - 0.01*width, y + 0.33}, Text: text, Align: "right", SizePt: 7})
	}
	shares.Layers = append(shares.Layers, pointsOf(active, control)...)
	odds.Layers = append(odds.Layers, pointsOf(mixed, penalised)...)
	if len(mixed.At) > 0 {
		odds.Legend = append(odds.Legend, LegendEntry{Text: "mixed model", Look: mixedLook, Sample: "mark"})
	}
	if len(penalised.At) > 0 {
		odds.Legend = append(odds.Legend, LegendEntry{Text: "penalised estimate", Look: penalisedLook, Sample: "mark"})
	}
	return s.done(in, alt, []Panel{shares, odds}, data)
}

func preferenceRows(in *Input) []*Preference {
	var out []*Preference
	species := 0
	for i := range in.Findings.Preference {
		r := &in.Findings.Preference[i]
		if r.PassesActive+r.PassesControl > 0 {
			out = append(out, r)
			if r.Species != "all" {
				species++
			}
		}
	}
	if species == 1 && len(out) == 2 {
		return out[1:] // all is that species alone
	}
	return out[:min(len(out), 13)]
}

func rowsHeight(rows int) float64 { return math.Min(0.14+0.18*float64(rows), 2.2) }

func percentTicks() []Tick {
	out := make([]Tick, 5)
	for i := range out {
		out[i] = Tick{At: float64(i) / 4, Label: strconv.Itoa(25*i) + "\u00a0%"}
	}
	return out
}

func pointsOf(groups ...Points) []Layer {
	var out []Layer
	for _, g := range groups {
		if len(g.At) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// addShare adds a share with its interval, and gives its label: turns of passes.
func addShare(to *Points, turns, passes int, y float64) []Layer {
	text := printedWhole(turns) + "/" + printedWhole(passes)
	if passes <= 0 || turns < 0 || turns > passes {
		return []Layer{Label{At: XY{0.01, y}, Text: "no pass", Align: "left", SizePt: 6.5}}
	}
	low, high := wilson(turns, passes)
	to.At = append(to.At, XY{float64(turns) / float64(passes), y})
	to.Low, to.High = append(to.Low, low), append(to.High, high)
	if high > 0.82 {
		return []Layer{Label{At: XY{low - 0.02, y}, Text: text, Align: "right", SizePt: 6.5}}
	}
	return []Layer{Label{At: XY{high + 0.02, y}, Text: text, Align: "left", SizePt: 6.5}}
}

// oddsOf is the mixed model's log odds ratio with its Wald interval, else the
// penalised one with its own.
func oddsOf(r *Preference) oddsRow {
	v, ok := finite(r.LogOddsRatio)
	se, okSE := finite(r.SE)
	if ok && okSE && se >= 0 {
		const z = 1.959963984540054
		return oddsRow{value: v, low: v - z*se, high: v + z*se}
	}
	if v, ok := finite(r.PenalisedLogOddsRatio); ok && r.PenalisedCI95.Why == "" {
		low, okLow := finite(r.PenalisedCI95.Low)
		high, okHigh := finite(r.PenalisedCI95.High)
		if !okLow || low > v {
			low = math.Inf(-1)
		}
		if !okHigh || high < v {
			high = math.Inf(1)
		}
		return oddsRow{value: v, low: low, high: high, penalised: true}
	}
	if r.MixedWhy != "" {
		return oddsRow{why: r.MixedWhy}
	}
	return oddsRow{why: "the mixed model gave no number"}
}

// sayPreference writes one row into the caption, and gives its words for who cannot
// see the figure.
func sayPreference(s *sketch, r *Preference, o oddsRow) string {
	of := r.Species
	s.say(" ")
	if of == "all" {
		s.say("All species: ")
	} else {
		s.say(speciesRun(of), ": ")
	}
	text := s.count("turns at the active pair, "+of, r.TurnsActive, "turn", "turns") + " in " + s.count("passes at the active pair, "+of, r.PassesActive, "pass", "passes") +
		" at the active pair, " + s.count("turns at control pairs, "+of, r.TurnsControl, "turn", "turns") + " in " + s.count("passes at control pairs, "+of, r.PassesControl, "pass", "passes") + " at control pairs"
	s.say(text)
	if p, ok := finite(r.ExactP); ok {
		s.keep("exact p, "+of, measured(p, 2), "")
		s.say(", exact ", printedP(p))
	}
	if p, ok := finite(r.RandomisationP); ok {
		s.keep("randomisation p, "+of, measured(p, 2), "")
		s.say(", randomisation ", printedP(p))
		if r.RandomisationN > 0 {
			s.say(" (", s.count("draws of the schedule", r.RandomisationN, "draw", "draws"), ")")
		}
	}
	odds := ""
	if o.why == "" {
		s.keep("log odds ratio, "+of, measured(o.value, 3), "")
		if !math.IsInf(o.low, 0) {
			s.keep("its lower end, "+of, measured(o.low, 3), "")
		}
		if !math.IsInf(o.high, 0) {
			s.keep("its upper end, "+of, measured(o.high, 3), "")
		}
		odds = ", log odds ratio " + oddsText(o)
		s.say(odds, ".")
	} else {
		s.say("; log odds ratio not estimable: ", s.words("why there is no log odds ratio, "+of, o.why), ".")
	}
	return speciesTitle(r.Species) + ": " + text + odds + ". "
}

// oddsText is a log odds ratio with its interval as the figure prints it.
func oddsText(o oddsRow) string {
	switch low, high := !math.IsInf(o.low, 0), !math.IsInf(o.high, 0); {
	case low && high:
		return printed(o.value, 3) + " (" + printed(o.low, 3) + " to " + printed(o.high, 3) + ")"
	case low:
		return printed(o.value, 3) + " (" + printed(o.low, 3) + " or more)"
	case high:
		return printed(o.value, 3) + " (" + printed(o.high, 3) + " or less)"
	}
	return printed(o.value, 3) + " (unbounded)"
}

func preferenceData() Table {
	return Table{Title: "Turns at active and control pairs", Columns: []Column{
		textColumn("species", "Species", "Accepted name, or all."),
		numberColumn("passes_active", "Passes, active", "", "Passes at the active pair."),
		numberColumn("turns_active", "Turns, active", "", "Of these, with a turn or a bite."),
		numberColumn("share_active", "Share, active", "", "Turns of passes."),
		numberColumn("share_active_low", "Low", "", "Lower end of Wilson's 95 % interval."),
		numberColumn("share_active_high", "High", "", "Upper end."),
		numberColumn("passes_control", "Passes, control", "", "Passes at control pairs."),
		numberColumn("turns_control", "Turns, control", "", "Of these, with a turn or a bite."),
		numberColumn("share_control", "Share, control", "", "Turns of passes."),
		numberColumn("share_control_low", "Low", "", "Lower end of Wilson's 95 % interval."),
		numberColumn("share_control_high", "High", "", "Upper end."),
		textColumn("odds_model", "Model", "mixed or penalised; blank: not estimable."),
		numberColumn("log_odds_ratio", "Log odds ratio", "", "Of a turn at the active against the control pair."),
		numberColumn("log_odds_ratio_low", "Low", "", "Lower end of its 95 % interval; blank: unbounded."),
		numberColumn("log_odds_ratio_high", "High", "", "Upper end."),
		textColumn("not_estimable", "Why not", "Why there is no log odds ratio."),
	}}
}

func preferenceCells(r *Preference, o oddsRow) []Cell {
	share := func(k, n int) []Cell {
		if n <= 0 || k < 0 || k > n {
			return []Cell{whole(n), whole(k), {}, {}, {}}
		}
		low, high := wilson(k, n)
		return []Cell{whole(n), whole(k), measured(float64(k)/float64(n), 3), measured(low, 3), measured(high, 3)}
	}
	cells := append([]Cell{{Text: r.Species}}, share(r.TurnsActive, r.PassesActive)...)
	cells = append(cells, share(r.TurnsControl, r.PassesControl)...)
	if o.why != "" {
		return append(cells, Cell{}, Cell{}, Cell{}, Cell{}, Cell{Text: o.why})
	}
	model := "mixed"
	if o.penalised {
		model = "penalised"
	}
	return append(cells, Cell{Text: model}, measured(o.value, 3), measured(o.low, 3), measured(o.high, 3), Cell{})
}
