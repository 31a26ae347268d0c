package dossier

import (
	"math"
	"slices"

	"brinefield/core/study"
)

// turnsMost is how many marks of one kind a panel holds; beyond it they are
// thinned.
const turnsMost = 400

var (
	turnedLook    = Look{Line: Paper, WidthPt: 0.3, Mark: Circle, Fill: Ink, SizePt: 3.2}
	notTurnedLook = Look{Line: Strong, WidthPt: 0.4, Mark: Circle, Fill: Paper, SizePt: 2}
	ringLook      = Look{Line: Middle, WidthPt: 0.4, Dash: 2}
	medianLook    = Look{Line: Accent, WidthPt: 1.2, Dash: 1}
)

// placed is a pass with the place of its head relative to its own pair, whose axis
// points along +x, in cm.
type placed struct {
	*Pass
	at    XY
	plan  float64 // distance along the bottom
	sided bool    // it is known on which side of the axis it was
}

func turnsFigure(in *Input) Figure {
	s := newSketch(in, "turns", "Where the heads were, round their own pair", 3)
	if why := noPasses(in); why != "" {
		return s.cannot(why)
	}
	passes := counted(in)
	byRole := map[string][]placed{}
	var all []placed
	tracks := tracksOf(in)
	for _, p := range passes {
		if at, ok := placeOf(in, p, tracks[p.ID]); ok {
			all = append(all, at)
			byRole[p.Role] = append(byRole[p.Role], at)
		}
	}
	if len(all) == 0 {
		return s.cannot("no track or position of a head was recorded")
	}
	extent, beyond := turnsExtent(all)
	half := !slices.ContainsFunc(all, func(p placed) bool { return p.sided })
	var roles []string
	for _, r := range []string{"active", "control", "silent"} {
		if len(byRole[r]) > 0 {
			roles = append(roles, r)
		}
	}
	s.figure.Columns = len(roles)
	var panels []Panel
	s.say("Place of the head relative to the passed pair, turned so that the pair's axis points to the right (arrow, longer than true)")
	s.say(": at the onset of a turn less the reaction time; without a turn, or without an onset, where it came closest along the bottom. ")
	alt := "Heads seen from above round their pair. "
	small := slices.ContainsFunc(roles, func(r string) bool { return len(byRole[r]) > 400 })
	for i, role := range roles {
		group := byRole[role]
		p, drawn, count, middle, hasMedian := turnsPanel(group, extent, half, small, panelLetter(i, len(roles))+turnsTitle(role))
		panels = append(panels, p)
		if i > 0 {
			s.say("; ")
		}
		s.say(panelLetter(i, len(roles)), turnsTitle2(role), ": ", s.saySample(role, sampleOf(passesOf(group))), ", ",
			s.count("turns, "+role, count, "turn", "turns"))
		alt += turnsTitle(role) + ": " + s.count("passes, "+role, len(group), "pass", "passes") + ", " + s.count("turns, "+role, count, "turn", "turns")
		if hasMedian {
			s.say(", median distance ", s.number("median distance of turns, "+role, middle, 3, "cm"))
			alt += ", median distance " + s.number("median distance of turns, "+role, middle, 3, "cm")
		}
		alt += ". "
		if drawn < len(group) {
			s.say(" (", s.count("marks drawn, "+role, drawn, "mark is", "marks are"), " drawn, evenly chosen)")
		}
	}
	s.say(". Filled: turned; open: did not. Dashed circle: median distance of the turns along the bottom; dotted circles: distances in cm.")
	if n := sides(all); n > 0 {
		s.say(" Of ", s.count("passes whose side is not known", n, "pass", "passes"), " only distance and angle are known: they are drawn above the axis, and no side is meant.")
	}
	if beyond > 0 {
		s.say(" ", s.count("places beyond the edge of the panels", beyond, "place lies", "places lie"), " beyond the edge.")
	}
	if left := len(passes) - len(all); left > 0 {
		s.say(" ", s.count("passes without a position", left, "pass has", "passes have"), " no position and ",
			map[bool]string{true: "is", false: "are"}[left == 1], " left out.")
	}
	if left := len(in.Passes) - len(passes); left > 0 {
		s.say(" ", s.count("passes that the estimates leave out", left, "pass that does", "passes that do"), " not count (not scored, sealed, or after the first turn of a visit) ",
			map[bool]string{true: "is", false: "are"}[left == 1], " not drawn.")
	}
	return s.done(in, alt, panels, turnsData(all))
}

func turnsTitle(role string) string {
	return map[string]string{"active": "Active pair", "control": "Control pairs", "silent": "Silent trials"}[role]
}

func turnsTitle2(role string) string {
	return map[string]string{"active": "active pair", "control": "control pairs", "silent": "silent trials"}[role]
}

