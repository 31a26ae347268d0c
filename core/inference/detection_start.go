package inference

import (
	"cmp"
	"math"
	"slices"
)

// A row is as good as the place of a single threshold lets it be: it scores
// one value where the threshold lies at or below low, one in (low, high], one
// above high. Scanning all rows at once gives the best place of a step, which
// is where a climb should start, and the limit of a spread of 0.

// stepScan is the best cell between two neighbouring ends of rows.
type stepScan struct {
	low, high float64 // ln nV/cm; ±Inf where open
	value     float64
}

// scanStep finds the cell in which a single threshold fits best, under a lapse
// and a spontaneous rate.
func (p *detectionProblem) scanStep(x [detectionSize]float64) stepScan {
	point := newDetectionPoint(x)
	type change struct{ at, by float64 }
	changes := make([]change, 0, 2*len(p.rows))
	sum := 0.0
	for i := range p.rows {
		r := &p.rows[i]
		if r.kind == exactTurn { // a density: it has no place in a step
			continue
		}
		answered, between, above := point.stepValues(r)
		switch {
		case math.IsInf(r.low, -1):
			sum += between
		default:
			sum += answered
			changes = append(changes, change{r.low, between - answered})
		}
		if r.kind == turnedNow && !math.IsInf(r.high, 0) {
			changes = append(changes, change{r.high, above - between})
		} else if r.kind == turnedNow && math.IsInf(r.high, -1) {
			sum += above - between
		}
		sum -= point.h * r.until
	}
	slices.SortFunc(changes, func(a, b change) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.by, b.by)) })
	best := stepScan{math.Inf(-1), math.Inf(1), math.Inf(-1)}
	low := math.Inf(-1)
	for i := 0; ; {
		high := math.Inf(1)
		if i < len(changes) {
			high = changes[i].at
		}
		if sum > best.value {
			best = stepScan{low, high, sum}
		}
		if i == len(changes) {
			return best
		}
		for low = high; i < len(changes) && changes[i].at == low; i++ {
			sum += changes[i].by
		}
	}
}

// impossible stands for the logarithm of a probability of 0, so that sums can
// take it back again.
const impossible = -1e5

// stepValues of a row: threshold at or below low, in (low, high], above high.
func (p *detectionPoint) stepValues(r *passRow) (answered, between, above float64) {
	if r.kind == stayed {
		return math.Max(p.lnLapse, impossible), 0, 0
	}
	lnQ, _, _ := spontaneousTurn(p.h * r.window)
	answered = math.Max(lnQ+p.lnLapse, impossible)
	between = math.Max(addLogs(p.lnAttentive, lnQ+p.lnLapse), impossible)
	return answered, between, math.Max(lnQ, impossible)
}

const (
	// Climbs from so many starts; on long tables, where several maxima are rare
	// and climbs dear, from fewer.
	manyStarts, fewStarts = 14, 5
	manyStartsUpTo        = 2000
)

// starts are places to climb from: the best step, under several lapses and
// spontaneous rates, and the middle of the fields at which turns began, narrow
// and wide; the most promising first.
func (p *detectionProblem) starts() [][detectionSize]float64 {
	type start struct {
		x     [detectionSize]float64
		value float64
	}
	var all []start
	rate := p.turns / p.time
	turned := p.middleOfTurns()
	for _, lapse := range []float64{0.02, 0.15, 0.4} {
		for _, share := range []float64{0.7, 0.2, 0.02} {
			x := [detectionSize]float64{math.Log(lapse / (1 - lapse)), math.Log(rate * share), 0, 0}
			for _, mu := range []float64{p.scanStep(x).middle(), turned} {
				for _, sigma := range []float64{0.12, 0.35, 1, 2.5} {
					x[atMu], x[atSigma] = mu, math.Log(sigma)
					if v := p.value(x); !math.IsInf(v, 0) && !math.IsNaN(v) {
						all = append(all, start{x, v})
					}
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b start) int { return cmp.Compare(b.value, a.value) })
	most := manyStarts
	if len(p.rows) > manyStartsUpTo {
		most = fewStarts
	}
	var chosen [][detectionSize]float64
	for _, s := range all {
		near := slices.ContainsFunc(chosen, func(c [detectionSize]float64) bool {
			return math.Abs(c[atMu]-s.x[atMu]) < 0.1 && c[atSigma] == s.x[atSigma] &&
				(most == fewStarts || c[atLapse] == s.x[atLapse])
		})
		if !near && len(chosen) < most {
			chosen = append(chosen, s.x)
		}
	}
	return chosen
}

// middleOfTurns is the median of the ln fields at which turns began in a
// rising field.
func (p *detectionProblem) middleOfTurns() float64 {
	var fields []float64
	for _, r := range p.rows {
		if r.kind != stayed && (r.high > r.low || r.kind == exactTurn) && !math.IsInf(r.high, 0) {
			fields = append(fields, r.high)
		}
	}
	if len(fields) == 0 {
		return (p.lowest + p.highest) / 2
	}
	slices.Sort(fields)
	return fields[len(fields)/2]
}

// middle of a cell; beside its one end where it is open.
func (s stepScan) middle() float64 {
	switch {
	case math.IsInf(s.low, -1) && math.IsInf(s.high, 1):
		return 0
	case math.IsInf(s.low, -1):
		return s.high - 0.5
	case math.IsInf(s.high, 1):
		return s.low + 0.5
	}
	return (s.low + s.high) / 2
}

// climbStep is the best fit with a spread of 0: one threshold for all, known
// to lie in a cell. Cell and the other parameters are improved in turn.
func (p *detectionProblem) climbStep(from [detectionSize]float64) detectionPeak {
	best := detectionPeak{value: math.Inf(-1)}
	for i, least := range [2]float64{-3, math.Log(0.1 * p.turns / p.time)} {
		// Off the boundaries, from where no cell is impossible.
		if !(from[i] > least) {
			from[i] = least
		}
	}
	for range 20 {
		cell := p.scanStep(from)
		from[atMu] = cell.middle()
		// So narrow that both ends lie many spreads away.
		width := 1.0
		if !math.IsInf(cell.high-cell.low, 0) {
			width = cell.high - cell.low
		}
		from[atSigma] = math.Log(width / 200)
		peak := p.climb(from, nil)
		peak.step, peak.cell = true, Span{math.Exp(cell.low), math.Exp(cell.high)}
		if cell.low == math.Inf(-1) || cell.high == math.Inf(1) {
			peak.ran = "the passes agree on one threshold, beyond every field that was met"
		}
		if !(peak.value > best.value+1e-9) {
			break
		}
		best, from = peak, peak.x
	}
	return best
}
