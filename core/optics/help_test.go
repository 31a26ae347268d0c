package optics

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// plain is a camera without distortion and port.
func plain() Camera {
	return Camera{WidthPx: 1920, HeightPx: 1080, FxPx: 1180, FyPx: 1180, CxPx: 960, CyPx: 540}
}

// bent is one with some of every distortion and a port.
func bent() Camera {
	return Camera{
		WidthPx: 1920, HeightPx: 1080, FxPx: 1180, FyPx: 1175, CxPx: 955, CyPx: 548,
		K1: -0.22, K2: 0.06, K3: -0.004, P1: 0.0012, P2: -0.0007, Port: &Port{AirGapM: 0.02, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: 1.34},
	}
}

// overhead looks straight down from a height, with x to the right of the picture:
// a point is seen at cx + f·x/(height − z), cy − f·y/(height − z).
func overhead(heightM float64) Pose {
	return Pose{R: rot{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, T: vec{0, 0, heightM}}
}

// looking is a pose at a centre with a target in the middle of the picture.
func looking(centre, target vec, rollRad float64) Pose {
	z := sub(target, centre)
	z = scaled(1/size(z), z)
	sin, cos := math.Sincos(rollRad)
	side := vec{cos, sin, 0}
	x := sub(side, scaled(dot(side, z), z))
	x = scaled(1/size(x), x)
	r := rot{x, cross(z, x), z}
	return Pose{R: r, T: scaled(-1, turned(&r, centre))}
}

// marksOf are marks as the pose shows them, with clicks off by sd.
func marksOf(t testing.TB, c Camera, pose Pose, at []vec, sd float64, rng *rand.Rand) []Mark {
	t.Helper()
	l := newLens(&c)
	marks := make([]Mark, len(at))
	for i, p := range at {
		pixel, _, err := l.project(pose.inCamera(p))
		if err != nil {
			t.Fatalf("mark %d: %v", i, err)
		}
		if sd > 0 {
			pixel[0] += sd * rng.NormFloat64()
			pixel[1] += sd * rng.NormFloat64()
		}
		marks[i] = Mark{p, pixel}
	}
	return marks
}

var plateCorners = []vec{{0.3, 0.2, 0}, {-0.3, 0.2, 0}, {-0.3, -0.2, 0}, {0.3, -0.2, 0}}

var sixMarks = []vec{{0.3, 0.2, 0}, {-0.3, 0.2, 0}, {-0.3, -0.2, 0}, {0.3, -0.2, 0}, {0.1, 0.05, 0}, {-0.12, 0, 0}}

func near(t numtest.TB, what string, got, want vec, abs float64) {
	t.Helper()
	for i, axis := range [3]string{" x", " y", " z"} {
		numtest.Check(t, what+axis, got[i], want[i], numtest.Tolerance{Abs: abs})
	}
}

func nearPixel(t numtest.TB, what string, got, want [2]float64, abs float64) {
	t.Helper()
	for i, axis := range [2]string{" across", " down"} {
		numtest.Check(t, what+axis, got[i], want[i], numtest.Tolerance{Abs: abs})
	}
}

// anyCamera draws a camera as people have them; of its distortion as much as
// does not fold within the picture is left to chance.
func anyCamera(t *rapid.T) Camera {
	f := rapid.Float64Range(500, 3000).Draw(t, "f")
	c := Camera{
		WidthPx: 1920, HeightPx: 1080, FxPx: f, FyPx: f * rapid.Float64Range(0.9, 1.1).Draw(t, "fy/fx"),
		CxPx: rapid.Float64Range(900, 1020).Draw(t, "cx"), CyPx: rapid.Float64Range(500, 580).Draw(t, "cy"),
		K1: rapid.Float64Range(-0.35, 0.35).Draw(t, "k1"), K2: rapid.Float64Range(-0.1, 0.15).Draw(t, "k2"), K3: rapid.Float64Range(-0.03, 0.03).Draw(t, "k3"),
		P1: rapid.Float64Range(-0.004, 0.004).Draw(t, "p1"), P2: rapid.Float64Range(-0.004, 0.004).Draw(t, "p2"),
	}
	if rapid.Bool().Draw(t, "port") {
		c.Port = &Port{
			AirGapM: rapid.Float64Range(0, 0.1).Draw(t, "air gap"), GlassM: rapid.Float64Range(0, 0.02).Draw(t, "glass"),
			GlassIndex: rapid.Float64Range(1, 1.6).Draw(t, "glass index"), WaterIndex: rapid.Float64Range(1, 1.36).Draw(t, "water index"),
		}
	}
	return c
}

// anyPose draws one above the plate that looks at it.
func anyPose(t *rapid.T) Pose {
	around := rapid.Float64Range(-3, 3).Draw(t, "azimuth")
	out := rapid.Float64Range(0, 1).Draw(t, "beside")
	up := rapid.Float64Range(0.8, 2).Draw(t, "height")
	target := vec{rapid.Float64Range(-0.1, 0.1).Draw(t, "target x"), rapid.Float64Range(-0.1, 0.1).Draw(t, "target y"), 0}
	return looking(vec{out * math.Cos(around), out * math.Sin(around), up}, target, rapid.Float64Range(-3, 3).Draw(t, "roll"))
}

// published is testdata/check/optics/opencv.json: see there for its source.
var published struct {
	Camera  Camera
	SquareM float64 `json:"square_m"`
	RMSPx   float64 `json:"published_rms_px"`
	Views   []struct {
		Picture     string
		Published   float64    `json:"published_rms_px"`
		Extrinsics  [6]float64 `json:"published_extrinsics"`
		RMSPx       float64    `json:"rms_px"`
		Rvec, Tvec  vec
		Pixels      [][2]float64
		Projected   [][2]float64
		Undistorted [][2]float64
	}
	Strong struct {
		Camera      Camera
		Places      []vec
		Projected   [][2]float64
		Undistorted [][2]float64
	}
	Flat struct {
		Places []vec
		Pixels [][2]float64
		Poses  []struct {
			Rvec, Tvec vec
			RMSPx      float64 `json:"rms_px"`
		}
	}
}

func TestMain(m *testing.M) {
	text, err := os.ReadFile("../../testdata/check/optics/opencv.json")
	if err == nil {
		err = json.Unmarshal(text, &published)
	}
	if err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// board is the chessboard's corners in the order of the pixels.
func board(pixels [][2]float64) []Mark {
	marks := make([]Mark, len(pixels))
	for i, p := range pixels {
		marks[i] = Mark{vec{float64(i%9) * published.SquareM, float64(i/9) * published.SquareM, 0}, p}
	}
	return marks
}
