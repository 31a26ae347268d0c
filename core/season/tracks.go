package season

import (
	"brinefield/core/quantity"
	"brinefield/core/study"
)

const (
	trackPass = iota
	trackTime
	trackX
	trackY
	trackHeight
	trackHeightLow
	trackHeightHigh
	trackPoint
)

var trackColumns = []columnSpec{
	trackPass:       {"pass", cellNeeded},
	trackTime:       {"t_s", cellNeeded},
	trackX:          {"x_cm", cellNeeded},
	trackY:          {"y_cm", cellNeeded},
	trackHeight:     {"height_cm", columnNeeded},
	trackHeightLow:  {"height_low_cm", optional},
	trackHeightHigh: {"height_high_cm", optional},
	trackPoint:      {"point", optional},
}

// tracker gathers the rows of tracks.csv. Rows of a pass mostly stand
// together, so the last pass and point are remembered and their rows are put
// in place together.
type tracker struct {
	r       *reader
	t       *table
	trackOf map[int]int // position of a pass's track
	name    string      // of the pass of the last row
	pass    int
	track   *study.Track
	point   int // in track.Points, -1 before the first
	fixes   []study.Fix
}

func (r *reader) readTracks() {
	t := r.open(TracksFile, trackColumns, "")
	if t == nil {
		return
	}
	r.tracksRead = true
	k := &tracker{r: r, t: t, trackOf: map[int]int{}, pass: -1, point: -1}
	for t.next() {
		k.row()
	}
	k.flush()
	t.settleDoubts()
}

// row reads one fix. A row whose pass or time is at fault is checked and not
// kept.
func (k *tracker) row() {
	t := k.t
	pass := k.passOfRow()
	f, ok := k.fix()
	name := tidyName(t.cell(trackPoint))
	switch {
	case name == "":
	case holdsControl(name):
		t.fault(trackPoint, quoted(name)+" holds a line break or another invisible character", "expected a point's name on one line")
	case isErrorMark(name):
		t.fault(trackPoint, quoted(name)+" is a spreadsheet's error mark", "expected a point's name, or a blank cell")
	}
	if pass < 0 || !ok {
		return
	}
	k.turnTo(pass, name)
	last := k.lastFix()
	if last != nil && f.TimeS <= last.TimeS {
		t.fault(trackTime, t.cell(trackTime)+" is not later than "+quantity.Second.Format(last.TimeS)+" in row "+itoa(last.Row), "expected t_s strictly increasing within a pass and point")
		return
	}
	k.fixes = append(k.fixes, f)
}

func (k *tracker) passOfRow() int {
	c := k.t.cell(trackPass)
	if c != k.name || c == "" {
		k.flush()
		k.name, k.pass, k.track, k.point = "", k.r.reference(k.t, trackPass, &k.r.passes), nil, -1
		if k.pass >= 0 {
			k.name = c
		}
	}
	return k.pass
}

// turnTo makes the pass's track and the point the current ones.
func (k *tracker) turnTo(pass int, point string) {
	s := k.r.study
	if k.track == nil {
		i, ok := k.trackOf[pass]
		if !ok {
			i = len(s.Tracks)
			k.trackOf[pass] = i
			s.Tracks = append(s.Tracks, study.Track{Pass: pass})
		}
		k.track = &s.Tracks[i]
	}
	if k.point >= 0 && k.track.Points[k.point].Name == point {
		return
	}
	k.flush()
	for i := range k.track.Points {
		if k.track.Points[i].Name == point {
			k.point = i
			return
		}
	}
	k.point = len(k.track.Points)
	k.track.Points = append(k.track.Points, study.PointTrack{Name: k.r.keep(point)})
}

// flush puts the gathered rows in their place.
func (k *tracker) flush() {
	if len(k.fixes) == 0 {
		return
	}
	p := &k.track.Points[k.point]
	if p.Fixes == nil {
		p.Fixes = make([]study.Fix, 0, len(k.fixes))
	}
	p.Fixes = append(p.Fixes, k.fixes...)
	k.fixes = k.fixes[:0]
}

func (k *tracker) lastFix() *study.Fix {
	if n := len(k.fixes); n > 0 {
		return &k.fixes[n-1]
	}
	if placed := k.track.Points[k.point].Fixes; len(placed) > 0 {
		return &placed[len(placed)-1]
	}
	return nil
}

// fix reads the position; ok is false where it has no time.
func (k *tracker) fix() (f study.Fix, ok bool) {
	t := k.t
	at := t.number(trackTime, quantity.Second, zeroOrMore)
	f.TimeS, f.Row = at.Value, t.row()
	f.XM = t.plain(trackX, quantity.Centimetre).Value
	f.YM = t.plain(trackY, quantity.Centimetre).Value
	f.HeightM = t.number(trackHeight, quantity.Centimetre, zeroOrMore)
	f.HeightLowM = t.number(trackHeightLow, quantity.Centimetre, zeroOrMore)
	f.HeightHighM = t.number(trackHeightHigh, quantity.Centimetre, zeroOrMore)
	k.checkHeights(f)
	return f, at.Known
}

func (k *tracker) checkHeights(f study.Fix) {
	t := k.t
	low, high := t.cell(trackHeightLow) != "", t.cell(trackHeightHigh) != ""
	switch {
	case low && !high:
		t.fault(trackHeightHigh, "the cell is blank beside a height_low_cm", "expected both or neither")
	case high && !low:
		t.fault(trackHeightLow, "the cell is blank beside a height_high_cm", "expected both or neither")
	case f.HeightLowM.Known && f.HeightHighM.Known && f.HeightLowM.Value > f.HeightHighM.Value:
		t.fault(trackHeightHigh, t.cell(trackHeightHigh)+" is below height_low_cm, "+t.cell(trackHeightLow), "expected height_low_cm up to height_high_cm")
	case !low && !high && t.has(trackHeight) && t.cell(trackHeight) == "" && k.r.rangeMissing():
		t.fault(trackHeight, "the height is unknown, and nothing says between which bounds", "expected height_cm, or height_low_cm and height_high_cm, or height_range_cm under [analysis]")
	}
}

// rangeMissing reports whether an unknown height has no range to lie in. Where
// study.toml could not be read that is not known and not told.
func (r *reader) rangeMissing() bool { return r.studyRead && !r.heightRangeStated }
