package conduction

import "math"

// tankFast is the field in the water of a rectangular tank, made for being
// asked often. The walls' nearest mirror images act through kernels of the
// open layers; all farther ones are smooth over the whole tank, and together
// are one polynomial in three dimensions, fitted to the full calculation at
// Chebyshev points. It is in force within its box, and the full calculation
// elsewhere.
type tankFast struct {
	lo, hi     Point
	images     []tankImage
	nx, ny, nz int
	coef       [3][]float64 // E_x, E_y, E_z by (i·ny + j)·nz + k
	relError   float64
}

// tankImage is an electrode or its mirror image in the walls.
type tankImage struct {
	x, y   float64
	amount float64 // current × kernel's unit
	kernel *Kernel
}

// mostPoints bounds the points of the polynomial in one direction.
const mostPoints = 24

// mostFalls bounds a box: over it the field falls to e^−mostFalls of what it is in the
// middle. Beyond, no polynomial follows it to a share of itself.
const mostFalls = 8.0

// newTankFast returns nil where no polynomial meets relTol: the full
// calculation is then the way. In a long trough the field falls so fast along
// it that only a shorter box round the electrodes does.
func newTankFast(s *Solution, r Region, relTol float64) (*tankFast, error) {
	long, short := s.medium.Enclosure.SizeXM, s.medium.Enclosure.SizeYM
	if long < short {
		long, short = short, long
	}
	const shared = 100 // points of the fit at one height
	full := makeTank(s, chooseAlpha(s, shared))
	share := 1.0
	if !s.stack.open() { // between all walls it falls as e^−πx/(the wider of the other two)
		wide := math.Max(short, s.stack.height())
		for math.Pi*share*long/wide > mostFalls {
			share /= 2
		}
	}
	for tries := 0; tries < 3; tries++ {
		t, ok := tankBox(s, r, share)
		share /= 2
		if !ok {
			return nil, nil
		}
		good, err := t.prepare(s, full, relTol)
		if err != nil {
			return nil, err
		}
		if good {
			return t, nil
		}
	}
	return nil, nil
}

func (t *tankFast) prepare(s *Solution, full *tank, relTol float64) (good bool, err error) {
	gap, err := t.mirror(s, relTol)
	if err != nil {
		return false, err
	}
	digits := -math.Log(relTol) + 3
	for range 2 {
		t.nx = pointsFor(t.hi.X-t.lo.X, gap, digits)
		t.ny = pointsFor(t.hi.Y-t.lo.Y, gap, digits)
		t.nz = pointsFor(t.hi.Z-t.lo.Z, gap, digits)
		t.fit(s, full)
		if t.relError = t.measure(s); t.relError <= relTol/3 { // other places may be worse
			return true, nil
		}
		digits += math.Max(3, math.Log(6*t.relError/relTol))
	}
	return false, nil
}

