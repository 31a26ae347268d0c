package conduction

import (
	"flag"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric"
)

// fewCases is rapid.Check for tests whose cases take tenths of a second: one
// in twenty of -rapid.checks, that is 5 usually and 50 in make soak. A case that fails
// is drawn again as often as its shrinking asks for.
func fewCases(t *testing.T, check func(t *rapid.T)) {
	t.Helper()
	cases := 5
	if f := flag.Lookup("rapid.checks"); f != nil {
		if n, err := strconv.Atoi(f.Value.String()); err == nil {
			cases = max(1, n/20)
		}
	}
	done, failed := 0, false
	rapid.Check(t, func(t *rapid.T) {
		if done >= cases && !failed {
			return
		}
		done++
		defer func() { failed = failed || t.Failed() }()
		check(t)
	})
}

// drawSea invents deep water or a few metres of it over sediment in one or two
// layers, of which the lower may insulate.
func drawSea(t *rapid.T) Medium {
	logUniform := func(lo, hi float64, name string) float64 {
		return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
	}
	m := Medium{WaterSPerM: logUniform(0.05, 6, "water"), DepthM: math.Inf(1)}
	if rapid.Bool().Draw(t, "air") {
		m.DepthM = logUniform(0.8, 10, "depth")
	}
	if rapid.Bool().Draw(t, "two layers") {
		m.Layers = append(m.Layers, Layer{logUniform(0.4, 3, "thickness"), m.WaterSPerM * logUniform(0.05, 1, "sand")})
	}
	below := m.WaterSPerM * logUniform(0.02, 1, "below")
	if len(m.Layers) == 1 && rapid.Bool().Draw(t, "rock") {
		below = 0
	}
	m.Layers = append(m.Layers, Layer{math.Inf(1), below})
	return m
}

// drawPlate is a board or a disc, thin or up to 3 cm thick, flush, proud,
// buried, or with its bottom in the sediment and its top in the water.
func drawPlate(t *rapid.T, name string) Plate {
	p := Plate{YawDeg: rapid.Float64Range(-180, 180).Draw(t, name+" yaw")}
	p.ThicknessM = rapid.SampledFrom([]float64{0, 0, 0.003, 0.01, 0.03}).Draw(t, name+" thickness")
	p.SizeXM = rapid.Float64Range(0.3, 0.6).Draw(t, name+" size x")
	p.SizeYM = p.SizeXM * rapid.Float64Range(0.6, 1).Draw(t, name+" size y/x")
	if rapid.Bool().Draw(t, name+" disc") {
		p.DiameterM, p.SizeXM, p.SizeYM = p.SizeXM, 0, 0
	}
	switch rapid.SampledFrom([]string{"flush", "proud", "buried", "between"}).Draw(t, name+" lies") {
	case "proud":
		p.TopM = p.ThicknessM + rapid.SampledFrom([]float64{0, 0.05}).Draw(t, name+" stands")
	case "buried":
		p.TopM = -rapid.SampledFrom([]float64{0.005, 0.02, 0.1}).Draw(t, name+" under")
	case "between":
		p.TopM = p.ThicknessM / 2
	}
	return p
}

// drawPair lies on a plate, near its middle, 2 cm long.
func drawPair(t *rapid.T, p Plate, name string) Pair {
	out := Pair{SeparationM: 0.02, AzimuthDeg: rapid.Float64Range(0, 360).Draw(t, name+" azimuth")}
	reach := 0.15 * math.Max(math.Min(p.SizeXM, p.SizeYM), p.DiameterM)
	u, v := rapid.Float64Range(-reach, reach).Draw(t, name+" u"), rapid.Float64Range(-reach, reach).Draw(t, name+" v")
	out.Centre = p.place(u, v, 0)
	return out
}

// place takes a place in the plate's own frame, z from its top, to the field's.
func (pl *Plate) place(u, v, z float64) Point {
	sin, cos := numeric.SinCosDeg(pl.YawDeg)
	return Point{pl.CentreXM + cos*u - sin*v, pl.CentreYM + sin*u + cos*v, pl.TopM + z}
}

