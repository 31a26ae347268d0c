package footage_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/footage"
	"brinefield/core/numeric"
)

// pathFixes are fixes of a path at some frames of 0.04 s, and filled ones in all
// frames between.
func pathFixes(anchors []int, at func(s float64) [2]float64) []footage.Fix {
	var fixes []footage.Fix
	for i, frame := range anchors {
		fixes = append(fixes, footage.Fix{Point: footage.Snout, Frame: frame, ClipS: float64(frame) * 0.04, Pixel: at(float64(frame) * 0.04), How: footage.Placed})
		if i+1 < len(anchors) {
			for f := frame + 1; f < anchors[i+1]; f++ {
				fixes = append(fixes, footage.Fix{Point: footage.Snout, Frame: f, ClipS: float64(f) * 0.04, Pixel: [2]float64{-9, -9}, How: footage.Filled})
			}
		}
	}
	return fixes
}

// A parabola in time comes back from any anchors that are no farther apart than
// twice their neighbours; two anchors alone give the straight line.
func TestFillingGivesParabolasBack(t *testing.T) {
	path := func(s float64) [2]float64 { return [2]float64{100 + 30*s - 9*s*s, 400 - 5*s + 3*s*s} }
	for i, w := range footage.Fill(pathFixes([]int{0, 25, 45, 70, 80, 101}, path), nil, 1) {
		f := pathFixes([]int{0, 25, 45, 70, 80, 101}, path)[i]
		want := path(f.ClipS)
		if d := math.Hypot(w.Pixel[0]-want[0], w.Pixel[1]-want[1]); d > 1e-9 || !w.OK {
			t.Errorf("frame %d: off by %g px", f.Frame, d)
		}
	}
	two := footage.Fill(pathFixes([]int{0, 10}, path), nil, 0.5)
	a, b := path(0), path(0.4)
	middle := two[5]
	if d := math.Hypot(middle.Pixel[0]-(a[0]+b[0])/2, middle.Pixel[1]-(a[1]+b[1])/2); d > 1e-9 {
		t.Errorf("the middle of two: off the line by %g px", d)
	}
	// Closed form: half of two clicks, and an eighth of the way between the two.
	want := math.Hypot(0.5/math.Sqrt2, math.Hypot(b[0]-a[0], b[1]-a[1])/8)
	if math.Abs(middle.SDPx-want) > 1e-9 {
		t.Errorf("sd in the middle of two: %g px, want %g", middle.SDPx, want)
	}
}

func TestNothingIsFilledBeyondOrAcross(t *testing.T) {
	fixes := pathFixes([]int{10, 20}, func(s float64) [2]float64 { return [2]float64{s, s} })
	fixes = append(fixes,
		footage.Fix{Point: footage.Snout, Frame: 30, ClipS: 1.2, How: footage.Filled},
		footage.Fix{Point: footage.Snout, Frame: 5, ClipS: 0.2, How: footage.Filled},
		footage.Fix{Point: footage.Eye, Frame: 15, ClipS: 0.6, How: footage.Filled})
	for i, w := range footage.Fill(fixes, nil, 1) {
		if want := i < len(fixes)-3; w.OK != want {
			t.Errorf("%s in frame %d: filled %v", fixes[i].Point, fixes[i].Frame, w.OK)
		}
	}
	for i, w := range footage.Fill(fixes[:11], []int{0, 15}, 1) { // the camera moved at frame 15
		if want := fixes[i].How == footage.Placed; w.OK != want {
			t.Errorf("frame %d: filled %v across a cut", fixes[i].Frame, w.OK)
		}
	}
}

// An integrated random walk, the model itself, clicked with errors: the squared
// error over sd² is 1 on average, for gaps of 0.2 to 1.6 s. (40 paths of 24 anchors;
// the mean of some 10 000 correlated ratios of the estimated q scatters by less than
// 0.1 between seeds.)
func TestTheStandardDeviationOfFillingIsHonest(t *testing.T) {
	r := numeric.Stream(1, "filling in")
	const q, click, dt = 900.0, 0.8, 0.04
	var ratio, n, inside float64
	for range 40 {
		var x, v [2]float64
		path := make([][2]float64, 0, 1000)
		for range 1000 {
			path = append(path, x)
			for c := range 2 { // the exact step of position and velocity
				a, b := r.NormFloat64(), r.NormFloat64()
				x[c] += v[c]*dt + math.Sqrt(q*dt*dt*dt)*(a/2+b/math.Sqrt(12))
				v[c] += math.Sqrt(q*dt) * a
			}
		}
		var anchors []int
		for f := 0; f < 600; f += 5 + r.IntN(36) {
			anchors = append(anchors, f)
		}
		clicked := pathFixes(anchors, func(s float64) [2]float64 {
			p := path[int(math.Round(s/dt))]
			return [2]float64{p[0] + click*r.NormFloat64(), p[1] + click*r.NormFloat64()}
		})
		for i, w := range footage.Fill(clicked, nil, click) {
			if clicked[i].How != footage.Filled {
				continue
			}
			truth := path[clicked[i].Frame]
			for c := range 2 {
				z := (w.Pixel[c] - truth[c]) / w.SDPx
				ratio += z * z
				n++
				if math.Abs(z) < 2 {
					inside++
				}
			}
		}
	}
	t.Logf("mean squared ratio %.3f, within 2 sd %.3f, of %.0f", ratio/n, inside/n, n)
	if m := ratio / n; m < 0.8 || m > 1.25 {
		t.Errorf("mean squared error over sd²: %.3f, want 1 within 0.8 to 1.25", m)
	}
	if share := inside / n; share < 0.92 || share > 0.98 {
		t.Errorf("within two sd: %.3f, want 0.954 within 0.92 to 0.98", share)
	}
}

// Smooth curves as an animal swims them: 95 % of the filled places are within
// two sd, in every gap that samples the curve at all.
func TestFillingOfSmoothCurves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := rapid.Float64Range(4, 20).Draw(t, "period")
		radius := rapid.Float64Range(20, 400).Draw(t, "radius")
		step := rapid.IntRange(3, 12).Draw(t, "step") // 0.12 to 0.48 s
		curve := func(s float64) [2]float64 {
			a := 2 * math.Pi * s / period
			return [2]float64{radius * math.Cos(a), radius*math.Sin(a) + 50*s}
		}
		var anchors []int
		for f := 0; f <= 20*step; f += step {
			anchors = append(anchors, f)
		}
		fixes := pathFixes(anchors, curve)
		within, n := 0, 0
		for i, w := range footage.Fill(fixes, nil, 0.5) {
			if fixes[i].How != footage.Filled {
				continue
			}
			want := curve(fixes[i].ClipS)
			n++
			if math.Hypot(w.Pixel[0]-want[0], w.Pixel[1]-want[1]) < 2*w.SDPx {
				within++
			}
		}
		if float64(within) < 0.95*float64(n) {
			t.Errorf("%d of %d within two sd", within, n)
		}
	})
}
