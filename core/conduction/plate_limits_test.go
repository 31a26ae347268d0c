package conduction

import (
	"math"
	"runtime"
	"testing"

	"brinefield/core/numeric"
)

// checkLimit compares the field over plates with one that is known, |δE|/|E| at
// each place.
func checkLimit(t *testing.T, name string, s *PlateSolution, want func(Point) (Vector, error), points []Point, allowed float64) {
	t.Helper()
	worst, at := 0.0, Point{}
	for _, p := range points {
		e, err := s.FieldAt(p)
		w, err2 := want(p)
		if err != nil || err2 != nil {
			t.Fatalf("%s: %v %v", name, err, err2)
		}
		if d := relative(e, w); d > worst {
			worst, at = d, p
		}
	}
	t.Logf("%s: %.1e apart (own estimate %.1e, %d unknowns)", name, worst, s.RelativeError(), s.Unknowns())
	if !(worst <= allowed) {
		t.Errorf("%s: %.2g apart at %v, allowed %.2g", name, worst, at, allowed)
	}
}

// over are places 3 to 40 cm over a height, within 30 cm of the middle.
func over(z float64) (out []Point) {
	for k := range 16 {
		sin, cos := math.Sincos(2.4 * float64(k))
		r := 0.02 * float64(k)
		out = append(out, Point{r * cos, r * sin, z + 0.03 + 0.37*math.Mod(0.618*float64(k), 1)})
	}
	return out
}

// Over a plate of 30 m, near its middle, the field is that of an endless one: each
// electrode twice (Neumann's image; A2 in testdata/check/field_layered.json is the
// same). What is left is of the order (0.4 m/15 m)³.
func TestHugePlateIsEndless(t *testing.T) {
	deep := Medium{WaterSPerM: 5, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), 1}}}
	for _, p := range []Plate{{SizeXM: 30, SizeYM: 30}, {DiameterM: 30}, {SizeXM: 30, SizeYM: 30, ThicknessM: 0.05}, {DiameterM: 30, ThicknessM: 0.05}} {
		e := Pair{SeparationM: 0.1, DiameterM: 0.02}.Electrodes(1e-5)
		endless := mustSolve(t, Medium{WaterSPerM: 5, DepthM: math.Inf(1)}, e...)
		s := solvePlates(t, deep, []Plate{p}, e, 0.005, over(0)...)
		checkLimit(t, kindOf(p), s, endless.FieldAt, over(0), 1e-4)
	}
}

func kindOf(p Plate) string {
	switch {
	case p.DiameterM > 0 && p.ThicknessM > 0:
		return "disc"
	case p.DiameterM > 0:
		return "thin disc"
	case p.ThicknessM > 0:
		return "board"
	}
	return "thin rectangle"
}

// A plate that is small beside its distance changes nothing. Source: the layered
// solution; an insulating plate of size a at distance r from electrodes and place
// changes the field by about (a/r)³.
func TestFarAndTinyPlatesChangeNothing(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 4, Layers: []Layer{{2.5, 1}, {math.Inf(1), 0.1}}}
	e := Pair{Centre: Point{Z: 0.1}, SeparationM: 0.1}.Electrodes(1e-5)
	plain := mustSolve(t, m, e...)
	for _, c := range []struct {
		name    string
		p       Plate
		allowed float64
	}{
		{"board buried 1.5 m deep", Plate{SizeXM: 0.1, SizeYM: 0.1, ThicknessM: 0.01, TopM: -1.5}, 1e-6},
		{"thin rectangle buried 1.5 m deep", Plate{SizeXM: 0.1, SizeYM: 0.1, TopM: -1.5, YawDeg: 20}, 1e-6},
		{"disc 1 m beside", Plate{DiameterM: 0.04, ThicknessM: 0.02, CentreYM: 1, TopM: 0.01}, 1e-6},
		{"tiny thin disc near by", Plate{DiameterM: 0.002, CentreXM: 0.4}, 1e-6},
		{"tiny board near by", Plate{SizeXM: 0.002, SizeYM: 0.003, ThicknessM: 0.001, CentreYM: -0.4}, 1e-6},
	} {
		s := solvePlates(t, m, []Plate{c.p}, e, 0.01, over(0.05)...)
		checkLimit(t, c.name, s, plain.FieldAt, over(0.05), c.allowed)
	}
}

