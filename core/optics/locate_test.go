package optics

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// The camera straight above: x = (u − cx)(H − z)/f, so that to first order the
// variance of x is (click·(H − z)/f)² + (x·sd of z/(H − z))² + (x·sd of H/(H − z))²,
// and its covariance with z is −x·(sd of z)²/(H − z).
func TestLocateOverheadInClosedForm(t *testing.T) {
	const height, z, click, sdZ, sdH = 1.5, 0.12, 0.8, 0.02, 0.03
	p := &Posed{Camera: plain(), Pose: overhead(height), ClickSDPx: click}
	p.Covariance[5][5] = sdH * sdH
	at, err := p.Locate([2]float64{1200, 400}, z, sdZ)
	if err != nil {
		t.Fatal(err)
	}
	x, y := 240*(height-z)/1180, 140*(height-z)/1180
	near(t, "at", at.AtM, vec{x, y, z}, 1e-12)
	tight := numtest.Tolerance{Rel: 1e-10}
	square := func(v float64) float64 { return v * v }
	both := square(sdZ/(height-z)) + square(sdH/(height-z))
	c := &at.CovarianceM2
	numtest.Check(t, "xx", c[0][0], square(click*(height-z)/1180)+x*x*both, tight)
	numtest.Check(t, "yy", c[1][1], square(click*(height-z)/1180)+y*y*both, tight)
	numtest.Check(t, "xy", c[0][1], x*y*both, tight)
	numtest.Check(t, "xz", c[0][2], -x*sdZ*sdZ/(height-z), tight)
	numtest.Check(t, "zz", c[2][2], sdZ*sdZ, tight)

	// The pinhole is where T says: its covariance is that of T, turned.
	numtest.Check(t, "height of the pinhole", p.CentreCovarianceM2()[2][2], sdH*sdH, tight)
}

// A ruler in the plate's plane makes what swims z above it H/(H − z) too large
// (similar triangles; the table of the project's reference notes).
func TestHeightParallax(t *testing.T) {
	for _, row := range []struct{ height, z, ratio float64 }{{1.5, 0.05, 1.0345}, {1.5, 0.10, 1.0714}, {3, 0.1, 1.0345}} {
		p := &Posed{Camera: plain(), Pose: overhead(row.height)}
		pixel, err := p.Project(vec{0.2, -0.1, row.z})
		if err != nil {
			t.Fatal(err)
		}
		ruler, err1 := p.Locate(pixel, 0, 0)
		right, err2 := p.Locate(pixel, row.z, 0)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		near(t, "at its height", right.AtM, vec{0.2, -0.1, row.z}, 1e-12)
		numtest.Check(t, "ruler over truth", math.Hypot(ruler.AtM[0], ruler.AtM[1])/math.Hypot(0.2, 0.1), row.ratio, numtest.Tolerance{Abs: 5e-5})
		numtest.Check(t, "ruler over truth", ruler.AtM[0]/0.2, row.height/(row.height-row.z), numtest.Tolerance{Rel: 1e-12})
	}
}

func TestLocateRefusesWhatMeetsNoHeight(t *testing.T) {
	low := &Posed{Camera: plain(), Pose: looking(vec{0, -2, 0.5}, vec{0, 0, 0.5}, 0), ClickSDPx: 1} // along the plate
	down := &Posed{Camera: plain(), Pose: overhead(1.5), ClickSDPx: 1}
	folded := *down
	folded.Camera.K1 = -0.5
	for _, row := range []struct {
		name   string
		p      *Posed
		pixel  [2]float64
		height float64
		sd     float64
		want   string
	}{
		{"along the plate", low, [2]float64{960, 540}, 0.1, 0, "less than 1°"},
		{"just below the horizon", low, [2]float64{960, 550}, 0.1, 0, "less than 1°"},
		{"up", low, [2]float64{960, 200}, 0.1, 0, "looks up from 0.5 m, and never meets the height of 0.1 m"},
		{"above the camera", down, [2]float64{960, 540}, 2, 0, "looks down from 1.5 m, and never meets the height of 2 m"},
		{"at the camera", down, [2]float64{960, 540}, 1.5, 0, "never meets"},
		{"beyond the fold", &folded, [2]float64{0, 0}, 0, 0, "folds back"},
		{"a height that is none", down, [2]float64{960, 540}, math.NaN(), 0, "a height of NaN m"},
		{"a deviation that is none", down, [2]float64{960, 540}, 0, -1, "standard deviation of -1 m"},
		{"a pixel that is none", down, [2]float64{math.NaN(), 540}, 0, 0, "not a finite number"},
	} {
		at, err := row.p.Locate(row.pixel, row.height, row.sd)
		if err == nil || !strings.Contains(err.Error(), row.want) || at != (Position{}) {
			t.Errorf("%s: %v, %v; want %q", row.name, at, err, row.want)
		}
	}
	if at, err := low.Locate([2]float64{960, 540 + 1180*math.Tan(1.1*math.Pi/180)}, 0.1, 0); err != nil || at.AtM[1] < 15 {
		t.Errorf("just steep enough: %v, %v", at, err)
	}
}

