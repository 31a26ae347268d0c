package dossier

import (
	"math"

	"brinefield/core/study"
)

// circleSides is how many sides a circle is drawn with.
const circleSides = 96

func circle(centre XY, radius float64) []XY {
	out := make([]XY, circleSides)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / circleSides)
		out[i] = XY{centre.X + radius*cos, centre.Y + radius*sin}
	}
	return out
}

// plateOutline is the edge of a plate from above, in cm of the season frame; nil
// where it has no size.
func plateOutline(p *study.Plate) []XY {
	centre := XY{p.CentreXM * 100, p.CentreYM * 100}
	if !sane(centre.X, centre.Y, p.SizeXM, p.SizeYM, p.DiameterM, p.YawDeg, p.ThicknessM, p.TopAboveBottomM) {
		return nil
	}
	if p.Disc {
		if !(p.DiameterM > 0) {
			return nil
		}
		return circle(centre, p.DiameterM*50)
	}
	if !(p.SizeXM > 0 && p.SizeYM > 0) {
		return nil
	}
	sin, cos := math.Sincos(p.YawDeg * math.Pi / 180)
	out := make([]XY, 4)
	for i, c := range box(-p.SizeXM*50, -p.SizeYM*50, p.SizeXM*50, p.SizeYM*50) {
		out[i] = XY{centre.X + c.X*cos - c.Y*sin, centre.Y + c.X*sin + c.Y*cos}
	}
	return out
}

// plateLines are the edges of all plates; plates that lie in one place in other
// trials are drawn once.
func plateLines(st *study.Study) []Layer {
	var out []Layer
	seen := map[study.Plate]bool{}
	for i := range st.Plates {
		p := st.Plates[i]
		p.Label, p.ThicknessM = "", 0
		if at := plateOutline(&p); at != nil && !seen[p] {
			seen[p] = true
			out = append(out, Line{At: at, Closed: true, Look: plateLook})
		}
	}
	return out
}

// soundPair reports whether a pair can be drawn.
func soundPair(p *study.Pair) bool {
	return sane(p.CentreXM, p.CentreYM, p.AzimuthDeg, p.SeparationM, p.HeightM) && p.SeparationM >= 0
}

func wallOf(e *study.Enclosure) []XY {
	if e == nil {
		return nil
	}
	centre := XY{e.CentreXM * 100, e.CentreYM * 100}
	if !sane(centre.X, centre.Y, e.SizeXM, e.SizeYM, e.DiameterM.Value) {
		return nil
	}
	if e.DiameterM.Known && e.DiameterM.Value > 0 {
		return circle(centre, e.DiameterM.Value*50)
	}
	if !(e.SizeXM > 0 && e.SizeYM > 0) {
		return nil
	}
	return box(centre.X-e.SizeXM*50, centre.Y-e.SizeYM*50, centre.X+e.SizeXM*50, centre.Y+e.SizeYM*50)
}

// siteLayers are plates, walls and pairs on a map, with their legend.
func siteLayers(st *study.Study, driven string, p *Panel) []Layer {
	plates := plateLines(st)
	var layers []Layer
	for _, l := range plates {
		if line, ok := l.(Line); ok && crosses(line.At, p) {
			layers = append(layers, l)
		}
	}
	if len(layers) > 0 {
		p.Legend = append(p.Legend, LegendEntry{Text: "edge of a plate", Look: plateLook, Sample: "line"})
	}
	if wall := wallOf(st.Enclosure); crosses(wall, p) {
		layers = append(layers, Line{At: wall, Closed: true, Look: wallLook})
		p.Legend = append(p.Legend, LegendEntry{Text: "wall", Look: wallLook, Sample: "line"})
	}
	pairs, others := pairLayers(st, driven, p)
	if others {
		p.Legend = append(p.Legend, LegendEntry{Text: "other pairs", Look: otherPairLook, Sample: "mark"})
	}
	return append(layers, pairs...)
}

// crosses reports whether the edge of an outline runs over a panel.
func crosses(outline []XY, p *Panel) bool {
	const steps = 200
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		for k := range steps {
			t := float64(k) / steps
			if within(p, XY{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)}) {
				return true
			}
		}
	}
	return false
}

