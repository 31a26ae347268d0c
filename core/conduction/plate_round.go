package conduction

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// round is a disc with a thickness, in rings of facets: on the top, on the
// bottom and round the edge, with the equations of a [board]. A ring's density
// is a sum of waves cos mθ and sin mθ, which the equations do not mix, so that
// each m is a small system of its own.
type round struct {
	folded
	plate  Plate
	rings  grade // over a whole diameter
	floor  bool
	asks   []probe
	near   echoes
	stack  *stack
	around int
	cells  []ringCell
}

// ringCell is a ring: between two radii on a face, or two heights on the edge.
type ringCell struct {
	lo, hi Vector // X is the radius, Z the height; at θ = 0
	down   bool   // the bottom's: it is seen from below
	slab   int
}

// newRound: rings are cells over a diameter, even about the middle; around is the
// places on each ring, rows those on the edge.
func newRound(st *stack, plate Plate, floor bool, rings grade, around, rows int, near echoes) *round {
	r := &round{plate: plate, rings: rings, floor: floor, near: near, stack: st, around: around}
	r.setClasses()
	r.layFaces()
	r.layEdge(rows)
	r.reps, r.order = len(r.cells), around
	r.fill = r.matrices
	return r
}

func (r *round) setClasses() {
	for _, basis := range ringWaves(r.around, r.around/2) {
		r.classes = append(r.classes, symmetry{basis: basis})
	}
}

// ringWaves are cos mθ and sin mθ at n places round a ring, orthonormal, for m = 0 …
// mMax ≤ n/2; where the sine vanishes at all of them, the cosine alone.
func ringWaves(n, mMax int) [][][]float64 {
	out := make([][][]float64, mMax+1)
	for m := range out {
		alone := m == 0 || 2*m == n
		norm := math.Sqrt(2 / float64(n))
		if alone {
			norm = math.Sqrt(1 / float64(n))
		}
		cos, sin := make([]float64, n), make([]float64, n)
		for g := range n {
			s, c := numeric.SinCosDeg(360 * float64(m*g%n) / float64(n))
			cos[g], sin[g] = norm*c, norm*s
		}
		out[m] = [][]float64{cos}
		if !alone {
			out[m] = append(out[m], sin)
		}
	}
	return out
}

// lay adds a ring and its probes.
func (r *round) lay(lo, hi Vector, down bool, at, normal Vector, flux bool) {
	slab := 0
	for g := range r.around {
		s, c := numeric.SinCosDeg(360 * float64(g) / float64(r.around))
		turn := func(v Vector) Vector { return Vector{c*v.X - s*v.Y, s*v.X + c*v.Y, v.Z} }
		p := probe{at: turn(at).Add(Vector{r.plate.CentreXM, r.plate.CentreYM, 0}), normal: turn(normal), flux: flux}
		p.slab, _ = r.stack.slabAt(p.at.Z)
		slab = p.slab
		r.asks = append(r.asks, p)
	}
	r.cells = append(r.cells, ringCell{lo, hi, down, slab})
}

func (r *round) faces() int {
	if r.floor {
		return 1
	}
	return 2
}

func (r *round) layFaces() {
	edges := r.rings.edges()
	probes, _ := r.rings.probes()
	half, radius := r.rings.cells/2, r.plate.DiameterM/2
	top, bottom := r.plate.TopM, r.plate.TopM-r.plate.ThicknessM
	for i := range half {
		r0, r1, at := radius*edges[half+i], radius*edges[half+i+1], radius*probes[half+i]
		if i == 0 {
			r0 = 0
		}
		d := inside * (r1 - r0)
		r.lay(Vector{X: r0, Z: top}, Vector{X: r1, Z: top}, false, Vector{X: at, Z: top - d}, Vector{Z: 1}, false)
		if r.faces() == 2 {
			r.lay(Vector{X: r0, Z: bottom}, Vector{X: r1, Z: bottom}, true, Vector{X: at, Z: bottom + d}, Vector{Z: -1}, true)
		}
	}
}

func (r *round) layEdge(rows int) {
	radius := r.plate.DiameterM / 2
	for _, cut := range cuts(r.stack, r.plate.TopM-r.plate.ThicknessM, r.plate.TopM) {
		g := newGrade(rows, false, 0, 0)
		edges := g.edges()
		probes, _ := g.probes()
		mid, half := (cut[0]+cut[1])/2, (cut[1]-cut[0])/2
		for k := range rows {
			z0, z1 := mid+half*edges[k], mid+half*edges[k+1]
			// The probe lies within the chord of the first piece of its ring.
			_, sag := chord(first(z1-z0, radius))
			at := Vector{X: radius*sag - inside*(z1-z0), Z: mid + half*probes[k]}
			r.lay(Vector{X: radius, Z: z0}, Vector{X: radius, Z: z1}, false, at, Vector{X: 1}, false)
		}
	}
}