// A plate changes the field between walls 15 m away as it does without walls.
// Source: the solution without walls, and what the walls do to the electrodes alone (2e-4: in
// a closed column the field falls as 1/r² only).
func TestPlateInALargeTank(t *testing.T) {
	long(t)
	open := Medium{WaterSPerM: 5, DepthM: 1}
	tank := open
	tank.Enclosure = &Enclosure{SizeXM: 30, SizeYM: 30}
	p := Plate{SizeXM: 0.5, SizeYM: 0.4, ThicknessM: 0.012, TopM: 0.012}
	e := Pair{Centre: Point{Z: 0.012}, SeparationM: 0.02}.Electrodes(1e-5)
	without := solvePlates(t, open, []Plate{p}, e, 0.005)
	s := solvePlates(t, tank, []Plate{p}, e, 0.005)
	bare, bareTank := mustSolve(t, open, e...), mustSolve(t, tank, e...)
	want := func(q Point) (Vector, error) {
		v, err := without.FieldAt(q)
		return v.Add(mustField(t, bareTank, q)).Sub(mustField(t, bare, q)), err
	}
	checkLimit(t, "tank of 30 m", s, want, over(0.012), 2e-5)
}

// On the insulating floor of a tank a plate is a step of the floor: what of it
// lies in the floor does not count, and a step of no height is no plate. Source: the
// tank without the plate.
func TestPlateOnTheFloorOfATank(t *testing.T) {
	long(t)
	tank := Medium{WaterSPerM: 5, DepthM: 0.6, Enclosure: &Enclosure{SizeXM: 1.5, SizeYM: 1.2}}
	p := Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.5}
	pair := func(z float64) []Electrode {
		return Pair{Centre: Point{Z: z}, SeparationM: 0.05}.Electrodes(1e-5)
	}
	plain := mustSolve(t, tank, pair(0)...)
	points := over(0.01)
	checkLimit(t, "plate in the floor", solvePlates(t, tank, []Plate{p}, pair(0), 0.005, points...), plain.FieldAt, points, 1e-9)
	low := p
	low.TopM = 1e-4
	checkLimit(t, "step of 0.1 mm", solvePlates(t, tank, []Plate{low}, pair(1e-4), 0.005, points...), plain.FieldAt, points, 6e-3)
	// A step of 2 cm is felt, and is the same whether the plate ends at the floor or in it.
	high, deep := p, p
	high.TopM, high.ThicknessM = 0.02, 0.02
	deep.TopM = 0.02
	a, b := solvePlates(t, tank, []Plate{high}, pair(0.02), 0.005, points...), solvePlates(t, tank, []Plate{deep}, pair(0.02), 0.005, points...)
	checkLimit(t, "step of 2 cm", a, b.FieldAt, points, 1e-12)
	felt := 0.0
	for _, q := range points {
		w := mustField(t, plain, q)
		e, err := a.FieldAt(q)
		if err != nil {
			t.Fatal(err)
		}
		felt = math.Max(felt, relative(e, w))
	}
	if felt < 0.05 {
		t.Errorf("a step of 2 cm changes the field by %.2g only", felt)
	}
}

// Layers that conduct equally, to nine digits (so that they are not joined), are
// one layer. Source: the same case without them. A board that crosses a border
// of layers has its side cut in two: another mesh, as good as its estimate.
func TestEqualLayersUnderAPlate(t *testing.T) {
	long(t)
	one := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{math.Inf(1), 0.8}}}
	three := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{0.05, 0.8}, {0.7, 0.8 * (1 + 1e-9)}, {math.Inf(1), 0.8}}}
	for _, p := range []Plate{{SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.02, TopM: -0.04}, {DiameterM: 0.4, TopM: -0.05}} {
		e := Pair{Centre: Point{Z: p.TopM}, SeparationM: 0.02}.Electrodes(1e-5)
		a, b := solvePlates(t, one, []Plate{p}, e, 0.003), solvePlates(t, three, []Plate{p}, e, 0.003)
		checkLimit(t, kindOf(p), b, a.FieldAt, over(0), a.RelativeError()+b.RelativeError())
	}
}

// Plates 3 m apart do as each alone does, by the same mesh. What is left is of
// the order (0.2/3)³·(0.4/3)³.
func TestPlatesFarApart(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	a, b := Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.01}, Plate{DiameterM: 0.4, CentreXM: 3}
	e := Pair{SeparationM: 0.02}.Electrodes(1e-5)
	alone, both := solvePlates(t, m, []Plate{a}, e, 0.005), solvePlates(t, m, []Plate{a, b}, e, 0.005)
	if alone.Unknowns() >= both.Unknowns() {
		t.Errorf("%d unknowns with two plates, %d with one", both.Unknowns(), alone.Unknowns())
	}
	checkLimit(t, "two plates", both, alone.FieldAt, over(0), 1e-5)
}

