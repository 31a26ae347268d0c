package optics

import (
	"fmt"
	"math"
	"slices"
)

// MarksError says why marks tell no pose.
type MarksError struct {
	Mark            int // which, from 0; −1: all of them together
	Wrong, Expected string
}

func (e *MarksError) Error() string {
	if e.Mark < 0 {
		return e.Wrong + "; " + e.Expected
	}
	return fmt.Sprintf("mark %d: %s; %s", e.Mark+1, e.Wrong, e.Expected)
}

// CameraError says that the numbers of a camera cannot be used.
type CameraError struct{ Faults []Fault }

func (e *CameraError) Error() string { return "the camera: " + e.Faults[0].String() }

const (
	leastMarks  = 4
	farthestM   = 1e6  // of a place from the season's origin
	lineShare   = 1e-6 // marks nearer to a line than this share of their spread lie on it
	leastPivot  = 1e-12
	togetherRad = 1e-5 // poses nearer than this are one
	distinctRad = 1e-3 // nearer than this, a second pose is no other answer
	aboveShare  = 3.0  // how much worse a pose above the plate may fit than one below it
	secondChi2  = 25.0 // a second pose is told up to this much more χ²
)

// bundle is marks made ready: places from their middle, and the rays in the water.
type bundle struct {
	lens   lens
	at     []vec // season frame, less middle
	pixel  [][2]float64
	from   []vec
	along  []vec
	middle vec
	axes   rot // columns: where the marks spread most, next, least
	spread vec // root mean square along those, metres
}

// candidate is a pose of centred marks: R·at + t.
type candidate struct {
	r  rot
	t  vec
	ss float64 // sum of squared residuals, px²
	n  normal
}

// Fit finds the pose that explains the marks best, by least squares of the
// distances between where they were clicked and where the pose would show them;
// clicks on them carry a normal error of clickSDPx in each direction, places
// none. At least four marks at different places that are not on one line. It
// starts from many poses (orthogonal iteration, IEEE Trans. PAMI 22:610–622,
// 2000), from both that flat marks allow, and ends with Levenberg–Marquardt.
//
// Where all marks lie in z = 0, a camera below is taken only if none above fits.
//
// Errors: [*CameraError], [*MarksError].
func Fit(c Camera, marks []Mark, clickSDPx float64) (*Posed, error) {
	b, err := newBundle(&c, marks, clickSDPx)
	if err != nil {
		return nil, err
	}
	found := b.minima()
	best, second := b.choose(found, clickSDPx)
	if best == nil {
		return nil, &MarksError{-1, "no place of the camera shows these marks at these pixels", "marks and pixels that belong together, in the picture as the camera recorded it; at_m in metres"}
	}
	return b.posed(&c, best, second, clickSDPx)
}

func newBundle(c *Camera, marks []Mark, clickSDPx float64) (*bundle, error) {
	if faults := c.Faults(); len(faults) > 0 {
		return nil, &CameraError{faults}
	}
	if !(clickSDPx >= 0) || math.IsInf(clickSDPx, 1) {
		return nil, &MarksError{-1, fmt.Sprintf("clicks with a standard deviation of %g pixels", clickSDPx), "0 (exact) or more"}
	}
	b := &bundle{lens: newLens(c)}
	places := map[vec]bool{}
	for i, m := range marks {
		for _, v := range m.AtM {
			if !(math.Abs(v) <= farthestM) {
				return nil, &MarksError{i, fmt.Sprintf("a place at %g m", v), fmt.Sprintf("metres in the season frame, at most %g", farthestM)}
			}
		}
		x, y, err := b.lens.inAir(m.Pixel)
		if err != nil {
			return nil, &MarksError{i, fmt.Sprintf("the pixel (%.6g, %.6g) %v", m.Pixel[0], m.Pixel[1], err), "a pixel that the camera's numbers hold for"}
		}
		from, along := b.lens.ray(x, y)
		b.at, b.pixel = append(b.at, m.AtM), append(b.pixel, m.Pixel)
		b.from, b.along = append(b.from, from), append(b.along, along)
		b.middle = add(b.middle, scaled(1/float64(len(marks)), m.AtM))
		places[m.AtM] = true
	}
	if len(places) < leastMarks {
		return nil, &MarksError{-1, fmt.Sprintf("%d different places", len(places)), fmt.Sprintf("marks at %d places or more", leastMarks)}
	}
	for i := range b.at {
		b.at[i] = sub(b.at[i], b.middle)
	}
	b.spread, b.axes = principal(b.at)
	if !(b.spread[1] > lineShare*b.spread[0]) {
		return nil, &MarksError{-1, "all marks lie on one line", "marks that are spread over the picture, such as the corners of the plate: about a line the camera could be anywhere"}
	}
	return b, nil
}