// first is the half-angle of a ring's first piece, seen from a probe on it.
func first(width, radius float64) float64 { return math.Min(0.25*width/radius, 0.05) }

// chord returns, for a piece of a circle of radius 1 and half-angle h, the
// radius of the ends of a chord whose sector has the piece's area, and that of
// its middle.
func chord(h float64) (ends, middle float64) {
	ends = math.Sqrt(2 * h / math.Sin(2*h))
	return ends, ends * math.Cos(h)
}

// piece is the facet of a ring between two angles.
func (r *round) piece(c *ringCell, from, to float64) facet {
	ends, _ := chord((to - from) / 2)
	s0, c0 := math.Sincos(from)
	s1, c1 := math.Sincos(to)
	at := func(v Vector, s, c float64) Vector {
		return Vector{r.plate.CentreXM + ends*v.X*c, r.plate.CentreYM + ends*v.X*s, v.Z}
	}
	f := facet{slab: c.slab}
	switch {
	case c.lo.Z == c.hi.Z && !c.down:
		f.corner = [4]Vector{at(c.lo, s0, c0), at(c.hi, s0, c0), at(c.hi, s1, c1), at(c.lo, s1, c1)}
	case c.lo.Z == c.hi.Z:
		f.corner = [4]Vector{at(c.lo, s1, c1), at(c.hi, s1, c1), at(c.hi, s0, c0), at(c.lo, s0, c0)}
	default:
		f.corner = [4]Vector{at(c.lo, s0, c0), at(c.lo, s1, c1), at(c.hi, s1, c1), at(c.hi, s0, c0)}
	}
	return f
}

// pieces cuts a ring into facets that widen away from θ = 0, where the probes
// of the matrices lie; only one half, the other is its mirror image.
func (r *round) pieces(c *ringCell) (facets []facet, middle, half []float64) {
	width, radius := c.hi.Sub(c.lo).Norm(), (c.lo.X+c.hi.X)/2
	h := first(width, radius)
	lo, hi := -h, h
	for {
		facets = append(facets, r.piece(c, lo, hi))
		middle, half = append(middle, (lo+hi)/2), append(half, (hi-lo)/2)
		if hi >= math.Pi {
			return facets, middle, half
		}
		lo = hi
		hi = lo + math.Min(0.15*lo+h, 0.12)
		if hi > math.Pi-0.3*(hi-lo) {
			hi = math.Pi
		}
	}
}

func (r *round) matrices(wanted []bool) []*mat.Dense {
	out := blank(wanted, r.reps)
	_ = parallelEach(r.reps, func(j int) error { // columns: a ring's pieces serve all rows
		facets, middle, half := r.pieces(&r.cells[j])
		fold := make([][]float64, len(wanted))
		for m := range wanted {
			if out[m] == nil {
				continue
			}
			fold[m] = make([]float64, len(facets))
			for k, t := range middle {
				fold[m][k] = 2 * math.Cos(float64(m)*t) * sinc(float64(m)*half[k])
			}
			fold[m][0] /= 2
		}
		values := make([]float64, len(facets))
		for i := range r.reps {
			p := &r.asks[i*r.order]
			for k := range facets {
				values[k] = r.near.asked(p, &facets[k], i == j)
			}
			for m := range out {
				if out[m] != nil {
					out[m].Set(i, j, dot(fold[m], values))
				}
			}
		}
		return nil
	})
	return out
}

func (r *round) probes() []probe { return r.asks }

func (r *round) unknowns() int { return len(r.asks) }

func (r *round) release() { r.solvers, r.asks = nil, nil }

// parts are the faces and, by slab, the edge.
func (r *round) parts(density []float64) []part {
	var out []part
	half := r.rings.cells / 2
	for n := range r.faces() {
		f := &discFace{r: r, z: r.plate.TopM - float64(n)*r.plate.ThicknessM, up: 1 - 2*float64(n)}
		f.values = make([]float64, half*r.around)
		for i := range half {
			copy(f.values[i*r.around:(i+1)*r.around], density[(i*r.faces()+n)*r.around:])
		}
		out = append(out, part{r.cells[n].slab, f})
	}
	edges := make(map[int]*rim)
	for j := half * r.faces(); j < len(r.cells); j++ {
		c := &r.cells[j]
		e := edges[c.slab]
		if e == nil {
			e = &rim{}
			edges[c.slab] = e
			out = append(out, part{c.slab, e})
		}
		step := 2 * math.Pi / float64(r.around)
		for g := range r.around {
			f := r.piece(c, (float64(g)-0.5)*step, (float64(g)+0.5)*step)
			e.add(&f, density[j*r.around+g])
		}
	}
	return out
}