// The middle one of three plates has a pair; the field is symmetric where the
// plates are. Source: mirror symmetry.
func TestThreePlates(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{0.5, 1}, {math.Inf(1), 0.1}}}
	plates := []Plate{{SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.01, CentreXM: -0.5}, {DiameterM: 0.4}, {SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.01, CentreXM: 0.5}}
	s := solvePlates(t, m, plates, Pair{SeparationM: 0.02}.Electrodes(1e-5), 0.01)
	if !s.Reached() {
		t.Errorf("three plates: %.2g reached of 0.01", s.RelativeError())
	}
	mirrored := func(p Point) (Vector, error) {
		e, err := s.FieldAt(Point{-p.X, p.Y, p.Z})
		return Vector{e.X, -e.Y, -e.Z}, err // the pair's poles change places
	}
	points := append(over(0), Point{0.5, 0.05, 0.1}, Point{0.6, -0.1, 0.05}, Point{0.25, 0.2, 0.04})
	checkLimit(t, "three plates, mirrored", s, mirrored, points, 1e-6)
	alone := solvePlates(t, m, plates[1:2], Pair{SeparationM: 0.02}.Electrodes(1e-5), 0.01)
	e, err := s.FieldAt(Point{0.5, 0.05, 0.1})
	w, err2 := alone.FieldAt(Point{0.5, 0.05, 0.1})
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	if d := relative(e, w); d < 0.02 {
		t.Errorf("over its neighbour the plates change the field by %.2g only", d)
	}
}

// moved turns a place by the yaw about the origin and shifts it.
func moved(p Point, yaw float64, by Vector) Point {
	sin, cos := numeric.SinCosDeg(yaw)
	return Point{cos*p.X - sin*p.Y + by.X, sin*p.X + cos*p.Y + by.Y, p.Z + by.Z}
}

// Everything turned and shifted: the field turns with it; at a height where layers
// do not tell (nothing but water), it rises with it. Source: the problem knows no
// directions. Boards and rectangles carry their mesh with them; a disc's places stay, and it
// is as good as its tolerance only.
func TestTurnedAndShiftedPlates(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	water := Medium{WaterSPerM: 5, DepthM: math.Inf(1), WaterBelow: true}
	for _, c := range []struct {
		m       Medium
		p       Plate
		up      float64
		allowed float64
	}{
		{sea, Plate{SizeXM: 0.5, SizeYM: 0.3, ThicknessM: 0.02, TopM: 0.01}, 0, 1e-8},
		{sea, Plate{SizeXM: 0.5, SizeYM: 0.3}, 0, 1e-8},
		{water, Plate{SizeXM: 0.5, SizeYM: 0.3, ThicknessM: 0.02, TopM: -0.3}, 0.7, 1e-8},
		{sea, Plate{DiameterM: 0.4, ThicknessM: 0.02}, 0, 2e-3},
		{sea, Plate{DiameterM: 0.4}, 0, 2e-3},
	} {
		for _, yaw := range []float64{90, 37, -164.3} {
			by := Vector{1.3, -0.4, c.up}
			e := Pair{Centre: Point{0.03, 0.02, c.p.TopM}, SeparationM: 0.03, AzimuthDeg: 15}.Electrodes(1e-5)
			q, f := c.p, append([]Electrode(nil), e...)
			centre := moved(Point{q.CentreXM, q.CentreYM, q.TopM}, yaw, by)
			q.CentreXM, q.CentreYM, q.TopM, q.YawDeg = centre.X, centre.Y, centre.Z, yaw
			for k := range f {
				f[k].At = moved(f[k].At, yaw, by)
			}
			here, there := fixedLevel(t, c.m, c.p, e), fixedLevel(t, c.m, q, f)
			worst := 0.0
			for _, p := range over(math.Max(c.p.TopM, 0)) {
				a, b := here(p), there(moved(p, yaw, by))
				turned := moved(Point(a), yaw, Vector{})
				worst = math.Max(worst, relative(b, Vector(turned)))
			}
			t.Logf("%s, by %g°: %.1e apart", kindOf(c.p), yaw, worst)
			if !(worst <= c.allowed) {
				t.Errorf("%s, turned by %g° and shifted: %.2g apart, allowed %g", kindOf(c.p), yaw, worst, c.allowed)
			}
		}
	}
}