// What Locate finds is seen at the pixel; the covariance is symmetric and has no
// negative direction; turning, shifting and lifting the whole season turns,
// shifts and lifts the answers.
func TestLocateInAnySeasonFrame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, pose := anyCamera(t), anyPose(t)
		l := newLens(&c)
		var marks []Mark
		for i, at := range sixMarks {
			pixel, _, err := l.project(pose.inCamera(at))
			if err != nil {
				t.Skip("not in sight")
			}
			pixel[0] += math.Sin(float64(3 * i))
			pixel[1] += math.Cos(float64(5 * i))
			marks = append(marks, Mark{at, pixel})
		}
		p, err := Fit(c, marks, 1)
		if err != nil {
			t.Fatal(err)
		}
		truth := vec{rapid.Float64Range(-0.3, 0.3).Draw(t, "x"), rapid.Float64Range(-0.3, 0.3).Draw(t, "y"), rapid.Float64Range(0, 0.3).Draw(t, "z")}
		pixel, err := p.Project(truth)
		if err != nil {
			t.Skip("not in sight")
		}
		at, err := p.Locate(pixel, truth[2], 0.02)
		if err != nil {
			if errors.Is(err, errFlat) {
				t.Skip("too flat")
			}
			t.Fatal(err)
		}
		near(t, "at", at.AtM, truth, 1e-8)
		cov := at.CovarianceM2
		if !psd(&cov) {
			t.Errorf("covariance %v", cov)
		}

		turn := rotation(vec{0, 0, rapid.Float64Range(-3, 3).Draw(t, "turn")})
		shift := vec{rapid.Float64Range(-50, 50).Draw(t, "shift x"), rapid.Float64Range(-50, 50).Draw(t, "shift y"), rapid.Float64Range(0, 3).Draw(t, "lift")}
		moved := make([]Mark, len(marks))
		for i, m := range marks {
			moved[i] = Mark{add(turned(&turn, m.AtM), shift), m.Pixel}
		}
		q, err := Fit(c, moved, 1)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "rms", q.RMSPx, p.RMSPx, numtest.Tolerance{Rel: 1e-7})
		other, err := q.Locate(pixel, truth[2]+shift[2], 0.02)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "moved", other.AtM, add(turned(&turn, at.AtM), shift), 1e-7)
		half := product(&turn, &cov)
		want := product(&half, ptr(transposed(&turn)))
		for i := range 3 {
			for j := range 3 {
				numtest.Check(t, "covariance", other.CovarianceM2[i][j], want[i][j], numtest.Tolerance{Abs: 1e-6 * (cov[0][0] + cov[1][1] + cov[2][2])})
			}
		}
	})
}

// psd: symmetric to the bit, and its determinants from the top left are not
// negative, to rounding.
func psd(c *rot) bool {
	for i := range 3 {
		for j := range 3 {
			if c[i][j] != c[j][i] || !isFinite(c[i][j]) {
				return false
			}
		}
	}
	trace := c[0][0] + c[1][1] + c[2][2]
	det := dot(c[0], cross(c[1], c[2]))
	return c[0][0] >= 0 && c[1][1] >= 0 && c[2][2] >= 0 && c[0][0]*c[1][1]-c[0][1]*c[0][1] >= -1e-15*trace*trace && det >= -1e-15*trace*trace*trace
}

// The height of a head 12 cm wide, straight above: f·width/pixels below the
// camera; the deviation by the same formula.
func TestHeightOfOverheadInClosedForm(t *testing.T) {
	const height, width, click, sdW = 1.5, 0.12, 0.7, 0.004
	p := &Posed{Camera: plain(), Pose: overhead(height), ClickSDPx: click}
	const z = 0.2
	const pixels = 1180 * width / (height - z)
	got, sd, err := p.HeightOf([2]float64{700, 300}, [2]float64{700 + pixels*0.6, 300 + pixels*0.8}, width, sdW)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "height", got, z, numtest.Tolerance{Abs: 1e-12})
	// H − z = f·w/d: relative variances of w and of d, whose own is 2 click².
	want := (height - z) * math.Sqrt(sdW*sdW/(width*width)+2*click*click/(pixels*pixels))
	numtest.Check(t, "sd", sd, want, numtest.Tolerance{Rel: 1e-10})
}

