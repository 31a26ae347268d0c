package inference

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// CurveRow is one pass at a level that the experimenter set.
type CurveRow struct {
	LevelNVPerCm float64 // field, in nV/cm; not used where the pair was not active
	Active       bool    // false for control pairs and silent trials
	Turned       bool
}

// CurveFit is the response curve; see [Curve].
type CurveFit struct {
	Guess, Lapse  float64
	Median        float64 // nV/cm, of the curve without guesses and lapses
	Slope         float64 // per natural logarithm of the level
	LogMedianSE   float64 // standard error of ln Median
	SlopeSE       float64
	Median95      Span    // Wald, on ln Median, as nV/cm
	LogLikelihood float64 // with all Bernoulli constants
	Passes        int
	Boundary      []string // "guess", "lapse" where estimated at 0
	Warnings      []string
}

// CurveOption holds a parameter of [Curve] fixed.
type CurveOption func(*curveModel)

// FixGuess holds the guess at a value, as where the design gives it (½ with
// two choices).
func FixGuess(value float64) CurveOption {
	return func(m *curveModel) { m.fixed[guessAt], m.start[guessAt] = true, value }
}

// FixLapse holds the lapse at a value.
func FixLapse(value float64) CurveOption {
	return func(m *curveModel) { m.fixed[lapseAt], m.start[lapseAt] = true, value }
}

// Curve fits, by maximum likelihood over passes,
//
//	P(turn) = guess + (1 − guess)(1 − lapse)·Φ(slope·ln(level/median))
//
// at active pairs and P(turn) = guess elsewhere and at level 0. Guess and lapse
// are at least 0 and estimated unless fixed; the slope is positive. Individuals
// are ignored: every pass counts as if by another animal. Rows may come in any
// order: the result has the same bits.
//
// Errors: a plain error for a level that is negative or not finite, or a value
// fixed outside 0 to 1; [*NotEstimable] with fewer than two levels above 0, no
// turn or nothing but turns at them, turns that do not become more frequent
// with the level, a step with no slope, or too little data to tell the
// parameters apart.
//
// Method: Newton's method with the parameters on their bounds held there, from
// the best of a grid of starts; standard errors from the observed information
// of the parameters that are free and inside.
//
// Source: the usual psychometric function with the lapse a share of what is
// not guessed, so that Abbott's formula holds (from memory). Tests: published
// two-choice data with guess ½, g_ecc2.json, g_menarche.json, g_invented.json,
// derivatives against differences.
func Curve(rows []CurveRow, options ...CurveOption) (CurveFit, error) {
	m := &curveModel{link: normalLink}
	for _, o := range options {
		o(m)
	}
	if err := m.count(rows); err != nil {
		return CurveFit{}, err
	}
	return m.fit()
}

// Places of the parameters.
const (
	guessAt  = iota
	lapseAt  // share of the rest that is never answered
	medianAt // ln of the median
	slopeAt  // ln of the slope
	curveSize
)

type curvePoint [curveSize]float64

// curveCell counts passes at one level; log is −∞ where nothing can be felt.
type curveCell struct {
	log  float64
	n, y float64
}

type curveModel struct {
	link  link
	cells []curveCell
	fixed [curveSize]bool
	start curvePoint // the fixed values
}

// count turns rows into cells in order of their level.
func (m *curveModel) count(rows []CurveRow) error {
	for _, p := range []struct {
		place int
		name  string
	}{{guessAt, "guess"}, {lapseAt, "lapse"}} {
		if v := m.start[p.place]; m.fixed[p.place] && !(v >= 0 && v < 1) {
			return fmt.Errorf("the %s is held at %g; 0 or more and below 1 is expected", p.name, v)
		}
	}
	cells := make([]curveCell, 0, len(rows))
	for k, r := range rows {
		c := curveCell{log: math.Inf(-1), n: 1}
		if r.Active {
			if !(r.LevelNVPerCm >= 0) || math.IsInf(r.LevelNVPerCm, 0) {
				return fmt.Errorf("row %d: a level of %g nV/cm; a finite level, not negative, is expected", k, r.LevelNVPerCm)
			}
			c.log = math.Log(r.LevelNVPerCm)
		}
		if r.Turned {
			c.y = 1
		}
		cells = append(cells, c)
	}
	slices.SortFunc(cells, func(a, b curveCell) int { return cmp.Compare(a.log, b.log) })
	for _, c := range cells {
		if n := len(m.cells); n > 0 && m.cells[n-1].log == c.log {
			m.cells[n-1].n += c.n
			m.cells[n-1].y += c.y
			continue
		}
		m.cells = append(m.cells, c)
	}
	return m.enough()
}

