package cliptest_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/optics"
	"brinefield/internal/cliptest"
)

// cameraOf hands the numbers of a lens to the code that is tested; nothing else
// goes from one to the other.
func cameraOf(l cliptest.Lens) optics.Camera {
	c := optics.Camera{
		WidthPx: l.WidthPx, HeightPx: l.HeightPx, FxPx: l.FxPx, FyPx: l.FyPx, CxPx: l.CxPx, CyPx: l.CyPx, K1: l.K1, K2: l.K2, K3: l.K3, P1: l.P1, P2: l.P2,
	}
	if p := l.Port; p != nil {
		c.Port = &optics.Port{AirGapM: p.AirGapM, GlassM: p.GlassM, GlassIndex: p.GlassIndex, WaterIndex: p.WaterIndex}
	}
	return c
}

// centre of a light spot near a pixel: the mean of the pixels within reach,
// weighted by how much lighter they are than what lies round them.
func centre(y []byte, w, h int, near [2]float64, reach int) (at [2]float64, ok bool) {
	for range 2 { // the second time round the centre that was found
		ci, cj := int(math.Round(near[0])), int(math.Round(near[1]))
		if ci < reach+3 || cj < reach+3 || ci >= w-reach-3 || cj >= h-reach-3 {
			return at, false
		}
		var ring []float64
		for j := -reach - 3; j <= reach+3; j++ {
			for i := -reach - 3; i <= reach+3; i++ {
				if r := math.Hypot(float64(i), float64(j)); r > float64(reach) && r < float64(reach)+3 {
					ring = append(ring, float64(y[(cj+j)*w+ci+i]))
				}
			}
		}
		slices.Sort(ring)
		back, most := ring[len(ring)/2], 0.0
		for j := -2; j <= 2; j++ {
			for i := -2; i <= 2; i++ {
				most = math.Max(most, float64(y[(cj+j)*w+ci+i])-back)
			}
		}
		if most < 15 || ring[len(ring)*9/10] > back+0.5*most { // nothing there, or another light thing beside it
			return at, false
		}
		var sum, sx, sy float64
		for j := -reach; j <= reach; j++ {
			for i := -reach; i <= reach; i++ {
				if v := float64(y[(cj+j)*w+ci+i]) - back - 0.3*most; v > 0 && math.Hypot(float64(i), float64(j)) <= float64(reach) {
					sum, sx, sy = sum+v, sx+v*float64(i), sy+v*float64(j)
				}
			}
		}
		near = [2]float64{float64(ci) + sx/sum, float64(cj) + sy/sum}
	}
	return near, true
}

// seen is what was found in the decoded pictures of a clip, beside its truth.
type seen struct {
	marks  [][]optics.Mark // by pose
	snouts []snout
	clicks []float64 // distances of what was found from the truth, px
	missed int
}

type snout struct {
	frame, pose int
	pixel       [2]float64
	at          cliptest.V
}

