package conduction

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// sheet is a disc without thickness. Its jump is a sum of [oblate] functions,
// whose field is known everywhere, and which vanish at the rim as the jump does.
// The equation is of the normal field, weighed with each function over the disc:
// without images its matrices are diagonal.
//
// A density holds, for function k of a wave m, its coefficient times the wave's
// basis over the places of a ring.
type sheet struct {
	plate  Plate
	basis  *oblate
	mMax   int
	count  int // functions of each wave
	around int
	waves  [][][]float64 // by m: cosine and sine over a ring, orthonormal
	radii  []float64
	tests  [][][]float64 // by m, ring and function: its jump, times the ring's share
	asks   []probe
	slab   int
	near   echoes
	mu     sync.Mutex
	lu     []*mat.LU
}

func newSheet(st *stack, plate Plate, mMax, count int, near echoes) *sheet {
	s := &sheet{
		plate: plate, basis: newOblate(plate.DiameterM/2, mMax, count), mMax: mMax, count: count,
		around: 2*mMax + 2, near: near, slab: slabUnder(st, plate.TopM), lu: make([]*mat.LU, mMax+1),
		waves: ringWaves(2*mMax+2, mMax),
	}
	s.setRings()
	for _, r := range s.radii {
		for g := range s.around {
			sin, cos := numeric.SinCosDeg(360 * float64(g) / float64(s.around))
			at := Vector{plate.CentreXM + r*cos, plate.CentreYM + r*sin, s.height()}
			s.asks = append(s.asks, probe{at: at, normal: Vector{Z: 1}, slab: s.slab, flux: true})
		}
	}
	return s
}

// height is just below the sheet, in the slab in which it counts.
func (s *sheet) height() float64 { return s.plate.TopM - 1e-9*s.plate.DiameterM }

// setRings places the probes: Gauss's rule in η over 0 … 1, in which products of
// two jumps are polynomials of degree 2l at most.
func (s *sheet) setRings() {
	n := 2*s.count + s.mMax + 4
	eta, weight := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(eta, weight, 0, 1)
	scratch := newOblateScratch(s.mMax, s.count)
	s.tests = make([][][]float64, s.mMax+1)
	for i, h := range eta {
		rho := s.plate.DiameterM / 2 * math.Sqrt((1-h)*(1+h))
		s.radii = append(s.radii, rho)
		s.basis.jump(rho, scratch.pot)
		for m := range s.tests {
			test := make([]float64, s.count)
			for k, v := range scratch.pot[m] {
				test[k] = v * weight[i] * h
			}
			s.tests[m] = append(s.tests[m], test)
		}
	}
}

// factorise makes the matrix of a wave.
func (s *sheet) factorise(wave int) *mat.LU {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.lu[wave] != nil {
		return s.lu[wave]
	}
	all := make([]*mat.Dense, s.mMax+1)
	for m := range all {
		all[m] = mat.NewDense(s.count, s.count, nil)
	}
	scratch := newOblateScratch(s.mMax, s.count)
	flux := newOblateScratch(s.mMax, s.count).pot
	for i, r := range s.radii {
		for m := range flux {
			clear(flux[m])
		}
		for _, o := range s.near[s.slab][s.slab] {
			q := o.seen(Vector{Z: s.height()})
			s.basis.at(r, q.Z-s.plate.TopM, scratch.pot, scratch.er, scratch.ez, scratch.et)
			for m := range flux {
				for k, ez := range scratch.ez[m] {
					flux[m][k] += o.turned(Vector{Z: ez}).Z
				}
			}
		}
		for m := range all {
			for a, t := range s.tests[m][i] {
				for b, f := range flux[m] {
					all[m].Set(a, b, all[m].At(a, b)+t*f)
				}
			}
		}
	}
	for m := range all {
		s.lu[m] = &mat.LU{}
		s.lu[m].Factorize(all[m])
	}
	return s.lu[wave]
}

func (s *sheet) solve(values []float64) []float64 {
	largest := 0.0
	for _, v := range values {
		largest = math.Max(largest, math.Abs(v))
	}
	out := make([]float64, s.count*s.around)
	x := mat.NewVecDense(s.count, nil)
	for m := range s.waves {
		for _, phi := range s.waves[m] {
			right := mat.NewVecDense(s.count, nil)
			any := false
			for i := range s.radii {
				v := dot(phi, values[i*s.around:(i+1)*s.around])
				any = any || math.Abs(v) > 1e-11*largest
				for k, t := range s.tests[m][i] {
					right.SetVec(k, right.AtVec(k)+t*v)
				}
			}
			if !any {
				continue
			}
			_ = s.factorise(m).SolveVecTo(x, false, right)
			for k := range s.count {
				for g, w := range phi {
					out[k*s.around+g] += w * x.AtVec(k)
				}
			}
		}
	}
	return out
}