// tankBox is the tank, or a share of its length and width round the
// electrodes, as high as the region reaches within the water.
func tankBox(s *Solution, r Region, share float64) (*tankFast, bool) {
	e := s.medium.Enclosure
	x, y := 0.0, 0.0
	for _, el := range s.electrodes {
		x, y = x+el.At.X/float64(len(s.electrodes)), y+el.At.Y/float64(len(s.electrodes))
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, el := range s.electrodes {
		low, high = math.Min(low, el.At.Z), math.Max(high, el.At.Z)
	}
	up := mostFalls / math.Pi * math.Max(e.SizeXM, e.SizeYM) // beyond, the field has fallen along a tall tank
	t := &tankFast{
		lo: Point{Z: math.Max(math.Max(r.ZMinM, 0), low-up)},
		hi: Point{Z: math.Min(math.Min(r.ZMaxM, s.medium.DepthM), high+up)},
	}
	t.lo.X, t.hi.X = clip(x, share*e.SizeXM, e.CentreXM, e.SizeXM)
	t.lo.Y, t.hi.Y = clip(y, share*e.SizeYM, e.CentreYM, e.SizeYM)
	return t, finite(t.lo.Z, t.hi.Z) && t.hi.Z > t.lo.Z
}

// clip is the part within reach of x, of a wall's length round its centre.
func clip(x, reach, centre, length float64) (lo, hi float64) {
	return math.Max(x-reach, centre-length/2), math.Min(x+reach, centre+length/2)
}

// mirror lists the images that act through kernels, and returns how far from
// the box the nearest of the others may be.
func (t *tankFast) mirror(s *Solution, relTol float64) (gap float64, err error) {
	wall := s.medium.Enclosure
	lx, ly := wall.SizeXM, wall.SizeYM
	fromX, fromY := wall.CentreXM-lx/2, wall.CentreYM-ly/2
	const share = 0.7 // of the longer wall, to the nearest image left out
	longest := math.Max(lx, ly)
	mx, my := int(math.Ceil(share*longest/lx)), int(math.Ceil(share*longest/ly))
	open := s.medium
	open.Enclosure = nil
	region := Region{RhoMaxM: math.Hypot(float64(mx+1)*lx, float64(my+1)*ly) * (1 + 1e-12), ZMinM: t.lo.Z, ZMaxM: t.hi.Z}
	kernels := map[*source]*Kernel{}
	for j, sr := range s.sources {
		k := kernels[sr]
		if k == nil {
			if k, err = newKernel(open, sr, region, relTol/10); err != nil {
				return 0, err
			}
			kernels[sr] = k
		}
		el := s.electrodes[j]
		for m := -mx; m <= mx; m++ {
			for n := -my; n <= my; n++ {
				t.images = append(t.images, tankImage{
					mirrored(el.At.X, fromX, lx, m), mirrored(el.At.Y, fromY, ly, n), el.CurrentA * k.perAmpere, k,
				})
			}
		}
	}
	return math.Min(float64(mx)*lx, float64(my)*ly), nil
}

// mirrored is a coordinate's image in the m-th mirrored tank.
func mirrored(at, from, length float64, m int) float64 {
	if m%2 != 0 {
		at = 2*from + length - at
	}
	return at + float64(m)*length
}

// pointsFor is how many Chebyshev points resolve a function over a length
// whose singularities lie gap beyond its ends, to e^−digits: its Bernstein
// ellipse (Trefethen, Approximation Theory and Approximation Practice, from
// memory).
func pointsFor(length, gap, digits float64) int {
	x := 1 + 2*gap/length
	rate := math.Log(x + math.Sqrt(x*x-1))
	return int(math.Min(mostPoints, math.Max(3, math.Ceil(digits/rate)+1)))
}

// chebyshevPoints are the roots of T_n, stretched over [lo, hi].
func chebyshevPoints(n int, lo, hi float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = (lo+hi)/2 - (hi-lo)/2*math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
	}
	return out
}

// fit takes the full field less the near images at the Chebyshev points, and
// turns the values into coefficients, one direction after the other.
func (t *tankFast) fit(s *Solution, full *tank) {
	xs := chebyshevPoints(t.nx, t.lo.X, t.hi.X)
	ys := chebyshevPoints(t.ny, t.lo.Y, t.hi.Y)
	zs := chebyshevPoints(t.nz, t.lo.Z, t.hi.Z)
	for c := range t.coef {
		t.coef[c] = make([]float64, t.nx*t.ny*t.nz)
	}
	storeys := make([]*storey, t.nz)
	_ = parallelEach(t.nz, func(k int) error {
		slab, _ := s.stack.slabAt(zs[k])
		storeys[k] = full.storey(slab, zs[k])
		return nil
	})
	_ = parallelEach(t.nx*t.ny, func(at int) error {
		for k, z := range zs {
			p := Point{xs[at/t.ny], ys[at%t.ny], z}
			slab, _ := s.stack.slabAt(z)
			_, e := storeys[k].eval(p)
			e = e.Sub(t.near(slab, p))
			n := at*t.nz + k
			t.coef[0][n], t.coef[1][n], t.coef[2][n] = e.X, e.Y, e.Z
		}
		return nil
	})
	for c := range t.coef {
		transform(t.coef[c], t.nx, t.ny*t.nz)
		transform(t.coef[c], t.ny, t.nz)
		transform(t.coef[c], t.nz, 1)
	}
}