// look renders a scene, compresses and decodes it, and finds marks and snouts in
// the pictures. Marks are the mean of all frames of a pose in which they are seen.
func look(t *testing.T, s *cliptest.Scene, e cliptest.Encoding, reach int) *seen {
	t.Helper()
	path := filepath.Join(t.TempDir(), "clip.mp4")
	if err := s.Write(path, e, 0, 0); err != nil {
		t.Fatal(err)
	}
	truth := s.Truth()
	w, h := s.Lens.WidthPx, s.Lens.HeightPx
	out := &seen{marks: make([][]optics.Mark, len(s.Poses))}
	sums := make([][][3]float64, len(s.Poses))
	for i := range sums {
		sums[i] = make([][3]float64, len(s.Marks))
	}
	frames := 0
	err := cliptest.Luma(path, w, h, func(k int, y []byte) error {
		frames++
		pose := s.PoseOf(k)
		for i, m := range truth.Marks {
			if p := m.Pixels[pose]; p != nil {
				if at, ok := centre(y, w, h, *p, reach); ok && math.Hypot(at[0]-p[0], at[1]-p[1]) < 2 {
					sum := &sums[pose][i]
					sum[0], sum[1], sum[2] = sum[0]+at[0], sum[1]+at[1], sum[2]+1
				}
			}
		}
		for _, a := range truth.Frames[k].Animals {
			p, there := a.Points["snout"]
			if !there || nearMark(truth, pose, p.Pixel, float64(2*reach+3)) || nearOther(truth.Frames[k].Animals, a.Name, p.Pixel, float64(2*reach+3)) {
				continue
			}
			at, ok := centre(y, w, h, p.Pixel, reach)
			if !ok {
				out.missed++
				continue
			}
			out.clicks = append(out.clicks, math.Hypot(at[0]-p.Pixel[0], at[1]-p.Pixel[1]))
			out.snouts = append(out.snouts, snout{k, pose, at, p.AtM})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if frames != len(s.Times) {
		t.Fatalf("%d frames of %d came back", frames, len(s.Times))
	}
	for pose := range sums {
		for i, sum := range sums[pose] {
			if sum[2] >= 3 {
				out.marks[pose] = append(out.marks[pose], optics.Mark{AtM: truth.Marks[i].AtM, Pixel: [2]float64{sum[0] / sum[2], sum[1] / sum[2]}})
			}
		}
	}
	return out
}

func nearMark(t *cliptest.Truth, pose int, p [2]float64, px float64) bool {
	return slices.ContainsFunc(t.Marks, func(m cliptest.MarkSeen) bool {
		q := m.Pixels[pose]
		return q != nil && math.Hypot(q[0]-p[0], q[1]-p[1]) < px
	})
}

func nearOther(list []cliptest.Seen, name string, p [2]float64, px float64) bool {
	return slices.ContainsFunc(list, func(a cliptest.Seen) bool {
		q, there := a.Points["snout"]
		return a.Name != name && there && math.Hypot(q.Pixel[0]-p[0], q.Pixel[1]-p[1]) < px
	})
}

// scores are errors over their stated standard deviations.
type scores struct {
	sum, most, mostCm float64 // of squares; largest; largest error in the plane
	n                 int
	offCm             float64 // sum of squares of errors in the plane
}

func (r *scores) add(at cliptest.V, got optics.Position) {
	c := got.CovarianceM2
	dx, dy := got.AtM[0]-at[0], got.AtM[1]-at[1]
	det := c[0][0]*c[1][1] - c[0][1]*c[1][0]
	d2 := (dx*dx*c[1][1] - 2*dx*dy*c[0][1] + dy*dy*c[0][0]) / det
	r.sum, r.n = r.sum+d2/2, r.n+1
	r.most = math.Max(r.most, math.Max(math.Abs(dx)/math.Sqrt(c[0][0]), math.Abs(dy)/math.Sqrt(c[1][1])))
	cm := 100 * math.Hypot(dx, dy)
	r.mostCm = math.Max(r.mostCm, cm)
	r.offCm += cm * cm
}

func (r *scores) ratio() float64 { return math.Sqrt(r.sum / float64(r.n)) }

func (r *scores) String() string {
	return fmt.Sprintf("%d positions, error/sd %.3f (largest %.2f), root mean square error %.3f cm (largest %.3f)", r.n, r.ratio(), r.most, math.Sqrt(r.offCm/float64(r.n)), r.mostCm)
}

// locate clicks marks and snouts with added errors, fits and locates. A height is
// stated with an error of heightSD where that is above 0.
func locate(t *testing.T, s *cliptest.Scene, f *seen, rng *rand.Rand, added, stated, heightSD float64, into *scores) {
	t.Helper()
	camera := cameraOf(s.Lens)
	noisy := func(p [2]float64) [2]float64 {
		return [2]float64{p[0] + added*rng.NormFloat64(), p[1] + added*rng.NormFloat64()}
	}
	var posed []*optics.Posed
	for _, list := range f.marks {
		marks := slices.Clone(list)
		for i := range marks {
			marks[i].Pixel = noisy(marks[i].Pixel)
		}
		p, err := optics.Fit(camera, marks, stated)
		if err != nil {
			t.Fatal(err)
		}
		posed = append(posed, p)
	}
	for _, q := range f.snouts {
		at, err := posed[q.pose].Locate(noisy(q.pixel), q.at[2]+heightSD*rng.NormFloat64(), heightSD)
		if err != nil {
			t.Fatal(err)
		}
		into.add(q.at, at)
	}
}

// TestPicturesToPlaces goes the whole way: two animals at known heights over a
// plate with marks, through distortion, a port, murk, noise and H.264, back to
// places in the season's frame. The truth is the renderer's, which shares no code
// with core/optics. Bounds: each position within 4 of its stated standard
// deviations, and their root mean square between 0.7 and 1.3 of it.
func TestPicturesToPlaces(t *testing.T) {
	s := cliptest.Two(480, 270, cliptest.Constant(40, 20))
	f := look(t, s, cliptest.Encoding{CRF: 20}, 6)
	report(t, s, f, 20)
}

func report(t *testing.T, s *cliptest.Scene, f *seen, draws int) {
	t.Helper()
	if len(f.marks[0]) < 10 || len(f.snouts) < len(s.Times)/2 || f.missed > len(f.snouts)/10 {
		t.Fatalf("%d marks, %d snouts found, %d missed", len(f.marks[0]), len(f.snouts), f.missed)
	}
	clicks := 0.0
	for _, d := range f.clicks {
		clicks += d * d / 2 / float64(len(f.clicks))
	}
	clicks = math.Sqrt(clicks)
	t.Logf("spots are found to %.3f px in each direction, largest distance %.2f px", clicks, slices.Max(f.clicks))
	if clicks > 0.25 {
		t.Errorf("the spots in the pictures are %.2f px from where the truth has them: the renderer, or the finding", clicks)
	}
	const click = 0.7
	var exact, one, many, high scores
	locate(t, s, f, numeric.Stream(1, "exact"), 0, math.Max(clicks, 0.05), 0, &exact)
	t.Logf("clicks as found: %v", &exact)
	if exact.most > 4.5 {
		t.Errorf("without added errors a position is %.2f of its standard deviations off", exact.most)
	}
	locate(t, s, f, numeric.Stream(1, "one"), click, click, 0, &one)
	t.Logf("clicks ± %g px: %v", click, &one)
	if one.most > 4 {
		t.Errorf("a position is %.2f of its standard deviations off", one.most)
	}
	rng := numeric.Stream(2, "many")
	for range draws {
		locate(t, s, f, rng, click, click, 0, &many)
		locate(t, s, f, rng, click, click, 0.02, &high)
	}
	t.Logf("clicks ± %g px, %d times: %v", click, draws, &many)
	t.Logf("and heights ± 2 cm: %v", &high)
	for _, r := range []*scores{&many, &high} {
		if r.ratio() < 0.7 || r.ratio() > 1.3 {
			t.Errorf("errors are %.2f of what is stated", r.ratio())
		}
	}
}