func passesOf(group []placed) []*Pass {
	out := make([]*Pass, len(group))
	for i := range group {
		out[i] = group[i].Pass
	}
	return out
}

func sides(all []placed) int {
	n := 0
	for _, p := range all {
		if !p.sided {
			n++
		}
	}
	return n
}

// watched is the recorded pass behind a pass, and its track where there is one.
type watched struct {
	pass  *study.Pass
	track *study.Track
}

func tracksOf(in *Input) map[string]watched {
	out := map[string]watched{}
	if in.Study == nil {
		return out
	}
	for i := range in.Study.Passes {
		p := &in.Study.Passes[i]
		out[p.ID] = watched{pass: p}
	}
	for i := range in.Study.Tracks {
		t := &in.Study.Tracks[i]
		if t.Pass >= 0 && t.Pass < len(in.Study.Passes) {
			p := &in.Study.Passes[t.Pass]
			out[p.ID] = watched{pass: p, track: t}
		}
	}
	return out
}

// placeOf is where a head was: at the onset of its turn, else where its track came
// closest to its own pair. Where the field was largest would not do for a control
// pair: that is near the active one. Without a track it is worked out from
// distance, angle and height.
func placeOf(in *Input, p *Pass, seen watched) (placed, bool) {
	out := placed{Pass: p}
	pair := pairOf(in, p.Pair)
	if pair != nil {
		at, ok := XY{}, false
		x, okX := finite(p.HeadXCm)
		y, okY := finite(p.HeadYCm)
		onset := p.Responded && seen.pass != nil && seen.pass.OnsetS.Known
		if !onset && seen.track != nil {
			at, ok = closest(seen.track, pair, in.Study.Analysis.FieldAt)
		}
		if !ok {
			at, ok = XY{x, y}, okX && okY
		}
		if ok {
			sin, cos := math.Sincos(pair.AzimuthDeg * math.Pi / 180)
			along, across := turned(at, pair, sin, cos)
			out.at, out.plan, out.sided = XY{along, across}, math.Hypot(along, across), true
			return out, usable(out.plan)
		}
	}
	distance, okD := finite(p.DistanceCm)
	angle, okA := finite(p.AngleDeg)
	if !okD || !okA || distance < 0 {
		return out, false
	}
	plan, ok := finite(p.HorizontalCm)
	if !ok || plan < 0 {
		height, known := finite(p.HeightCm)
		if !known {
			return out, false
		}
		if pair != nil {
			height -= pair.HeightM * 100
		}
		plan = math.Sqrt(math.Max(distance*distance-height*height, 0))
	}
	along := distance * math.Cos(angle*math.Pi/180)
	along = math.Max(-plan, math.Min(plan, along))
	out.at, out.plan = XY{along, math.Sqrt(math.Max(plan*plan-along*along, 0))}, plan
	return out, usable(plan)
}

// closest is the place, in cm of the season frame, at which a track comes closest
// to a pair along the bottom, between fixes too: over all points of the head, or
// over the one that the season's fields are taken at.
func closest(t *study.Track, pair *study.Pair, point string) (XY, bool) {
	best, found := math.Inf(1), false
	var at XY
	cx, cy := pair.CentreXM, pair.CentreYM
	for i := range t.Points {
		path := &t.Points[i]
		if point != "" && point != "largest" && path.Name != point {
			continue
		}
		for k, f := range path.Fixes {
			if !sane(f.XM, f.YM) {
				continue
			}
			ax, ay := f.XM, f.YM
			bx, by := ax, ay
			if k+1 < len(path.Fixes) && sane(path.Fixes[k+1].XM, path.Fixes[k+1].YM) {
				bx, by = path.Fixes[k+1].XM, path.Fixes[k+1].YM
			}
			dx, dy, share := bx-ax, by-ay, 0.0
			if d := dx*dx + dy*dy; d > 0 {
				share = math.Max(0, math.Min(1, ((cx-ax)*dx+(cy-ay)*dy)/d))
			}
			x, y := ax+share*dx, ay+share*dy
			if d := math.Hypot(x-cx, y-cy); d < best {
				best, found, at = d, true, XY{x * 100, y * 100}
			}
		}
	}
	return at, found
}

func usable(v float64) bool { return v < 1e9 }