// flatOnGround reports whether all marks lie in z = 0.
func (b *bundle) flatOnGround() bool {
	for _, p := range b.at {
		if math.Abs(p[2]+b.middle[2]) > 1e-6*b.spread[0] {
			return false
		}
	}
	return true
}

// choose takes the pose that fits best, of those above the plate first, and
// another one that does nearly as well.
func (b *bundle) choose(found []candidate, clickSDPx float64) (best, second *candidate) {
	if len(found) == 0 {
		return nil, nil
	}
	slices.SortStableFunc(found, func(a, b candidate) int {
		switch {
		case a.ss < b.ss:
			return -1
		case a.ss > b.ss:
			return 1
		}
		return 0
	})
	n := float64(len(b.at))
	if b.flatOnGround() {
		var above []candidate
		for _, f := range found {
			pose := Pose{R: f.r, T: b.shift(&f)}
			if pose.Centre()[2] >= 0 {
				above = append(above, f)
			}
		}
		click := clickSDPx
		if click == 0 {
			click = 1
		}
		if len(above) > 0 && math.Sqrt(above[0].ss/n) <= aboveShare*math.Max(math.Sqrt(found[0].ss/n), 2*click) {
			found = above
		}
	}
	best = &found[0]
	variance := math.Max(clickSDPx*clickSDPx, best.ss/(2*n-6))
	for i := range found[1:] {
		f := &found[1+i]
		if angleBetween(&f.r, &best.r) > distinctRad && f.ss-best.ss < secondChi2*variance {
			return best, f
		}
	}
	return best, nil
}

// shift is T of a candidate, for marks that are not centred.
func (b *bundle) shift(f *candidate) vec { return sub(f.t, turned(&f.r, b.middle)) }

func (b *bundle) posed(c *Camera, best, second *candidate, clickSDPx float64) (*Posed, error) {
	f, ok := best.n.factored(0, leastPivot)
	if !ok {
		return nil, &MarksError{-1, "the marks do not tell where the camera is", "marks that are spread over the picture and do not all lie near one line"}
	}
	p := &Posed{Camera: *c, Pose: Pose{R: best.r, T: b.shift(best)}, ClickSDPx: clickSDPx, lens: b.lens}
	n := float64(len(b.at))
	p.RMSPx = math.Sqrt(best.ss / n)
	if second != nil {
		p.SecondRMSPx = math.Sqrt(second.ss / n)
	}
	for i, at := range b.at {
		expected, _, err := b.lens.project(add(turned(&best.r, at), best.t))
		if err != nil {
			return nil, fmt.Errorf("mark %d: %w", i+1, err) // not so: it was projected in the search
		}
		p.ResidualPx = append(p.ResidualPx, [2]float64{b.pixel[i][0] - expected[0], b.pixel[i][1] - expected[1]})
	}
	p.Covariance = b.covariance(best, &f, clickSDPx)
	p.Bend = b.bend(best, &f, clickSDPx)
	for i := range 6 {
		for j := range 6 {
			if !isFinite(p.Bend) || !isFinite(p.Covariance[i][j]) {
				return nil, &MarksError{-1, "the marks do not tell where the camera is", "marks that are spread over the picture"}
			}
		}
	}
	return p, nil
}

// covariance of ω and T from that of ω and t: T = t − R·middle, which a turn by ω
// moves by −ω × R·middle.
func (b *bundle) covariance(f *candidate, inverse *factor, clickSDPx float64) [6][6]float64 {
	s := inverse.inverse()
	m := turned(&f.r, b.middle)
	var g [6][6]float64
	for i := range 6 {
		g[i][i] = 1
	}
	// −ω × m = m × ω
	g[3][1], g[3][2] = -m[2], m[1]
	g[4][0], g[4][2] = m[2], -m[0]
	g[5][0], g[5][1] = -m[1], m[0]
	var out [6][6]float64
	for i := range 6 {
		for j := i; j < 6; j++ {
			v := clickSDPx * clickSDPx * through(&g[i], &s, &g[j])
			out[i][j], out[j][i] = v, v
		}
	}
	return out
}