func solvedOnPlates(t *rapid.T, m Medium, plates []Plate, electrodes []Electrode, tolerance float64, points ...Point) *PlateSolution {
	s, err := SolveOnPlates(m, plates, electrodes, PlateOptions{RelativeTolerance: tolerance, Points: points})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func potentialDifference(t *rapid.T, s *PlateSolution, e []Electrode) float64 {
	v := make([]float64, 2)
	if err := s.Potentials(v, []Point{e[0].At, e[1].At}); err != nil {
		t.Fatal(err)
	}
	return v[0] - v[1]
}

// checkReciprocal: the voltage that a current through one pair makes between the
// electrodes of another is that which the same current through the other makes
// at the one. What may be missing is what the two solutions say of themselves,
// judged at the other pair: the field there, and its error, over the pair's length; times
// slack.
func checkReciprocal(t *rapid.T, m Medium, plates []Plate, a, b Pair, tolerance, slack float64) {
	ea, eb := a.Electrodes(1), b.Electrodes(1)
	sa, sb := solvedOnPlates(t, m, plates, ea, tolerance, b.Centre), solvedOnPlates(t, m, plates, eb, tolerance, a.Centre)
	there, back := potentialDifference(t, sa, eb), potentialDifference(t, sb, ea)
	fa, err := sa.FieldAt(b.Centre)
	fb, err2 := sb.FieldAt(a.Centre)
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	allowed := slack * (sa.RelativeError()*fa.Norm()*b.SeparationM + sb.RelativeError()*fb.Norm()*a.SeparationM)
	if d := math.Abs(there - back); !(d <= allowed) {
		t.Fatalf("%g V there, %g V back: %.2g apart, the solutions allow %.2g (they say %.2g and %.2g)", there, back, d, allowed, sa.RelativeError(), sb.RelativeError())
	}
}

// On a plate's own face, where electrodes lie and no animal's head is, the change from
// mesh to mesh says less of the error: by 3.6 times was seen (in the middle of a disc). toFace
// is what fields are solved to there, as it takes finer meshes than any place over it.
const (
	toFace    = 0.1
	faceSlack = 6
)

// Two pairs in the water over a plate or beside it. Source: reciprocity of ohmic
// media.
func TestReciprocityInTheWater(t *testing.T) {
	fewCases(t, func(t *rapid.T) {
		m, p := drawSea(t), drawPlate(t, "plate")
		a, b := drawPair(t, p, "a"), drawPair(t, p, "b")
		a.Centre.Z = math.Max(p.TopM, 0) + rapid.Float64Range(0.06, 0.3).Draw(t, "a over it")
		b.Centre.Z = math.Max(p.TopM, 0) + rapid.Float64Range(0.06, 0.3).Draw(t, "b over it")
		b.Centre.X += rapid.Float64Range(0.1, 0.4).Draw(t, "beside it")
		checkReciprocal(t, m, []Plate{p}, a, b, 0.01, 1)
	})
}

// A pair on the plate and one in the water over it. Source: reciprocity of ohmic
// media.
func TestReciprocityOverAPlate(t *testing.T) {
	fewCases(t, func(t *rapid.T) {
		m, p := drawSea(t), drawPlate(t, "plate")
		a, b := drawPair(t, p, "a"), drawPair(t, p, "b")
		b.Centre.Z = math.Max(p.TopM, 0) + rapid.Float64Range(0.06, 0.3).Draw(t, "over it")
		checkReciprocal(t, m, []Plate{p}, a, b, toFace, faceSlack)
	})
}

// Two pairs on one plate. Source: reciprocity of ohmic media.
func TestReciprocityOnOnePlate(t *testing.T) {
	long(t)
	fewCases(t, func(t *rapid.T) {
		m, p := drawSea(t), drawPlate(t, "plate")
		a, b := drawPair(t, p, "a"), drawPair(t, p, "b")
		a.Centre, b.Centre = p.place(-0.06, 0.01, 0), p.place(0.05, -0.02, 0)
		checkReciprocal(t, m, []Plate{p}, a, b, toFace, faceSlack)
	})
}

// Source: reciprocity of ohmic media. Plates stand 5 cm apart or more.
func TestReciprocityBetweenPlates(t *testing.T) {
	long(t)
	fewCases(t, func(t *rapid.T) {
		m, p, q := drawSea(t), drawPlate(t, "p"), drawPlate(t, "q")
		p.TopM = q.TopM
		q.CentreXM = (p.extent()+q.extent())/2 + rapid.SampledFrom([]float64{0.05, 0.3}).Draw(t, "gap")
		checkReciprocal(t, m, []Plate{p, q}, drawPair(t, p, "a"), drawPair(t, q, "b"), toFace, faceSlack)
	})
}

// bit is a piece of a closed surface: a place, the outward normal, and its
// area.
type bit struct {
	at     Point
	normal Vector
	area   float64
}

// boxOn is a box on a plate's top (or under its bottom, down), in the plate's own
// frame, without the side that is the plate: in product Gauss points.
func boxOn(p *Plate, u0, u1, v0, v1, height float64, down bool) (out []bit) {
	rule := legendre01(6)
	base, dir := 0.0, 1.0
	if down {
		base, dir = -p.ThicknessM, -1
	}
	origin := p.place(0, 0, 0)
	turn := func(x, y, z float64) Vector {
		q := p.place(x, y, z)
		return Vector{q.X - origin.X, q.Y - origin.Y, q.Z - origin.Z}
	}
	// Each side has Gauss points in four pieces, denser towards the plate.
	cuts := func(lo, hi float64, grow bool) (x, w []float64) {
		edges := []float64{0, 0.25, 0.5, 0.75, 1}
		if grow {
			edges = []float64{0, 0.05, 0.15, 0.4, 1}
		}
		for k := range 4 {
			for n := range rule.x {
				x = append(x, lo+(hi-lo)*(edges[k]+(edges[k+1]-edges[k])*rule.x[n]))
				w = append(w, (hi-lo)*(edges[k+1]-edges[k])*rule.w[n])
			}
		}
		return x, w
	}
	us, uw := cuts(u0, u1, false)
	vs, vw := cuts(v0, v1, false)
	hs, hw := cuts(0, height, true)
	for j, v := range vs {
		for i, u := range us {
			out = append(out, bit{p.place(u, v, base+dir*height), Vector{Z: dir}, uw[i] * vw[j]})
		}
		for k, h := range hs {
			out = append(out, bit{p.place(u0, v, base+dir*h), turn(-1, 0, 0), vw[j] * hw[k]}, bit{p.place(u1, v, base+dir*h), turn(1, 0, 0), vw[j] * hw[k]})
		}
	}
	for i, u := range us {
		for k, h := range hs {
			out = append(out, bit{p.place(u, v0, base+dir*h), turn(0, -1, 0), uw[i] * hw[k]}, bit{p.place(u, v1, base+dir*h), turn(0, 1, 0), uw[i] * hw[k]})
		}
	}
	return out
}

// through is the current out of a surface, and what crosses it in all.
func through(t testing.TB, s *PlateSolution, surface []bit) (out, all float64) {
	t.Helper()
	points := make([]Point, len(surface))
	for k, b := range surface {
		points[k] = b.at
	}
	_, e := plateBoth(t, s, points)
	for k, b := range surface {
		slab, _ := s.check.stack.slabAt(b.at.Z)
		j := s.check.stack.slabs[slab].sigma * dotOf(e[k], b.normal) * b.area
		out += j
		all += math.Abs(j)
	}
	return out, all
}

// Current is kept, and none of it enters a plate: out of a box that stands on
// the plate round one electrode of a pair comes the electrode's current, out of one that holds
// neither electrode and out of one that hangs under the plate comes nothing. Source: conservation
// of charge; the plate closes each of these boxes. Allowed is twice the solution's own
// estimate of what crosses, and 2e-3 of it for the nearest millimetres to the face, where
// a field is less good. Under the plate, where the field is about a hundredth and nobody asked
// for its error, the estimate counts by the electrode's current.
func TestCurrentRoundPlatesIsConserved(t *testing.T) {
	long(t)
	const current = 1e-5
	for _, c := range plateSettings() {
		p := c.p
		s := solvePlates(t, c.m, []Plate{p}, []Electrode{{At: p.place(0.02, -0.01, 0), CurrentA: current, DiameterM: 0}, {At: p.place(-0.1, 0.03, 0), CurrentA: -current, DiameterM: 0}}, 0.005)
		for _, box := range []struct {
			name    string
			surface []bit
			want    float64
		}{
			{"round the positive electrode", boxOn(&p, -0.03, 0.08, -0.07, 0.06, 0.07, false), current},
			{"round both", boxOn(&p, -0.13, 0.11, -0.09, 0.1, 0.1, false), 0},
			{"round neither", boxOn(&p, 0.05, 0.12, 0.02, 0.1, 0.05, false), 0},
			{"under the plate", boxOn(&p, -0.1, 0.1, -0.05, 0.12, 0.1, true), 0},
		} {
			out, all := through(t, s, box.surface)
			allowed := (2*s.RelativeError() + 2e-3) * all
			if box.name == "under the plate" {
				allowed = s.RelativeError() * current
			}
			t.Logf("%s, box %s: %.5g µA of %.3g µA that cross; off by %.1e of these, own estimate %.1e", c.name, box.name, out*1e6, all*1e6, math.Abs(out-box.want)/all, s.RelativeError())
			if !(math.Abs(out-box.want) <= allowed) {
				t.Errorf("%s, box %s: %.6g A come out, want %g ± %.1g", c.name, box.name, out, box.want, allowed)
			}
		}
	}
}

type plateSetting struct {
	name string
	m    Medium
	p    Plate
}

func plateSettings() []plateSetting {
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	deep := Medium{WaterSPerM: 5, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), 1}}}
	return []plateSetting{
		{"thin square", deep, Plate{SizeXM: 0.4, SizeYM: 0.4, YawDeg: 30}},
		{"thin disc", sea, Plate{DiameterM: 0.4, CentreXM: 0.3}},
		{"flush board", sea, Plate{SizeXM: 0.5, SizeYM: 0.35, ThicknessM: 0.01, YawDeg: -20}},
		{"buried board", deep, Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.01, TopM: -0.2}},
		{"standing board", sea, Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.02, TopM: 0.2}},
		{"flush disc", sea, Plate{DiameterM: 0.4, ThicknessM: 0.02}},
	}
}