func (s *sheet) probes() []probe { return s.asks }

func (s *sheet) unknowns() int { return s.count * s.around }

func (s *sheet) largest() int { return s.count }

func (s *sheet) release() { s.lu, s.tests, s.asks = nil, nil, nil }

// oblateScratch is what [oblate.at] fills.
type oblateScratch struct{ pot, er, ez, et [][]float64 }

func newOblateScratch(mMax, n int) *oblateScratch {
	table := func() [][]float64 {
		out := make([][]float64, mMax+1)
		for m := range out {
			out[m] = make([]float64, n)
		}
		return out
	}
	return &oblateScratch{table(), table(), table(), table()}
}

// wavy is a sheet's density as the field sees it.
type wavy struct {
	plate    Plate
	basis    *oblate
	cos, sin [][]float64 // coefficients by m and k
	scratch  sync.Pool
}

func (s *sheet) parts(density []float64) []part {
	cos, sin := make([][]float64, s.mMax+1), make([][]float64, s.mMax+1)
	most, largest := 0, 0.0
	for m := range cos {
		cos[m], sin[m] = make([]float64, s.count), make([]float64, s.count)
		for n, phi := range s.waves[m] {
			to := cos[m]
			if n == 1 {
				to = sin[m]
			}
			for k := range s.count {
				to[k] = dot(phi, density[k*s.around:(k+1)*s.around]) * s.waves[m][0][0]
				largest = math.Max(largest, math.Abs(to[k]))
			}
		}
	}
	for m := range cos { // waves that are nothing need not be asked
		for k := range s.count {
			if math.Max(math.Abs(cos[m][k]), math.Abs(sin[m][k])) > 1e-10*largest {
				most = m
			}
		}
	}
	w := &wavy{plate: s.plate, basis: newOblate(s.plate.DiameterM/2, most, s.count), cos: cos[:most+1], sin: sin[:most+1]}
	w.scratch.New = func() any { return newOblateScratch(most, s.count) }
	return []part{{s.slab, w}}
}

func (w *wavy) at(p Vector) (pot float64, e Vector) {
	x, y := p.X-w.plate.CentreXM, p.Y-w.plate.CentreYM
	rho := math.Hypot(x, y)
	c1, s1 := 1.0, 0.0
	if rho > 0 {
		c1, s1 = x/rho, y/rho
	}
	t := w.scratch.Get().(*oblateScratch)
	defer w.scratch.Put(t)
	w.basis.at(rho, p.Z-w.plate.TopM, t.pot, t.er, t.ez, t.et)
	var er, et float64
	c, s := 1.0, 0.0 // cos mθ, sin mθ
	for m := range w.cos {
		for k, a := range w.cos[m] {
			b := w.sin[m][k]
			wave := a*c + b*s
			pot += wave * t.pot[m][k]
			er += wave * t.er[m][k]
			e.Z += wave * t.ez[m][k]
			et += (a*s - b*c) * t.et[m][k]
		}
		c, s = c*c1-s*s1, s*c1+c*s1
	}
	e.X, e.Y = er*c1-et*s1, er*s1+et*c1
	return pot, e
}

func (w *wavy) dipoles(out []dipole) []dipole {
	radius := w.plate.DiameterM / 2
	n := len(w.cos[0])
	jump := make([][]float64, len(w.cos))
	for m := range jump {
		jump[m] = make([]float64, n)
	}
	around := 2*len(w.cos) + 8
	for i, t := range gaussNodes {
		eta := (1 + t) / 2
		rho := radius * math.Sqrt(1-eta*eta)
		w.basis.jump(rho, jump)
		area := radius * radius * eta * gaussWeights[i] / 2 * 2 * math.Pi / float64(around)
		for g := range around {
			sin, cos := math.Sincos(2 * math.Pi * float64(g) / float64(around))
			sum, c, s := 0.0, 1.0, 0.0
			for m := range w.cos {
				for k, v := range jump[m] {
					sum += v * (w.cos[m][k]*c + w.sin[m][k]*s)
				}
				c, s = c*cos-s*sin, s*cos+c*sin
			}
			at := Vector{w.plate.CentreXM + rho*cos, w.plate.CentreYM + rho*sin, w.plate.TopM}
			out = append(out, dipole{at, Vector{Z: sum * area}})
		}
	}
	return out
}
