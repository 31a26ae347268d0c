package inference

import (
	"fmt"
	"math"
)

const (
	aimedGap       = 1e-11 // where the search stops; 1e-8 is what it must reach
	maxStepsSearch = 400
)

// stepSearch is the state of the search for the masses: the places in use
// (support, ascending) with their masses, and the rows as ranges of them.
type stepSearch struct {
	problem    *stepProblem
	support    []int
	mass       []float64
	rows       []stepRow // ranges of support
	p          []float64 // probability of each row
	full       []float64 // masses of all places
	cumulative []float64
	slope      []float64 // d_j of all places
}

// solve returns the masses of all places and the gap.
//
// It maximises ℓ(p) − n·Σp over p ≥ 0, whose maximum has Σp = 1 by itself.
// Each round takes in, between any two places in use, the one with the largest
// slope; maximises the quadratic approximation on these places; and goes
// towards that as far as the likelihood rises.
func (p *stepProblem) solve() (masses []float64, gap float64, err error) {
	s := newStepSearch(p)
	var qp stepQuadratic
	best := math.Inf(1)
	stuck := 0
	for range maxStepsSearch {
		residual := s.measure()
		gap = s.gap()
		if gap <= aimedGap && residual <= aimedGap {
			break
		}
		// Near the end rounding decides: stop when nothing improves any more.
		if worst := math.Max(gap, residual); worst < best/2 {
			best, stuck = worst, 0
		} else if stuck++; stuck > 20 && gap <= largestGap/10 {
			break
		}
		s.admit()
		target := qp.maximise(s)
		if !s.advance(target) {
			break
		}
	}
	s.dropSmall()
	s.measure()
	if gap = s.gap(); !(gap <= largestGap) {
		return nil, gap, fmt.Errorf("the distribution of thresholds was not found: gap %.3g, wanted %.0e", gap, largestGap)
	}
	return s.full, math.Max(gap, 0), nil
}

// newStepSearch starts from the fewest places that give every row a chance:
// the last place of the first row that has none yet, and so on.
func newStepSearch(p *stepProblem) *stepSearch {
	s := &stepSearch{
		problem: p,
		rows:    make([]stepRow, len(p.rows)), p: make([]float64, len(p.rows)),
		full:  make([]float64, len(p.places)),
		slope: make([]float64, len(p.places)), cumulative: make([]float64, len(p.places)+1),
	}
	// furthest[j] is the largest lower end among the rows that end at place j.
	furthest := make([]int, len(p.places))
	for j := range furthest {
		furthest[j] = -1
	}
	for _, r := range p.rows {
		furthest[r.to-1] = max(furthest[r.to-1], r.from)
	}
	last := -1
	for j, from := range furthest {
		if from > last {
			s.support = append(s.support, j)
			last = j
		}
	}
	s.mass = make([]float64, len(s.support))
	for k := range s.mass {
		s.mass[k] = 1 / float64(len(s.mass))
	}
	return s
}

// measure spreads the masses over all places, takes the slopes there, and
// returns max |d_j/n − 1| over the places in use.
func (s *stepSearch) measure() (residual float64) {
	clear(s.full)
	for k, j := range s.support {
		s.full[j] = s.mass[k]
	}
	cumulate(s.cumulative, s.full)
	s.problem.slopes(s.slope, s.cumulative, s.full)
	for _, j := range s.support {
		residual = math.Max(residual, math.Abs(s.slope[j]/s.problem.n-1))
	}
	return residual
}

func (s *stepSearch) gap() float64 {
	largest := math.Inf(-1)
	for _, d := range s.slope {
		largest = math.Max(largest, d)
	}
	return largest/s.problem.n - 1
}

// admit takes in the steepest place of every stretch between places in use,
// with no mass yet, and maps the rows to the new support.
func (s *stepSearch) admit() {
	var support []int
	var mass []float64
	k := 0
	steepest, at := s.problem.n*(1+aimedGap/10), -1
	flush := func() {
		if at >= 0 {
			support, mass = append(support, at), append(mass, 0)
		}
		steepest, at = s.problem.n*(1+aimedGap/10), -1
	}
	for j, d := range s.slope {
		if k < len(s.support) && s.support[k] == j {
			flush()
			support, mass = append(support, j), append(mass, s.mass[k])
			k++
			continue
		}
		if d > steepest {
			steepest, at = d, j
		}
	}
	flush()
	s.support, s.mass = support, mass
	rank := ranksBelow(support, len(s.slope))
	for i, r := range s.problem.rows {
		s.rows[i] = stepRow{rank[r.from], rank[r.to], r.count}
	}
	s.probabilities(s.p, s.mass)
}

// ranksBelow returns, for every j in 0 … n, how many chosen indices lie below j.
func ranksBelow(chosen []int, n int) []int {
	rank := make([]int, n+1)
	for _, j := range chosen {
		rank[j+1] = 1
	}
	for j := 1; j <= n; j++ {
		rank[j] += rank[j-1]
	}
	return rank
}

// probabilities of the rows under masses of the support.
func (s *stepSearch) probabilities(p, mass []float64) {
	cumulative := s.cumulative[:len(mass)+1]
	cumulate(cumulative, mass)
	for i, r := range s.rows {
		if r.to > r.from {
			p[i] = r.probability(cumulative, mass)
		} else {
			p[i] = 0
		}
	}
}

// penalised is ℓ − n·Σmass.
func (s *stepSearch) penalised(p, mass []float64) float64 {
	sum, total := 0.0, 0.0
	for i, r := range s.rows {
		if !(p[i] > 0) {
			return math.Inf(-1)
		}
		sum += r.count * math.Log(p[i])
	}
	for _, m := range mass {
		total += m
	}
	return sum - s.problem.n*total
}

// advance goes from the masses towards target, halving until the likelihood
// rises as its slope promises; then it drops the places that are left empty.
func (s *stepSearch) advance(target []float64) bool {
	rise := 0.0
	for k, j := range s.support {
		rise += (s.slope[j] - s.problem.n) * (target[k] - s.mass[k])
	}
	here := s.penalised(s.p, s.mass)
	trial, p := make([]float64, len(target)), make([]float64, len(s.p))
	// Where the promised rise drowns in rounding, any possible step is taken.
	slack := 1e-13 * (math.Abs(here) + s.problem.n)
	for part := 1.0; part > 1e-12; part /= 2 {
		for k := range trial {
			trial[k] = s.mass[k] + part*(target[k]-s.mass[k])
		}
		s.probabilities(p, trial)
		if s.penalised(p, trial) >= here+0.1*part*rise-slack {
			s.keep(trial)
			return true
		}
	}
	return false
}

// keep stores the masses, scaled to sum to 1, without the empty places.
func (s *stepSearch) keep(mass []float64) {
	total := 0.0
	for _, m := range mass {
		total += m
	}
	support, kept := s.support[:0], s.mass[:0]
	for k, m := range mass {
		if m > 0 {
			support, kept = append(support, s.support[k]), append(kept, m/total)
		}
	}
	s.support, s.mass = support, kept
}

func (s *stepSearch) dropSmall() {
	mass := make([]float64, len(s.mass))
	for k, m := range s.mass {
		if m >= smallestMass {
			mass[k] = m
		}
	}
	s.keep(mass)
}