// layoutPanel is a plan of all pairs, plates and walls beside a map of one pair, in
// the shape of the map; not where the map shows them all.
func layoutPanel(st *study.Study, m *FieldMap) (Panel, bool) {
	x0, x1, y0, y1 := m.X[0], m.X[len(m.X)-1], m.Y[0], m.Y[len(m.Y)-1]
	frame := box(x0, y0, x1, y1)
	outside := false
	see := func(at ...XY) {
		for _, a := range at {
			if math.IsNaN(a.X+a.Y) || math.Abs(a.X) > 1e6 || math.Abs(a.Y) > 1e6 {
				continue
			}
			outside = outside || !(a.X >= frame[0].X && a.X <= frame[2].X && a.Y >= frame[0].Y && a.Y <= frame[2].Y)
			x0, x1, y0, y1 = math.Min(x0, a.X), math.Max(x1, a.X), math.Min(y0, a.Y), math.Max(y1, a.Y)
		}
	}
	for i := range st.Pairs {
		if !soundPair(&st.Pairs[i]) {
			continue
		}
		see(XY{st.Pairs[i].CentreXM * 100, st.Pairs[i].CentreYM * 100})
	}
	for i := range st.Plates {
		see(plateOutline(&st.Plates[i])...)
	}
	see(wallOf(st.Enclosure)...)
	if !outside {
		return Panel{}, false
	}
	shape := (frame[2].Y - frame[0].Y) / (frame[2].X - frame[0].X)
	width := 1.16 * math.Max(x1-x0, (y1-y0)/shape)
	cx, cy := (x0+x1)/2, (y0+y1)/2
	p := Panel{
		Title:      "(b) All pairs",
		X:          Axis{Label: "x (cm)", Min: cx - width/2, Max: cx + width/2},
		Y:          Axis{Label: "y (cm)", Min: cy - width*shape/2, Max: cy + width*shape/2},
		EqualScale: true, LegendAt: "below",
	}
	p.Layers = append(p.Layers, Line{At: frame, Closed: true, Look: mapFrameLook})
	p.Layers = append(p.Layers, siteLayers(st, m.Pair, &p)...)
	p.Legend = append(p.Legend,
		LegendEntry{Text: "pair of (a)", Look: positiveLook, Sample: "mark"},
		LegendEntry{Text: "map of (a)", Look: mapFrameLook, Sample: "line"})
	p.Layers = append(p.Layers, northArrow(st, &p)...)
	return p, true
}

// electrodeLayers are a pair from its negative to its positive electrode, its arrow
// drawn at least so long.
func electrodeLayers(centre XY, azimuthDeg, separationCm, least float64) []Layer {
	sin, cos := math.Sincos(azimuthDeg * math.Pi / 180)
	reach := math.Max(separationCm*1.8, least) / 2
	arrow := Arrow{From: XY{centre.X - reach*cos, centre.Y - reach*sin}, To: XY{centre.X + reach*cos, centre.Y + reach*sin}, Look: axisArrow}
	return append([]Layer{arrow}, electrodeMarks(centre, cos, sin, separationCm)...)
}

func electrodeMarks(centre XY, cos, sin, separationCm float64) []Layer {
	d := separationCm / 2
	return []Layer{
		Points{At: []XY{{centre.X - d*cos, centre.Y - d*sin}}, Look: negativeLook},
		Points{At: []XY{{centre.X + d*cos, centre.Y + d*sin}}, Look: positiveLook},
	}
}

// pairLayers are all pairs that lie on the panel, the driven one last, and whether
// there are others.
func pairLayers(st *study.Study, driven string, p *Panel) (layers []Layer, others bool) {
	var last []Layer
	extent := math.Max(p.X.Max-p.X.Min, p.Y.Max-p.Y.Min)
	marks := Points{Look: otherPairLook}
	apart := pairsApart(st)
	arrow := math.Max(math.Min(0.1*extent, 0.6*apart), 0.025*extent)
	offset := math.Max(math.Min(0.055*extent, 0.4*apart), 0.025*extent)
	for i := range st.Pairs {
		pair := &st.Pairs[i]
		at := XY{pair.CentreXM * 100, pair.CentreYM * 100}
		if !soundPair(pair) || !within(p, at) {
			continue
		}
		sin, cos := math.Sincos(pair.AzimuthDeg * math.Pi / 180)
		side := math.Copysign(offset, cos) // across the axis, upwards
		label := Label{At: XY{at.X - side*sin, at.Y + side*cos}, Text: pair.Label, Align: "middle", SizePt: 7.5}
		if pair.Label == driven {
			last = electrodeLayers(at, pair.AzimuthDeg, pair.SeparationM*100, arrow)
			if !fieldDrawn(p) {
				last = append(last, label)
			}
			continue
		}
		d := math.Max(pair.SeparationM*180, arrow) / 2
		layers = append(layers,
			Arrow{From: XY{at.X - d*cos, at.Y - d*sin}, To: XY{at.X + d*cos, at.Y + d*sin}, Look: otherArrow},
			label)
		marks.At = append(marks.At, at)
	}
	if len(marks.At) > 0 {
		layers = append(layers, marks)
	}
	return append(layers, last...), len(marks.At) > 0
}

