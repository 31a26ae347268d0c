package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// stepQuadratic maximises the quadratic approximation of the penalised
// likelihood over masses ≥ 0:
//
//	Σ_i count_i (2 x_i/P_i − (x_i/P_i)²/2) − n Σ mass
//
// x_i is the new probability of row i and P_i the present one. In the
// distribution function F at the borders of the places its matrix is that of
// an electrical network: a conductance count/P² between the two borders of
// each row, the border below the first place earthed. So it is filled in
// O(rows), and long problems are solved by conjugate gradients.
type stepQuadratic struct {
	conductance []float64
	pull        []float64 // 2·count/P
	passive     []bool    // may have mass; the others are held at 0
	index       []int
	edges       []stepRow // rows between the passive places, with the conductance as count
}

// maximise returns the masses on the support of s by block principal
// pivoting: places whose mass turned negative are emptied, empty places whose
// slope is positive take part, until neither is left. All at once as long as
// their number falls, else one by one, which cannot cycle (from memory:
// Portugal, Júdice and Vicente, Math Comp 63:625, 1994).
func (q *stepQuadratic) maximise(s *stepSearch) []float64 {
	places := len(s.support)
	q.prepare(s)
	mass, slack := make([]float64, places), make([]float64, places)
	fewest, patience := places+1, 3
	for range 20 + 4*places {
		q.solvePassive(s, mass)
		q.slopesAt(s, mass, slack)
		wrong := q.wrong(mass, slack, s.problem.n)
		if len(wrong) == 0 {
			break
		}
		switch {
		case len(wrong) < fewest:
			fewest, patience = len(wrong), 3
		case patience > 0:
			patience--
		default:
			wrong = wrong[len(wrong)-1:]
		}
		for _, k := range wrong {
			q.passive[k] = !q.passive[k]
		}
	}
	for k := range mass {
		mass[k] = math.Max(mass[k], 0)
	}
	return mass
}

func (q *stepQuadratic) prepare(s *stepSearch) {
	q.conductance = resize(q.conductance, len(s.rows))
	q.pull = resize(q.pull, len(s.rows))
	for i, r := range s.rows {
		q.conductance[i] = r.count / (s.p[i] * s.p[i])
		q.pull[i] = 2 * r.count / s.p[i]
	}
	q.passive = make([]bool, len(s.support))
	for k := range q.passive {
		q.passive[k] = true
	}
}

func resize(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n)
	}
	return x[:n]
}

// wrong lists the places with a negative mass, or empty with a positive slope.
func (q *stepQuadratic) wrong(mass, slope []float64, n float64) []int {
	q.index = q.index[:0]
	for k, in := range q.passive {
		if in && mass[k] < 0 || !in && slope[k] > 1e-12*n {
			q.index = append(q.index, k)
		}
	}
	return q.index
}

// slopesAt writes the slope of the quadratic at mass, for every place.
func (q *stepQuadratic) slopesAt(s *stepSearch, mass, slope []float64) {
	cumulative := s.cumulative[:len(mass)+1]
	cumulate(cumulative, mass)
	clear(slope)
	for i, r := range s.rows {
		if r.to == r.from {
			continue
		}
		d := q.pull[i] - q.conductance[i]*r.probability(cumulative, mass)
		slope[r.from] += d
		if r.to < len(slope) {
			slope[r.to] -= d
		}
	}
	for k := 1; k < len(slope); k++ {
		slope[k] += slope[k-1]
	}
	for k := range slope {
		slope[k] -= s.problem.n
	}
}

// solvePassive maximises over the passive places alone, signs ignored. It
// solves for the change from the present masses, so that what is nearly right
// already is not lost in the rounding of the whole.
func (q *stepQuadratic) solvePassive(s *stepSearch, mass []float64) {
	var chosen []int
	clear(mass)
	for k, in := range q.passive {
		if in {
			chosen = append(chosen, k)
			mass[k] = s.mass[k]
		}
	}
	size := len(chosen)
	if size == 0 {
		return
	}
	cumulative := s.cumulative[:len(mass)+1]
	cumulate(cumulative, mass)
	rank := ranksBelow(chosen, len(mass))
	right := make([]float64, size)
	q.edges = q.edges[:0]
	for i, r := range s.rows {
		from, to := rank[r.from], rank[r.to]
		if from == to {
			continue
		}
		q.edges = append(q.edges, stepRow{from, to, q.conductance[i]})
		d := q.pull[i] - q.conductance[i]*r.probability(cumulative, mass)
		right[to-1] += d
		if from > 0 {
			right[from-1] -= d
		}
	}
	right[size-1] -= s.problem.n
	var change []float64 // of the distribution function at the upper borders
	if size <= densest {
		change = solveNetworkDense(q.edges, right)
	} else {
		change = solveNetwork(q.edges, right)
	}
	previous := 0.0
	for c, k := range chosen {
		mass[k] += change[c] - previous
		previous = change[c]
	}
}

// Up to this many places the network is solved by Cholesky's method.
const densest = 500

// A floating part of the network (masses that the data do not tell apart) is
// tied to earth by this share of the largest conductance.
const leak = 1e-14

func solveNetworkDense(edges []stepRow, right []float64) []float64 {
	size := len(right)
	data := make([]float64, size*size)
	largest := 0.0
	for _, e := range edges {
		b := e.to - 1
		data[b*size+b] += e.count
		if e.from > 0 {
			a := e.from - 1
			data[a*size+a] += e.count
			data[a*size+b] -= e.count
		}
	}
	for k := range size {
		largest = math.Max(largest, data[k*size+k])
	}
	matrix := mat.NewSymDense(size, data)
	var chol mat.Cholesky
	x := mat.NewVecDense(size, nil)
	for tie := leak; tie < 1; tie *= 100 {
		for k := range size {
			matrix.SetSym(k, k, matrix.At(k, k)+tie*largest)
		}
		if chol.Factorize(matrix) {
			// A warning about the condition is no failure: the line search judges.
			_ = chol.SolveVecTo(x, mat.NewVecDense(size, right))
			break
		}
	}
	return x.RawVector().Data
}