func TestHeightOfRefusesWhatHasNoHeight(t *testing.T) {
	down := &Posed{Camera: plain(), Pose: overhead(1.5), ClickSDPx: 1}
	port := &Posed{Camera: bent(), Pose: overhead(1.5), ClickSDPx: 1}
	low := &Posed{Camera: plain(), Pose: looking(vec{0, -2, 0.5}, vec{0, 0, 0.5}, 0), ClickSDPx: 1}
	for _, row := range []struct {
		name       string
		p          *Posed
		a, b       [2]float64
		length, sd float64
		want       string
	}{
		{"one pixel", down, [2]float64{900, 500}, [2]float64{900, 500}, 0.1, 0, "parallel lines"},
		{"no length", down, [2]float64{900, 500}, [2]float64{950, 500}, 0, 0, "a length of 0 m"},
		{"a length that is none", down, [2]float64{900, 500}, [2]float64{950, 500}, math.NaN(), 0, "a length of NaN m"},
		{"a deviation that is none", down, [2]float64{900, 500}, [2]float64{950, 500}, 0.1, math.Inf(1), "deviation of +Inf m"},
		{"nearer than the glass", port, [2]float64{400, 500}, [2]float64{1400, 500}, 0.005, 0, "nowhere in front of the camera 0.005 m apart"},
		{"along the plate", low, [2]float64{900, 540}, [2]float64{950, 540}, 0.1, 0, "less than 1°"},
		{"one up, one down", low, [2]float64{960, 200}, [2]float64{960, 800}, 0.1, 0, "nowhere in front"},
	} {
		h, sd, err := row.p.HeightOf(row.a, row.b, row.length, row.sd)
		if err == nil || !strings.Contains(err.Error(), row.want) || h != 0 || sd != 0 {
			t.Errorf("%s: %g, %g, %v; want %q", row.name, h, sd, err, row.want)
		}
	}
	// Skew lines never meet: x and y of the two differ by (1, h), so 1 at least.
	a := line{vec{1, 0, 0}, vec{0, math.Sqrt2 / 2, math.Sqrt2 / 2}}
	b := line{vec{0, 0, 0}, vec{0, 0, 1}}
	if _, err := apart(a, b, 0.8); err == nil || !strings.Contains(err.Error(), "never as near as 0.8 m") || !strings.Contains(err.Error(), "at least 1 m") {
		t.Errorf("skew lines: %v", err)
	}
	if h, err := apart(a, b, math.Sqrt(5)); err != nil || math.Abs(h-2) > 1e-12 {
		t.Errorf("skew lines √5 apart at %g, %v; want at 2", h, err)
	}
}

// Whatever the camera: the height of two points that are equally high.
func TestHeightOfFindsAnyHeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &Posed{Camera: anyCamera(t), Pose: anyPose(t), ClickSDPx: 0.5}
		z := rapid.Float64Range(0, 0.4).Draw(t, "z")
		a := vec{rapid.Float64Range(-0.3, 0.3).Draw(t, "x"), rapid.Float64Range(-0.3, 0.3).Draw(t, "y"), z}
		sin, cos := math.Sincos(rapid.Float64Range(-3, 3).Draw(t, "heading"))
		length := rapid.Float64Range(0.05, 0.2).Draw(t, "length")
		b := add(a, vec{length * cos, length * sin, 0})
		pa, err1 := p.Project(a)
		pb, err2 := p.Project(b)
		if err1 != nil || err2 != nil {
			t.Skip("not in sight")
		}
		h, sd, err := p.HeightOf(pa, pb, length, 0.002)
		if err != nil {
			if errors.Is(err, errFlat) {
				t.Skip("too flat")
			}
			t.Fatal(err)
		}
		// To rounding: where the length says little of the height, less is left.
		numtest.Check(t, "height", h, z, numtest.Tolerance{Abs: 1e-8 * math.Max(1, sd)})
		if !(sd > 0.002/length*0.3) {
			t.Errorf("a deviation of %g m", sd)
		}
	})
}

// The same marks and the same bits: nothing is left to chance.
func TestFitIsTheSameTwice(t *testing.T) {
	rng := numeric.Stream(9, "twice")
	marks := marksOf(t, bent(), looking(vec{0.4, -0.5, 1.3}, vec{}, 1), sixMarks, 1, rng)
	a, err1 := Fit(bent(), marks, 1)
	b, err2 := Fit(bent(), marks, 1)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if a.Pose != b.Pose || a.Covariance != b.Covariance || a.RMSPx != b.RMSPx {
		t.Error("two fits of the same marks differ")
	}
}