// discFace is a face of a disc as dipoles on rings, as fine as the distance
// asks for; see [face].
type discFace struct {
	r      *round
	z, up  float64
	values []float64 // by ring, by angle
	levels [faceLevels]discLevel
}

type discLevel struct {
	once     sync.Once
	rings    []float64 // radii, rising
	cos, sin []float64 // of the places round a ring
	moment   []float64 // by ring, by place
}

// level makes the dipoles of a level. Along each diameter the density is
// smooth and its places are a whole grade; round each ring it is a sum of waves.
func (f *discFace) level(n int) *discLevel {
	l := &f.levels[n]
	l.once.Do(func() {
		r := f.r
		times := 1 << n
		half, around := r.rings.cells/2, r.around
		to := r.rings.finer(times)
		x, _ := to.probes()
		along := r.rings.interpolation(to)
		round := waves(around, around*times)
		more := half * times
		// Values along each of around/2 diameters, then on the finer rings.
		rings := make([]float64, more*around)
		for g := range around {
			for i := range more {
				sum := 0.0
				for k, w := range along[more+i] {
					if k >= half {
						sum += w * f.values[(k-half)*around+g]
					} else {
						sum += w * f.values[(half-1-k)*around+(g+around/2)%around]
					}
				}
				rings[i*around+g] = sum
			}
		}
		radius := r.plate.DiameterM / 2
		weight := ringWeights(to)
		for g := range round {
			s, c := math.Sincos(2 * math.Pi * float64(g) / float64(around*times))
			l.cos, l.sin = append(l.cos, c), append(l.sin, s)
		}
		for i := range more {
			l.rings = append(l.rings, radius*x[more+i])
			area := radius * radius * weight[i] * 2 * math.Pi / float64(around*times)
			for _, row := range round {
				l.moment = append(l.moment, f.up*area*dot(row, rings[i*around:(i+1)*around]))
			}
		}
	})
	return l
}

// waves carries values at n places round a ring (n even) to more places: the sum
// of the waves up to n/2 is sin(nd/2)/(n·tan(d/2)).
func waves(n, more int) [][]float64 {
	out := make([][]float64, more)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range n {
			out[i][j] = ringWave(float64(i)*float64(n)/float64(more)-float64(j), n)
		}
	}
	return out
}

// ringWave is the weight of a value for a place d places from it, round n places.
func ringWave(d float64, n int) float64 {
	half := math.Pi * d / float64(n)
	if s := math.Sin(half); math.Abs(s) < 1e-9 {
		return 1
	}
	return math.Sin(float64(n)*half) / (float64(n) * math.Tan(half))
}

// ringWeights integrate x·f(x) over 0 … 1 for f that is even in x, by values
// at the outer half of the grade: exactly for even polynomials, as each weight is
// the integral of the interpolant.
func ringWeights(g grade) []float64 {
	n := g.cells / 2
	theta, _ := g.angles()
	out := make([]float64, n)
	for i := range n {
		// f = Σ′_p (2/N) Σ_j f_j T_p(x_j) T_p(x) over the whole grade. Even p alone are
		// left, and each place of the outer half stands for two.
		t := theta[n+i]
		sum := 0.5
		for p := 1; 2*p < g.cells; p++ {
			sum += 2 * math.Cos(2*float64(p)*(math.Pi-t)) * firstMoment(2*p)
		}
		// Through the grade's map x = g(c): x dx = (g·g′/c)·c dc.
		sin, cos := math.Sincos(t)
		x, slope := g.at(t)
		out[i] = sum * 2 / float64(g.cells) * x * slope / (-cos * sin)
	}
	return out
}

// firstMoment is ∫₀¹ x·T_m(x) dx for even m: ∫₀^{π/2} cos t·cos mt·sin t dt.
func firstMoment(m int) float64 {
	// ½∫ sin 2t·cos mt dt = ¼∫ [sin (m+2)t − sin (m−2)t] dt
	part := func(k int) float64 {
		if k == 0 {
			return 0
		}
		return (1 - math.Cos(float64(k)*math.Pi/2)) / float64(k)
	}
	return (part(m+2) - part(m-2)) / 4
}

func (f *discFace) at(p Vector) (float64, Vector) {
	return f.local(p.Sub(Vector{f.r.plate.CentreXM, f.r.plate.CentreYM, f.z}))
}

