package footage

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"brinefield/core/optics"
	"brinefield/core/study"
)

// Pose is where the camera was from a frame on, until the next.
type Pose struct {
	FromFrame int
	Posed     *optics.Posed // nil: Why says why there is none
	Why       string
}

// Located is a fix with where it is.
type Located struct {
	Fix    // a filled one with its pixel
	SDPx   float64
	Height Height
	Why    string // why it has no place; empty where it has
	// Position carries the click, the pose and the height: the middle of limits.
	Position optics.Position
	// PlaneSDM is the standard deviation in the plane in one direction, metres, of
	// click and pose alone: of a height that is known.
	PlaneSDM float64
	Found    bool // it has a place, though the track may leave it out
}

// Locate works out where fixes are. Each that has no place says why. poses are in
// the order of their first frames.
func Locate(fixes []Fix, poses []Pose, h Heights) []Located {
	at := func(frame int) int {
		return sort.Search(len(poses), func(i int) bool { return poses[i].FromFrame > frame }) - 1
	}
	poseOf := func(frame int) *optics.Posed {
		if i := at(frame); i >= 0 {
			return poses[i].Posed
		}
		return nil
	}
	cuts, click := []int{}, 1.0
	for i := len(poses) - 1; i >= 0; i-- {
		cuts = append(cuts, poses[i].FromFrame)
		if poses[i].Posed != nil {
			click = poses[i].Posed.ClickSDPx
		}
	}
	slices.Sort(cuts)
	where := Fill(fixes, cuts, click)
	var measured []heightAt
	why := ""
	if h.length {
		measured, why = measureHeights(fixes, where, poseOf, h)
	}
	out := make([]Located, len(fixes))
	for i := range fixes {
		l := Located{Fix: fixes[i], SDPx: where[i].SDPx, Height: heightOf(&fixes[i], h, measured, why)}
		l.Pixel = where[i].Pixel
		switch p := at(l.Frame); {
		case !where[i].OK:
			l.Why = fmt.Sprintf("it is to be filled in, and %s is not fixed on both sides of it while the camera stood so", l.Point)
		case p < 0 && len(poses) == 0:
			l.Why = "there is no pose of the camera in this clip: it is worked out on the part Camera"
		case p < 0:
			l.Why = fmt.Sprintf("there is no pose of the camera before frame %d", poses[0].FromFrame)
		case poses[p].Posed == nil:
			l.Why = cmp.Or(poses[p].Why, "the camera has no pose here")
		case l.Height.Why != "":
			l.Why = l.Height.Why
		default:
			l.locate(poses[p].Posed)
		}
		out[i] = l
	}
	return out
}

func heightOf(f *Fix, h Heights, measured []heightAt, why string) Height {
	switch {
	case f.HeightLowCm.Known && f.HeightHighCm.Known:
		return limits(f.HeightLowCm.Value/100, f.HeightHighCm.Value/100)
	case h.limitsKnown:
		return limits(h.LowM, h.HighM)
	case len(measured) > 0:
		return heightBetween(measured, f.ClipS)
	case why != "":
		return Height{Why: why}
	}
	return Height{Why: "its height is not stated: choose a class, limits, or a length of the animal that is known"}
}

func (l *Located) locate(posed *optics.Posed) {
	c := &posed.Camera
	if x, y := l.Pixel[0], l.Pixel[1]; x < -0.5 || y < -0.5 || x > float64(c.WidthPx)-0.5 || y > float64(c.HeightPx)-0.5 {
		l.Why = fmt.Sprintf("pixel (%s, %s) is outside the picture of %d × %d", decimal(x, 1), decimal(y, 1), c.WidthPx, c.HeightPx)
		return
	}
	clicked := *posed
	clicked.ClickSDPx = l.SDPx
	sure, err := clicked.Locate(l.Pixel, l.Height.M, 0)
	if err == nil {
		l.Position, err = clicked.Locate(l.Pixel, l.Height.M, l.Height.SDM)
	}
	if err != nil {
		l.Why = err.Error()
		return
	}
	l.PlaneSDM = math.Sqrt(math.Max(sure.CovarianceM2[0][0]+sure.CovarianceM2[1][1], 0) / 2)
	if !finite(l.PlaneSDM) || !finite(l.Position.AtM[0]) || !finite(l.Position.AtM[1]) || !finite(l.Position.AtM[2]) {
		l.Why, l.PlaneSDM = "its place is no number", 0
		return
	}
	l.Found = true
}