// transform turns values at Chebyshev points along one direction, whose
// neighbours lie step apart, into Chebyshev coefficients, in place.
func transform(v []float64, n, step int) {
	line, out := make([]float64, n), make([]float64, n)
	for from := range v {
		if from/step%n != 0 {
			continue
		}
		for i := range line {
			line[i] = v[from+i*step]
		}
		for q := range out {
			sum := 0.0
			for i, x := range line { // the points run from −1 up: cos(π − θ)
				sum += x * math.Cos(float64(q)*math.Pi*(1-(float64(i)+0.5)/float64(n)))
			}
			out[q] = sum * 2 / float64(n)
		}
		out[0] /= 2
		for q := range out {
			v[from+q*step] = out[q]
		}
	}
}

func (t *tankFast) holds(p Point) bool {
	return p.X >= t.lo.X && p.X <= t.hi.X && p.Y >= t.lo.Y && p.Y <= t.hi.Y && p.Z >= t.lo.Z && p.Z <= t.hi.Z
}

// near is the field of the images that act through kernels.
func (t *tankFast) near(slab int, p Point) (e Vector) {
	for i := range t.images {
		im := &t.images[i]
		dx, dy := p.X-im.x, p.Y-im.y
		fr, fz := im.kernel.perUnit(slab, dx*dx+dy*dy, p.Z)
		fr *= im.amount
		e.X += fr * dx
		e.Y += fr * dy
		e.Z += fz * im.amount
	}
	return e
}

// at is the field at a point of the box.
func (t *tankFast) at(slab int, p Point) Vector {
	var tx, ty, tz [mostPoints]float64
	chebyshev(tx[:t.nx], (2*p.X-t.lo.X-t.hi.X)/(t.hi.X-t.lo.X))
	chebyshev(ty[:t.ny], (2*p.Y-t.lo.Y-t.hi.Y)/(t.hi.Y-t.lo.Y))
	chebyshev(tz[:t.nz], (2*p.Z-t.lo.Z-t.hi.Z)/(t.hi.Z-t.lo.Z))
	e := t.near(slab, p)
	n := 0
	for i := range t.nx {
		for j := range t.ny {
			var x, y, z float64
			a, b, c := t.coef[0][n:n+t.nz], t.coef[1][n:n+t.nz], t.coef[2][n:n+t.nz]
			for k, w := range tz[:t.nz] {
				x += a[k] * w
				y += b[k] * w
				z += c[k] * w
			}
			w := tx[i] * ty[j]
			e.X += x * w
			e.Y += y * w
			e.Z += z * w
			n += t.nz
		}
	}
	return e
}

// chebyshev fills T_0 … T_{n−1} at u.
func chebyshev(t []float64, u float64) {
	t[0], t[1] = 1, u
	for q := 2; q < len(t); q++ {
		t[q] = 2*u*t[q-1] - t[q-2]
	}
}

// measure compares with the full calculation at fixed, spread places.
func (t *tankFast) measure(s *Solution) float64 {
	const places = 60
	errs := make([]float64, places)
	_ = parallelEach(places, func(n int) error {
		p := Point{
			t.lo.X + (t.hi.X-t.lo.X)*spread(n, 0), t.lo.Y + (t.hi.Y-t.lo.Y)*spread(n, 1), t.lo.Z + (t.hi.Z-t.lo.Z)*spread(n, 2),
		}
		if n%3 == 2 { // on the walls and at the ends, where polynomials are worst
			p.X = [2]float64{t.lo.X, t.hi.X}[n/3%2]
		}
		slab, _ := s.stack.slabAt(p.Z)
		if _, err := s.checkPoint(p); err != nil {
			return nil
		}
		_, want := s.eval(slab, p)
		errs[n] = t.at(slab, p).Sub(want).Norm() / want.Norm()
		return nil
	})
	worst := 0.0
	for _, e := range errs {
		worst = math.Max(worst, e)
	}
	return worst
}

// spread is the n-th of a sequence that fills 0 to 1 evenly in each of three
// directions (multiples of the roots of x⁴ = x + 1, by whole numbers).
func spread(n, direction int) float64 {
	root := [3]float64{0.8191725133961645, 0.6710436067037893, 0.5497004779019703}[direction]
	return math.Mod(0.5+float64(n+1)*root, 1)
}