func (f *discFace) local(q Vector) (float64, Vector) {
	radius := f.r.plate.DiameterM / 2
	rho := math.Hypot(q.X, q.Y)
	beyond := math.Max(rho-radius, 0)
	away := math.Hypot(beyond, q.Z)
	spacing := math.Max(radius*f.r.rings.spacing(rho/radius, away/radius), 2*math.Pi*math.Min(rho, radius)/float64(f.r.around))
	n, nearest := levelFor(away / spacing)
	sum := func(q Vector) (pot float64, e Vector) {
		for k := 0; k <= n; k++ {
			outer, inner := math.Inf(1), 0.0
			if k > 0 {
				outer = math.Ldexp(spacing, 1-k)
			}
			if k < n {
				inner = math.Ldexp(spacing, -k)
			}
			v, g := f.level(k).sum(q, outer, inner)
			pot += v
			e = e.Add(g)
		}
		return pot, e
	}
	if nearest >= spaced || beyond > 0 {
		return sum(q)
	}
	return carriedInward(q, spaced*math.Ldexp(spacing, -n), f.up, f.jump, sum)
}

// jump is the density and its slopes at a place of the face, from the middle of
// the disc.
func (f *discFace) jump(x, y float64) (mu, dx, dy float64) {
	r := f.r
	radius, half, n := r.plate.DiameterM/2, r.rings.cells/2, r.around
	at := func(x, y float64) float64 {
		along := r.rings.weightsAt(math.Min(math.Hypot(x, y)/radius, 1))
		angle := math.Atan2(y, x) * float64(n) / (2 * math.Pi)
		sum := 0.0
		for g := range n {
			w := ringWave(angle-float64(g), n)
			for k, u := range along {
				switch {
				case u == 0:
				case k >= half:
					sum += w * u * f.values[(k-half)*n+g]
				default: // the other side of the middle
					sum += w * u * f.values[(half-1-k)*n+(g+n/2)%n]
				}
			}
		}
		return sum
	}
	h := 0.02 * radius / float64(half)
	return at(x, y), (at(x+h, y) - at(x-h, y)) / (2 * h), (at(x, y+h) - at(x, y-h)) / (2 * h)
}

// sum adds the dipoles up: those of the outer window less the share of the inner
// one, both round the place's foot; see [window]. They are told by the spacing
// that they are for: +Inf is all, 0 is none.
func (l *discLevel) sum(q Vector, outer, inner float64) (pot float64, e Vector) {
	zz := q.Z * q.Z
	rho := math.Hypot(q.X, q.Y)
	n := len(l.cos)
	reach := windowEnd * outer
	first, last := 0, len(l.rings)
	from, count := 0, n
	if !math.IsInf(reach, 1) {
		first, last = between(l.rings, rho, reach)
		if rho > reach { // the window lies within a sector
			half := math.Asin(reach/rho) * float64(n) / (2 * math.Pi)
			middle := math.Atan2(q.Y, q.X) * float64(n) / (2 * math.Pi)
			from = int(math.Floor(middle - half))
			count = min(n, int(math.Ceil(middle+half))-from+1)
			from = (from%n + n) % n
		}
	}
	var along float64
	windowed := !math.IsInf(outer, 1)
	for i := first; i < last; i++ {
		r := l.rings[i]
		row := l.moment[i*n : (i+1)*n]
		touched := math.Abs(r-rho) < windowEnd*inner
		for k, g := 0, from; k < count; k, g = k+1, g+1 {
			if g == n {
				g = 0
			}
			dx, dy := q.X-r*l.cos[g], q.Y-r*l.sin[g]
			flat := dx*dx + dy*dy
			inv2 := 1 / (flat + zz)
			m := row[g] * inv2 * math.Sqrt(inv2)
			share := 1.0
			if windowed {
				share = windowShare(flat / (outer * outer))
			}
			if touched {
				share -= windowShare(flat / (inner * inner))
			}
			m *= share
			pot += m
			t := m * inv2
			along += t
			e.X += t * dx
			e.Y += t * dy
		}
	}
	const k = 1 / (4 * math.Pi)
	return k * q.Z * pot, Vector{3 * k * q.Z * e.X, 3 * k * q.Z * e.Y, k * (3*zz*along - pot)}
}

func (f *discFace) dipoles(out []dipole) []dipole {
	l := f.level(0)
	for i, r := range l.rings {
		for g, c := range l.cos {
			at := Vector{f.r.plate.CentreXM + r*c, f.r.plate.CentreYM + r*l.sin[g], f.z}
			out = append(out, dipole{at, Vector{Z: l.moment[i*len(l.cos)+g]}})
		}
	}
	return out
}