// turnsExtent is half the side of the panels: it holds all but the furthest
// fiftieth of the places, and every turn within twice that.
func turnsExtent(all []placed) (extent float64, beyond int) {
	plans := make([]float64, 0, len(all))
	turnsFar := 0.0
	for _, p := range all {
		plans = append(plans, p.plan)
		if p.Responded {
			turnsFar = math.Max(turnsFar, p.plan)
		}
	}
	slices.Sort(plans)
	core := plans[(len(plans)-1)*98/100]
	extent = math.Max(core, math.Min(turnsFar, 2*core))
	step := niceStep(math.Max(extent, 1) / 8)
	extent = step * math.Ceil(extent*1.04/step)
	if !(extent > 0) {
		extent = 1
	}
	for _, p := range all {
		if math.Abs(p.at.X) > extent || math.Abs(p.at.Y) > extent {
			beyond++
		}
	}
	return extent, beyond
}

func turnsPanel(group []placed, extent float64, half, small bool, title string) (p Panel, drawn, turns int, middle float64, hasMedian bool) {
	low := -extent
	if half {
		low = -0.12 * extent
	}
	p = Panel{
		Title:      title,
		X:          Axis{Label: "Along the axis (cm)", Min: -extent, Max: extent},
		Y:          Axis{Label: "Across (cm)", Min: low, Max: extent},
		EqualScale: true, LegendAt: "below",
	}
	step := niceStep(extent / 4)
	for r := step; r <= extent*0.999; r += step {
		p.Layers = append(p.Layers, Line{At: arc(r, half), Closed: !half, Look: ringLook})
	}
	var not, yes []XY
	var plans []float64
	for _, g := range group {
		if g.Responded {
			turns++
			plans = append(plans, g.plan)
		}
		if math.Abs(g.at.X) > extent || math.Abs(g.at.Y) > extent {
			continue
		}
		if g.Responded {
			yes = append(yes, g.at)
		} else {
			not = append(not, g.at)
		}
	}
	inside := len(yes) + len(not)
	not, yes = some(not), some(yes)
	drawn = len(group) - inside + len(not) + len(yes)
	t, n := turnedLook, notTurnedLook
	if small {
		t.SizePt, n.SizePt = 2.4, 1.6
	}
	if len(not) > 0 {
		p.Layers = append(p.Layers, Points{At: not, Look: n})
	}
	if len(yes) > 0 {
		p.Layers = append(p.Layers, Points{At: yes, Look: t})
	}
	middle, hasMedian = median(plans)
	if hasMedian && middle > 0 {
		p.Layers = append(p.Layers, Line{At: arc(middle, half), Closed: !half, Look: medianLook})
	}
	p.Layers = append(p.Layers, Arrow{From: XY{-0.09 * extent, 0}, To: XY{0.09 * extent, 0}, Look: axisArrow})
	for r := step; r <= extent*0.999; r += step {
		p.Layers = append(p.Layers, Label{At: XY{r * math.Sqrt2 / 2, r * math.Sqrt2 / 2}, Text: printed(r, 2), Align: "middle", SizePt: 6})
	}
	p.Legend = []LegendEntry{
		{Text: "turned", Look: t, Sample: "mark"},
		{Text: "did not", Look: n, Sample: "mark"},
	}
	if hasMedian {
		p.Legend = append(p.Legend, LegendEntry{Text: "median of turns", Look: medianLook, Sample: "line"})
	}
	return p, drawn, turns, middle, hasMedian
}

// arc is a circle round the pair, or its upper half.
func arc(r float64, half bool) []XY {
	at := circle(XY{}, r)
	if half {
		return append(at[:circleSides/2:circleSides/2], XY{-r, 0})
	}
	return at
}

func some(at []XY) []XY {
	out := make([]XY, 0, min(len(at), turnsMost))
	for _, i := range thinned(len(at), turnsMost) {
		out = append(out, at[i])
	}
	return out
}

func turnsData(all []placed) Table {
	t := Table{Title: "Places of heads round their pair", Columns: []Column{
		textColumn("pass", "Pass", "The pass."),
		textColumn("role", "Role", "What its pair was: active, control or silent."),
		textColumn("species", "Species", "Accepted name."),
		numberColumn("along_cm", "Along", "cm", "Along the pair's axis, towards the positive electrode."),
		numberColumn("across_cm", "Across", "cm", "Across it, 90° anticlockwise seen from above."),
		numberColumn("distance_along_bottom_cm", "Distance", "cm", "From the pair's centre along the bottom."),
		textColumn("side_known", "Side known", "no: only distance and angle were recorded, and across_cm is without its sign."),
		textColumn("turned", "Turned", "yes: turned or bit."),
	}, Rows: make([][]Cell, 0, len(all))}
	for _, p := range all {
		t.Rows = append(t.Rows, []Cell{
			{Text: p.ID},
			{Text: p.Role},
			{Text: p.Species},
			measured(p.at.X, 4), measured(p.at.Y, 4), measured(p.plan, 4), yesNo(p.sided), yesNo(p.Responded),
		})
	}
	return t
}