// fixedLevel is the field with one mesh, so that no choice of the adaptive solver
// comes between two cases.
func fixedLevel(t *testing.T, m Medium, p Plate, e []Electrode) func(Point) Vector {
	t.Helper()
	return atLevel(t, m, []Plate{p}, e, 1)
}

func atLevel(t testing.TB, m Medium, plates []Plate, e []Electrode, level int) func(Point) Vector {
	t.Helper()
	st := newStack(m)
	plates, floor := effective(st, plates)
	where, err := locate(plates, e)
	if err != nil {
		t.Fatal(err)
	}
	sc, err := newStage(m, st, plates, floor, nil, where, level).solve(where, nil)
	if err != nil {
		t.Fatal(err)
	}
	return func(q Point) Vector {
		slab, ok := st.slabAt(q.Z)
		if !ok {
			t.Fatalf("%v is outside", q)
		}
		_, v := sc.at(slab, Vector(q))
		return v
	}
}

// Currents twice as large double the field, conductivities twice as large halve
// it: to the last bit, as only powers of 2 are in it. Source: Ohm's law.
func TestPlatesScale(t *testing.T) {
	m := Medium{WaterSPerM: 4.3, DepthM: 3, Layers: []Layer{{0.8, 0.9}, {math.Inf(1), 0.2}}}
	m2 := Medium{WaterSPerM: 8.6, DepthM: 3, Layers: []Layer{{0.8, 1.8}, {math.Inf(1), 0.4}}}
	plates := []Plate{{SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.01, YawDeg: 12}, {DiameterM: 0.3, CentreXM: 0.6, TopM: -0.02}}
	e := Pair{Centre: Point{0.02, 0.01, 0}, SeparationM: 0.03, DiameterM: 0.004}
	points := over(0)
	_, once := plateBoth(t, solvePlates(t, m, plates, e.Electrodes(1e-5), 0.02), points)
	_, twice := plateBoth(t, solvePlates(t, m, plates, e.Electrodes(2e-5), 0.02), points)
	_, half := plateBoth(t, solvePlates(t, m2, plates, e.Electrodes(1e-5), 0.02), points)
	for k, p := range points {
		if twice[k] != once[k].Scale(2) {
			t.Errorf("at %v: %v with the current, %v with twice the current", p, once[k], twice[k])
		}
		if half[k] != once[k].Scale(0.5) {
			t.Errorf("at %v: %v, and %v where all conducts twice as well", p, once[k], half[k])
		}
	}
}

// The same call gives the same bits on any number of cores.
func TestPlatesAreTheSameOnAnyNumberOfCores(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{1, 1}, {math.Inf(1), 0.05}}}
	plates := []Plate{
		{SizeXM: 0.4, SizeYM: 0.3, ThicknessM: 0.01, YawDeg: 12},
		{DiameterM: 0.3, CentreXM: 0.6, TopM: -0.02},
		{DiameterM: 0.3, ThicknessM: 0.02, CentreYM: 0.6},
		{SizeXM: 0.3, SizeYM: 0.3, CentreXM: -0.6},
	}
	points := append(over(0), Point{0.1, 0.1, 1e-4}, Point{0.05, 0, -0.3}, Point{0.6, 0.02, 0.001})
	type run struct {
		estimate float64
		phi      []float64
		e        []Vector
	}
	var runs [2]run
	for k, cores := range []int{1, 8} {
		old := runtime.GOMAXPROCS(cores)
		s := solvePlates(t, m, plates, Pair{Centre: Point{0.03, 0.02, 0}, SeparationM: 0.02}.Electrodes(1e-5), 0.03)
		phi, e := plateBoth(t, s, points)
		runs[k] = run{s.RelativeError(), phi, e}
		runtime.GOMAXPROCS(old)
	}
	if runs[0].estimate != runs[1].estimate {
		t.Errorf("own estimate %v on one core, %v on eight", runs[0].estimate, runs[1].estimate)
	}
	for k := range points {
		if runs[0].e[k] != runs[1].e[k] || runs[0].phi[k] != runs[1].phi[k] {
			t.Fatalf("at %v: %v V, %v on one core; %v V, %v on eight", points[k], runs[0].phi[k], runs[0].e[k], runs[1].phi[k], runs[1].e[k])
		}
	}
}