// levels are the cells at levels above 0.
func (m *curveModel) levels() []curveCell {
	if len(m.cells) > 0 && math.IsInf(m.cells[0].log, -1) {
		return m.cells[1:]
	}
	return m.cells
}

func (m *curveModel) enough() error {
	levels := m.levels()
	var n, y float64
	for _, c := range levels {
		n += c.n
		y += c.y
	}
	switch {
	case len(levels) < 2:
		return notEstimable("a response curve needs passes at two or more levels above 0, and there are %d", len(levels))
	case y == 0:
		return notEstimable("nobody ever turned at a level above 0, so there is no curve")
	case y == n:
		return notEstimable("every pass at a level above 0 had a turn, so the curve lies below the levels that were used")
	}
	return nil
}

// likelihood returns the log-likelihood with gradient and Hessian in all four
// parameters, −∞ where the data are impossible.
func (m *curveModel) likelihood(at curvePoint) (float64, curvePoint, [curveSize]curvePoint) {
	g, l, slope := at[guessAt], at[lapseAt], math.Exp(at[slopeAt])
	height := (1 - g) * (1 - l)
	var value float64
	var gradient curvePoint
	var hessian [curveSize]curvePoint
	for _, c := range m.cells {
		u := slope * (c.log - at[medianAt])
		var F, rest, f, df float64 // the link, 1 − F, F′, F″
		if math.IsInf(c.log, -1) {
			u, rest = 0, 1
		} else {
			F, rest, f, df = m.link(u)
		}
		p := g + height*F
		q := (1 - g) * (rest + l*F)
		if c.y > 0 {
			value += c.y * math.Log(p)
		}
		if c.y < c.n {
			value += (c.n - c.y) * math.Log(q)
		}
		first := curvePoint{1 - (1-l)*F, -(1 - g) * F, -height * f * slope, height * f * u}
		second := [curveSize]curvePoint{
			guessAt:  {0, F, (1 - l) * f * slope, -(1 - l) * f * u},
			lapseAt:  {F, 0, (1 - g) * f * slope, -(1 - g) * f * u},
			medianAt: {(1 - l) * f * slope, (1 - g) * f * slope, height * df * slope * slope, -height * slope * (df*u + f)},
			slopeAt:  {-(1 - l) * f * u, -(1 - g) * f * u, -height * slope * (df*u + f), height * u * (df*u + f)},
		}
		// Weights of the first and second derivatives of p.
		var w1, w2 float64
		if c.y > 0 {
			w1 += c.y / p
			w2 += c.y / (p * p)
		}
		if c.y < c.n {
			w1 -= (c.n - c.y) / q
			w2 += (c.n - c.y) / (q * q)
		}
		for i := range curveSize {
			gradient[i] += w1 * first[i]
			for j := range curveSize {
				hessian[i][j] += w1*second[i][j] - w2*first[i]*first[j]
			}
		}
	}
	if math.IsNaN(value) {
		value = math.Inf(-1)
	}
	return value, gradient, hessian
}

// free lists the parameters that are neither fixed nor pressed against a bound.
func (m *curveModel) free(at, gradient curvePoint) []int {
	var free []int
	for i := range curveSize {
		if m.fixed[i] || i <= lapseAt && at[i] == 0 && gradient[i] <= 0 {
			continue
		}
		free = append(free, i)
	}
	return free
}

// subInformation is minus the Hessian of the parameters listed.
func subInformation(hessian [curveSize]curvePoint, free []int) *mat.SymDense {
	m := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b, j := range free {
			if b >= a {
				m.SetSym(a, b, -hessian[i][j])
			}
		}
	}
	return m
}

// link is a distribution function: it returns F, 1 − F, F′ and F″.
type link func(u float64) (F, rest, f, df float64)

// normalLink is the standard normal distribution.
func normalLink(u float64) (F, rest, f, df float64) {
	f = math.Exp(-u*u/2) / math.Sqrt(2*math.Pi)
	return math.Erfc(-u/math.Sqrt2) / 2, math.Erfc(u/math.Sqrt2) / 2, f, -u * f
}