// pairsApart is the least distance of two pairs in cm.
func pairsApart(st *study.Study) float64 {
	least := math.Inf(1)
	for i := range st.Pairs {
		for k := range i {
			a, b := &st.Pairs[i], &st.Pairs[k]
			if d := 100 * math.Hypot(a.CentreXM-b.CentreXM, a.CentreYM-b.CentreYM); d > 0 {
				least = math.Min(least, d)
			}
		}
	}
	return least
}

// fieldDrawn reports whether lines of equal field stand on a panel, round whose
// middle there is no room for a label.
func fieldDrawn(p *Panel) bool {
	for _, l := range p.Layers {
		if _, ok := l.(Tones); ok {
			return true
		}
	}
	return false
}

func within(p *Panel, at XY) bool {
	return at.X >= p.X.Min && at.X <= p.X.Max && at.Y >= p.Y.Min && at.Y <= p.Y.Max
}

// northArrow stands in the upper right corner where the bearing of +x is known:
// north lies as many degrees anticlockwise from +x as +x lies clockwise from north.
func northArrow(st *study.Study, p *Panel) []Layer {
	if !st.Site.XAxisBearingDeg.Known || !sane(st.Site.XAxisBearingDeg.Value) {
		return nil
	}
	sin, cos := math.Sincos(st.Site.XAxisBearingDeg.Value * math.Pi / 180)
	w, h := p.X.Max-p.X.Min, p.Y.Max-p.Y.Min
	size := 0.034 * math.Max(w, h)
	c := XY{p.X.Max - 2.1*size, p.Y.Max - 2.1*size}
	return []Layer{
		Area{At: circle(c, 1.8*size), Look: Look{Line: Faint, WidthPt: 0.3, Fill: Paper}},
		Arrow{From: XY{c.X - size*cos, c.Y - size*sin}, To: XY{c.X + 0.5*size*cos, c.Y + 0.5*size*sin}, Look: axisArrow},
		Label{At: XY{c.X + 1.2*size*cos, c.Y + 1.2*size*sin}, Text: "N", Align: "middle", SizePt: 7},
	}
}

// bottomOf is the height of the bottom in cm: below 0 where a plate stands proud.
func bottomOf(st *study.Study) float64 {
	if len(st.Plates) == 0 || !sane(st.Plates[0].TopAboveBottomM) {
		return 0
	}
	return -st.Plates[0].TopAboveBottomM * 100
}

// addGround draws plates and what lies under the water into a section along the
// axis of a pair, with the pair's centre at x = 0.
func addGround(st *study.Study, pair *study.Pair, p *Panel) {
	bottom := bottomOf(st)
	p.Y.Min = math.Min(p.Y.Min, math.Min(bottom, 0)-0.07*(p.Y.Max-p.Y.Min))
	if bottom > p.Y.Min {
		ground := Area{At: box(p.X.Min, p.Y.Min, p.X.Max, bottom), Look: sedimentLook}
		text := "sediment"
		if st.Bottom.Kind == study.BottomInsulating {
			ground.Look = Look{Line: Ink, WidthPt: 1.2, Fill: Light}
			text = "insulating bottom"
		}
		p.Layers = append(p.Layers, ground)
		p.Legend = append(p.Legend, LegendEntry{Text: text, Look: ground.Look, Sample: "area"})
	}
	if pair == nil {
		return
	}
	seen := map[[2]float64]bool{}
	for i := range st.Plates {
		plate := &st.Plates[i]
		from, to, ok := cut(plate, pair)
		if !ok || to < p.X.Min || from > p.X.Max || seen[[2]float64{from, to}] {
			continue
		}
		from, to = math.Max(from, p.X.Min), math.Min(to, p.X.Max)
		thick := math.Max(plate.ThicknessM*100, 0.006*(p.Y.Max-p.Y.Min))
		if len(seen) == 0 {
			p.Legend = append(p.Legend, LegendEntry{Text: "plate", Look: plateSolid, Sample: "area"})
		}
		seen[[2]float64{from, to}] = true
		p.Layers = append(p.Layers, Area{At: box(from, math.Max(-thick, p.Y.Min), to, 0), Look: plateSolid})
	}
}