// A lone electrode's current comes out of a box round the whole plate, and out
// of nothing in the water. Source: conservation of charge.
func TestLoneElectrodeOnAPlate(t *testing.T) {
	for _, c := range plateSettings() {
		s := solvePlates(t, c.m, []Plate{c.p}, []Electrode{{At: c.p.place(0.05, 0.02, 0), CurrentA: 1e-5, DiameterM: 0}}, 0.005)
		centre := c.p.place(0, 0, 0)
		// Six sides; the upright ones are cut at the surface of the sediment.
		around := Plate{CentreXM: centre.X, CentreYM: centre.Y, TopM: 0}
		const half, height = 0.4, 0.5
		surface := boxOn(&around, -half, half, -half, half, height, false)
		surface = append(surface, boxOn(&around, -half, half, -half, half, height, true)...)
		out, all := through(t, s, surface)
		t.Logf("%s: %.7g µA out of a box round it", c.name, out*1e6)
		if !(math.Abs(out-1e-5) <= 1e-4*all) {
			t.Errorf("%s: %.6g A come out of a box round it, want 1e-5", c.name, out)
		}
		water := Plate{CentreXM: centre.X, CentreYM: centre.Y + 0.3, TopM: 0.25}
		out, all = through(t, s, append(boxOn(&water, -0.1, 0.1, -0.1, 0.1, 0.1, false), boxOn(&water, -0.1, 0.1, -0.1, 0.1, 0.01, true)...))
		if !(math.Abs(out) <= 1e-4*all) {
			t.Errorf("%s: %.2g of what crosses a box of water stays in it", c.name, out/all)
		}
	}
}