// Row is one row of a season's track, in the units of its columns, to their last
// digit: seconds to a microsecond, centimetres to a hundredth of a millimetre.
type Row struct {
	Point           string // blank: the reference point
	TimeS, XCm, YCm float64
	// HeightCm is known where the height was measured, or both limits are one. Else
	// it is left to the exposure, which lets it vary between the limits.
	HeightCm      study.Opt[float64]
	LowCm, HighCm float64
}

// Rows makes the track of what was located: t_s counts from startS, seconds of
// the clip, and what lies before it or behind endS (where that is known) is left
// out, with why. Points come one after the other, each in order of time.
//
// The place in the plane is that of the middle height. An exposure that lets the
// height vary holds it, though it would move towards or away from the camera; the
// covariance of each fix carries that.
func Rows(located []Located, startS float64, endS study.Opt[float64]) []Row {
	const slack = 5e-7 // half of the last digit of t_s
	var rows []Row
	for i := range located {
		l := &located[i]
		name, in := InTrack(l.Point)
		switch {
		case !in || l.Why != "":
			continue
		case l.ClipS < startS-slack:
			l.Why = "it is before the pass began to be watched"
			continue
		case endS.Known && l.ClipS > endS.Value+slack:
			l.Why = "it is behind the last frame that was watched"
			continue
		}
		r := Row{
			Point: name, TimeS: rounded(math.Max(l.ClipS-startS, 0), 6), XCm: rounded(l.Position.AtM[0]*100, 3), YCm: rounded(l.Position.AtM[1]*100, 3),
			LowCm: rounded(l.Height.LowM*100, 3), HighCm: rounded(l.Height.HighM*100, 3),
		}
		if l.Height.Measured || r.LowCm == r.HighCm {
			r.HeightCm = study.Some(rounded(l.Height.M*100, 3))
		}
		rows = append(rows, r)
	}
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(order(cmp.Or(a.Point, Snout), cmp.Or(b.Point, Snout)), compare(a.TimeS, b.TimeS))
	})
	// Two frames less than a microsecond apart would be one row twice.
	return slices.CompactFunc(rows, func(a, b Row) bool { return a.Point == b.Point && a.TimeS == b.TimeS })
}

func rounded(v float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	if r := math.Round(v*scale) / scale; r != 0 {
		return r
	}
	return 0 // never −0
}

// Table is the track as a season's record holds it; nil where there is no row.
func Table(rows []Row) *study.Table {
	if len(rows) == 0 {
		return nil
	}
	t := &study.Table{Columns: []string{"t_s", "x_cm", "y_cm", "height_cm", "height_low_cm", "height_high_cm"}}
	pointed := slices.ContainsFunc(rows, func(r Row) bool { return r.Point != "" })
	if pointed {
		t.Columns = append(t.Columns, "point")
	}
	for _, r := range rows {
		height := ""
		if r.HeightCm.Known {
			height = decimal(r.HeightCm.Value, 3)
		}
		cells := []string{decimal(r.TimeS, 6), decimal(r.XCm, 3), decimal(r.YCm, 3), height, decimal(r.LowCm, 3), decimal(r.HighCm, 3)}
		if pointed {
			cells = append(cells, r.Point)
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// Track is the track as an exposure reads it, of a pass (an index into a study's).
func Track(rows []Row, pass int) study.Track {
	t := study.Track{Pass: pass}
	for _, r := range rows {
		f := study.Fix{
			TimeS: r.TimeS, XM: r.XCm / 100, YM: r.YCm / 100,
			HeightLowM: study.Some(r.LowCm / 100), HeightHighM: study.Some(r.HighCm / 100),
		}
		if r.HeightCm.Known {
			f.HeightM = study.Some(r.HeightCm.Value / 100)
		}
		if n := len(t.Points); n == 0 || t.Points[n-1].Name != r.Point {
			t.Points = append(t.Points, study.PointTrack{Name: r.Point})
		}
		p := &t.Points[len(t.Points)-1]
		p.Fixes = append(p.Fixes, f)
	}
	return t
}

// FixSDM is the root mean square of what the fixes of a track carry themselves in
// the plane, metres: what a smoothing that is told their noise could take; 0 where
// there are none.
func FixSDM(located []Located) float64 {
	sum, n := 0.0, 0
	for i := range located {
		if _, in := InTrack(located[i].Point); in && located[i].Found {
			sum += located[i].PlaneSDM * located[i].PlaneSDM
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(n))
}