// cut is where the upright plane through a pair's axis cuts a plate, in cm from the
// pair's centre.
func cut(plate *study.Plate, pair *study.Pair) (from, to float64, ok bool) {
	outline := plateOutline(plate)
	sin, cos := math.Sincos(pair.AzimuthDeg * math.Pi / 180)
	from, to = math.Inf(1), math.Inf(-1)
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		ua, va := turned(a, pair, sin, cos)
		ub, vb := turned(b, pair, sin, cos)
		if (va > 0) == (vb > 0) {
			continue
		}
		u := ua + (ub-ua)*va/(va-vb)
		from, to = math.Min(from, u), math.Max(to, u)
	}
	return from, to, to > from && !math.IsInf(from, 0) && !math.IsInf(to, 0)
}

// turned is a place in cm along and across the axis of a pair, from its centre.
func turned(at XY, pair *study.Pair, sin, cos float64) (along, across float64) {
	dx, dy := at.X-pair.CentreXM*100, at.Y-pair.CentreYM*100
	return dx*cos + dy*sin, -dx*sin + dy*cos
}

// edgeDistances are how near and how far the edge of the plate that carries a pair
// lies from the pair's centre along the bottom, in cm.
func edgeDistances(st *study.Study, pair *study.Pair) (nearest, furthest float64, ok bool) {
	for i := range st.Plates {
		outline := plateOutline(&st.Plates[i])
		if !surrounds(outline, XY{pair.CentreXM * 100, pair.CentreYM * 100}) {
			continue
		}
		nearest = math.Inf(1)
		for k, a := range outline {
			b := outline[(k+1)%len(outline)]
			ax, ay := a.X-pair.CentreXM*100, a.Y-pair.CentreYM*100
			bx, by := b.X-pair.CentreXM*100, b.Y-pair.CentreYM*100
			dx, dy := bx-ax, by-ay
			t := math.Max(0, math.Min(1, -(ax*dx+ay*dy)/(dx*dx+dy*dy)))
			nearest = math.Min(nearest, math.Hypot(ax+t*dx, ay+t*dy))
			furthest = math.Max(furthest, math.Hypot(ax, ay))
		}
		return nearest, furthest, furthest > 0 && !math.IsInf(nearest, 0) && !math.IsNaN(nearest)
	}
	return 0, 0, false
}

// surrounds reports whether a convex outline holds a place.
func surrounds(outline []XY, at XY) bool {
	side := 0.0
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		s := (b.X-a.X)*(at.Y-a.Y) - (b.Y-a.Y)*(at.X-a.X)
		if s*side < 0 {
			return false
		}
		if s != 0 {
			side = s
		}
	}
	return len(outline) > 2
}

// outlineData lists pairs and plates as they are drawn.
func outlineData(in *Input) Table {
	t := Table{Title: "Pairs and plates", Columns: []Column{
		textColumn("what", "What", "pair or plate."),
		textColumn("label", "Label", "Its label."),
		numberColumn("x_cm", "x of the centre", "cm", "In the season frame."),
		numberColumn("y_cm", "y of the centre", "cm", "In the season frame."),
		numberColumn("angle_deg", "Angle", "°", "Of a pair's axis or a plate's side, anticlockwise from +x."),
		numberColumn("length_cm", "Length", "cm", "Separation of a pair; size of a plate along its side; diameter of a disc."),
		numberColumn("width_cm", "Width", "cm", "Size of a plate across."),
	}}
	if in.Study == nil {
		return t
	}
	for i := range in.Study.Pairs {
		p := &in.Study.Pairs[i]
		t.Rows = append(t.Rows, []Cell{
			{Text: "pair"},
			{Text: p.Label},
			sixDigits(p.CentreXM * 100), sixDigits(p.CentreYM * 100), sixDigits(p.AzimuthDeg), sixDigits(p.SeparationM * 100),
			{},
		})
	}
	for i := range in.Study.Plates {
		p := &in.Study.Plates[i]
		length, width := sixDigits(p.SizeXM*100), sixDigits(p.SizeYM*100)
		if p.Disc {
			length, width = sixDigits(p.DiameterM*100), Cell{}
		}
		t.Rows = append(t.Rows, []Cell{
			{Text: "plate"},
			{Text: p.Label},
			sixDigits(p.CentreXM * 100), sixDigits(p.CentreYM * 100), sixDigits(p.YawDeg), length, width,
		})
	}
	return t
}
