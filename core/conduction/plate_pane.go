package conduction

import "math"

// pane is a grid of facets in one plane of a board, in the board's own frame.
// Facets that touch share corners, and what a facet makes is a sum over its
// corners: with U, V from a probe to a corner along the pane and h from the
// pane to the probe across it, R² = U² + V² + h²,
//
//	4πΦ = Σ± atan(UV/(hR))
//
// its gradient across a level pane and along V of an upright one being
//
//	UV(R² + h²)/(R(h² + U²)(h² + V²))  and  Uh/(R(h² + V²)).
//
// So a row of the matrix costs one root and one arctangent for each corner.
type pane struct {
	upright byte // 'x' or 'y': the axis of its normal; 0: the pane is level, its normal z
	sign    float64
	at      float64 // of the plane along the normal's axis
	slab    int
	u, v    []float64 // edges: x or y, and y or z
	cell    []int     // the board's number of the facet i, j, at i·(len(v)−1) + j
	// finer edges, nil where a facet never counts in nine
	fineU, fineV []float64
}

func (p *pane) size() (nu, nv int) { return len(p.u) - 1, len(p.v) - 1 }

// from returns q in the pane's axes: along u, along v, and across.
func (p *pane) from(q Vector) (u, v, h float64) {
	switch p.upright {
	case 'x':
		return q.Y, q.Z, q.X - p.at
	case 'y':
		return q.X, q.Z, q.Y - p.at
	}
	return q.X, q.Y, q.Z - p.at
}

// view is a pane as one probe sees it through one echo.
type view struct{ u, v, h, w float64 }

// views are the echoes of a pane at a probe. A level pane that lies in the
// probe's plane fills no solid angle.
func (p *pane) views(ask *probe, local Vector, list []echo) []view {
	out := make([]view, 0, len(list))
	for _, o := range list {
		u, v, h := p.from(o.seen(local))
		w := o.w * p.sign / (4 * math.Pi)
		if ask.flux {
			w *= ask.normal.Z
			if o.mirrored {
				w = -w
			}
		} else if p.upright == 0 && math.Abs(h) <= coplanar {
			continue
		}
		out = append(out, view{u, v, h, w})
	}
	return out
}

// corners sets out, by u·len(vs) + v, to the sums of all views.
func (p *pane) corners(out []float64, us, vs []float64, views []view, flux bool) {
	clear(out)
	for _, s := range views {
		switch {
		case !flux:
			s.angles(out, us, vs)
		case p.upright != 0:
			s.slopesUpright(out, us, vs)
		default:
			s.slopesLevel(out, us, vs)
		}
	}
}

func (s view) angles(out, us, vs []float64) {
	hh := s.h * s.h
	for i, u := range us {
		u -= s.u
		base := u*u + hh
		row := out[i*len(vs) : (i+1)*len(vs)]
		for j, v := range vs {
			v -= s.v
			row[j] += s.w * math.Atan(u*v/(s.h*math.Sqrt(base+v*v)))
		}
	}
}

func (s view) slopesLevel(out, us, vs []float64) {
	hh := s.h * s.h
	for i, u := range us {
		u -= s.u
		base := u*u + hh
		row := out[i*len(vs) : (i+1)*len(vs)]
		for j, v := range vs {
			v -= s.v
			vv := v * v
			rr := base + vv
			row[j] += s.w * u * v * (rr + hh) / (math.Sqrt(rr) * base * (hh + vv))
		}
	}
}

func (s view) slopesUpright(out, us, vs []float64) {
	hh := s.h * s.h
	for i, u := range us {
		u -= s.u
		base := u*u + hh
		row := out[i*len(vs) : (i+1)*len(vs)]
		for j, v := range vs {
			v -= s.v
			row[j] += s.w * u * s.h / (math.Sqrt(base+v*v) * (hh + v*v))
		}
	}
}

// cellOf is the rectangle at i, j out of its corners, n to a row.
func cellOf(corners []float64, n, i, j int) float64 {
	k := i*n + j
	return corners[k] - corners[k+1] - corners[k+n] + corners[k+n+1]
}

// add adds to a row what a unit jump on each facet of the pane makes at a
// probe. Facets no more than window of their diagonals away count in nine.
func (p *pane) add(row []float64, ask *probe, local Vector, list []echo, window float64) {
	views := p.views(ask, local, list)
	nu, nv := p.size()
	corners := make([]float64, len(p.u)*len(p.v))
	p.corners(corners, p.u, p.v, views, ask.flux)
	if p.fineU == nil || math.Abs(local.Z-p.at) <= coplanar {
		for i := range nu {
			for j := range nv {
				row[p.cell[i*nv+j]] += cellOf(corners, nv+1, i, j)
			}
		}
		return
	}
	sums := make([]float64, (nu+2)*(nv+2)) // with a border, for what is mirrored at the ends
	fine := make([]float64, (fineness+1)*(fineness*nv+1))
	for i := range nu {
		from, to := p.divided(i, local, window)
		for j := range nv {
			if j < from || j >= to {
				sums[(i+1)*(nv+2)+j+1] += cellOf(corners, nv+1, i, j)
			}
		}
		if from < to {
			us, vs := p.fineU[fineness*i:fineness*(i+1)+1], p.fineV[fineness*from:fineness*to+1]
			fine = fine[:len(us)*len(vs)]
			p.corners(fine, us, vs, views, ask.flux)
			for j := from; j < to; j++ {
				inNine(sums[i*(nv+2)+j:], nv+2, fine[fineness*(j-from):], len(vs))
			}
		}
	}
	fold := func(i, n int) int { return min(max(i-1, 0), n-1) }
	for i := range nu + 2 {
		for j := range nv + 2 {
			row[p.cell[fold(i, nu)*nv+fold(j, nv)]] += sums[i*(nv+2)+j]
		}
	}
}

// divided are the facets of column i that count in nine.
func (p *pane) divided(i int, q Vector, window float64) (from, to int) {
	_, nv := p.size()
	size, away, up := p.u[i+1]-p.u[i], (p.u[i]+p.u[i+1])/2-q.X, q.Z-p.at
	near := func(j int) bool {
		s, d := p.v[j+1]-p.v[j], (p.v[j]+p.v[j+1])/2-q.Y
		return away*away+d*d+up*up <= window*window*(size*size+s*s)
	}
	for from < nv && !near(from) {
		from++
	}
	for to = nv; to > from && !near(to-1); {
		to--
	}
	return from, to
}

// inNine adds a facet's nine parts, out of their corners, to the sums of the
// grid's values in which their densities are parabolas.
func inNine(sums []float64, across int, corners []float64, n int) {
	for a := range fineness {
		var row [3]float64
		for c := range fineness {
			v := cellOf(corners, n, a, c)
			for q, w := range parabolas[c] {
				row[q] += w * v
			}
		}
		for p, w := range parabolas[a] {
			for q, v := range row {
				sums[p*across+q] += w * v
			}
		}
	}
}

// fineness is how many parts a facet has along each side where it counts in nine.
const fineness = 3

// parabolas are the weights of three neighbours in each third of the middle one.
var parabolas = [fineness][3]float64{parabola(0), parabola(1), parabola(2)}

func parabola(k int) [3]float64 {
	s := float64(k-1) / fineness
	return [3]float64{s * (s - 1) / 2, 1 - s*s, s * (s + 1) / 2}
}