// The normal field falls to nothing towards a face, above and below. Source: no
// current enters. It is odd in the distance from the face, so that c + a·h + b·h³
// through three heights tells what it is on the face. c is judged against the tangential
// field over the plate: under it, that is a hundredth as large.
func TestNoCurrentEntersAPlate(t *testing.T) {
	for _, c := range plateSettings() {
		p := c.p
		s := solvePlates(t, c.m, []Plate{p}, []Electrode{{At: p.place(0.02, 0, 0), CurrentA: 1e-5, DiameterM: 0}, {At: p.place(-0.02, 0, 0), CurrentA: -1e-5, DiameterM: 0}}, 0.002)
		worst := [2]float64{}
		for _, uv := range [][2]float64{{0.09, 0.05}, {-0.05, 0.1}, {0.1, -0.03}, {0.0, -0.09}, {0.08, 0.08}} {
			flat := 0.0
			for n, dir := range []float64{1, -1} {
				var ez [3]float64
				for k := range ez {
					z := dir * 0.004 * float64(k+1)
					if dir < 0 {
						z -= p.ThicknessM
					}
					e, err := s.FieldAt(p.place(uv[0], uv[1], z))
					if err != nil {
						t.Fatal(err)
					}
					ez[k] = e.Z
					if n == 0 && k == 0 {
						flat = math.Hypot(e.X, e.Y)
					}
				}
				worst[n] = math.Max(worst[n], math.Abs(2.5*ez[0]-2*ez[1]+0.5*ez[2])/flat)
			}
		}
		t.Logf("%s: normal field on its top at most %.1e of the tangential, on its bottom %.1e", c.name, worst[0], worst[1])
		if !(worst[0] <= 0.01 && worst[1] <= 0.01) {
			t.Errorf("%s: normal field on its top %.2g of the tangential, on its bottom %.2g; expected below 0.01", c.name, worst[0], worst[1])
		}
	}
}
