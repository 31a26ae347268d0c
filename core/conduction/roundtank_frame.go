package conduction

import (
	"math"
	"sync"
)

// wallFrame is what a round wall does, apart from sources and points: one frame
// serves all sources of a medium that lie between two heights. Safe for concurrent
// use; its levels are made when first asked for.
//
// What the wall adds is a sum over standing waves Z_n of the column of layers and
// over orders m round the axis (see [roundTank]). Its terms fall as
// e^{−δ√(k² + m²/R²)}, δ being how far the point and the nearest source are from the wall,
// together: level ℓ holds the terms for δ down to 2R·2^{−ℓ/2}.
//
// A column that is open, or reaches far beyond the sources, is closed 10R from them:
// what comes back from there is e^{−2·10·1.84} = 1e-16 of what went. Such a
// column has very many waves, and a wall near by needs very many orders; but the higher the
// order, the less far it is heard: order m as e^{−2m·asinh(s/2R)} at a height s from its
// source, with a wall or without. Orders from 16, 32, 64 … on are therefore taken from
// ever shorter columns, with which the number of terms grows as 1/δ, not as its square.
type wallFrame struct {
	radius  float64
	digits  float64 // terms below e^−digits are left out
	lo, hi  float64 // of the sources
	band    float64 // beyond this height over or under them, [roundTank.across] answers
	base    *stack  // the long column
	above   int     // slabs cut off its top
	columns []wallColumn
	deepest int
	levels  []wallLevel
	once    []sync.Once
}

// wallColumn is one of the columns that share the orders.
type wallColumn struct {
	stack    *stack
	above    int
	from, to int     // its orders
	reach    float64 // over and under the sources, beyond which these orders are nothing
}

// The orders of the second column begin at highOrder, those of the last at lastOrder.
const (
	highOrder = 16
	lastOrder = 1 << 14
	allOrders = 1 << 30
)

// frameChoice are the free choices of a frame, on which nothing may depend.
type frameChoice struct {
	digits    float64
	band, end float64 // in radii
	terms     float64 // at most on a level, and with them memory (32 bytes each) and time
}

var (
	usualFrame = frameChoice{digits: 36, band: 0.75, end: 10, terms: 3e6}
	otherFrame = frameChoice{digits: 40, band: 1, end: 11, terms: 1.5e6} // to check the usual one
	plateFrame = frameChoice{digits: 26, band: 0.75, end: 8, terms: 1e6}
)

func newWallFrame(st *stack, radius, lo, hi float64, c frameChoice) *wallFrame {
	f := &wallFrame{radius: radius, digits: c.digits, lo: lo, hi: hi, band: c.band * radius}
	end := c.end * radius
	f.base, f.above = st.column(lo-end, hi+end)
	f.columns = []wallColumn{{f.base, f.above, 0, allOrders, f.band}}
	for order := highOrder; order <= lastOrder; order *= 2 {
		heard := 2 * radius * math.Sinh(c.digits/(2*float64(order)))
		reach := math.Min(heard, f.band)
		end := (heard + reach) / 2 // there, and back to the farthest point
		short, above := st.column(lo-end, hi+end)
		last := &f.columns[len(f.columns)-1]
		if short.height() < 0.75*last.stack.height() {
			last.to = order
			f.columns = append(f.columns, wallColumn{short, above, order, allOrders, reach})
		}
	}
	for f.deepest < 60 && f.terms(f.deepest+1) <= c.terms {
		f.deepest++
	}
	f.levels, f.once = make([]wallLevel, f.deepest+1), make([]sync.Once, f.deepest+1)
	return f
}

func (st *stack) height() float64 {
	return st.slabs[0].topM - st.slabs[len(st.slabs)-1].bottomM
}

// gapOf is the δ of a level.
func (f *wallFrame) gapOf(level int) float64 { return 2 * f.radius * math.Pow(2, -float64(level)/2) }

// levelFor is the first level that serves δ, or the deepest there is.
func (f *wallFrame) levelFor(gap float64) int {
	level := 0
	for level < f.deepest && f.gapOf(level) > gap {
		level++
	}
	return level
}

// terms estimates how many there are on a level, rather too many.
func (f *wallFrame) terms(level int) float64 {
	kMax := f.digits / f.gapOf(level)
	sum := 0.0
	for _, c := range f.columns {
		orders := math.Min(f.radius*kMax+6, float64(c.to)) - float64(c.from)
		sum += (kMax*c.stack.height()/math.Pi + 1) * math.Max(orders, 0)
	}
	return sum
}

// wallLevel lists the terms of a level, wave by wave and in each by order.
type wallLevel struct {
	upright []*standing // by column
	rows    []wallRow
	ratio   []float64 // I_m(kR)/I_{m+1}(kR)
	weight  []float64 // by which a source's and a point's share are multiplied
}

// wallRow is one wave: its terms stand at from, orders 0 to orders − 1. The wave −1 is
// that without k, constant over the column.
type wallRow struct {
	column, wave int
	k            float64
	from, orders int
	beyond       int     // more orders that count at k, but are another column's: see [spare]
	centre       float64 // e^{−kR}·I_0(kR)
}

// orders is how many orders round the axis count at k, for a gap.
func (f *wallFrame) orders(k, gap float64) int {
	kMax := f.digits / gap
	room := (kMax - k) * (kMax + k)
	return int(f.radius*math.Sqrt(math.Max(room, 0))) + 5
}

// heard reports whether a column's orders count at a height.
func (f *wallFrame) heard(c *wallColumn, z float64) bool {
	return z >= f.lo-c.reach && z <= f.hi+c.reach
}

func (f *wallFrame) level(n int) *wallLevel {
	f.once[n].Do(func() {
		f.levels[n] = f.newLevel(f.gapOf(n))
		if n == f.deepest {
			f.soften(&f.levels[n])
		}
	})
	return &f.levels[n]
}

// soften lets the last terms of the deepest level die away by and by. Closer to the wall
// than its gap, terms are cut that still count: a sharp edge among them would
// be heard all over the tank, a soft one only beside the source, nearer than some five gaps.
func (f *wallFrame) soften(l *wallLevel) {
	last := f.digits / f.gapOf(f.deepest)
	for i := range l.rows {
		r := &l.rows[i]
		for m := range r.orders {
			share := math.Hypot(r.k, float64(m)/f.radius) / last
			l.weight[r.from+m] *= math.Erfc((share-0.55)/0.09) / 2
		}
	}
}

func (f *wallFrame) newLevel(gap float64) wallLevel {
	var l wallLevel
	total := 0
	for c, col := range f.columns {
		u := newStanding(col.stack, f.digits/gap)
		l.upright = append(l.upright, u)
		add := func(wave int, k float64) {
			all := f.orders(k, gap)
			if orders := min(all, col.to); orders > col.from {
				l.rows = append(l.rows, wallRow{c, wave, k, total, orders, spare(all - orders), bessel0(k * f.radius)})
				total += orders
			}
		}
		add(-1, 0)
		for n, k := range u.k {
			add(n, k)
		}
	}
	l.ratio, l.weight = make([]float64, total), make([]float64, total)
	_ = parallelEach(len(l.rows), func(i int) error {
		r := &l.rows[i]
		f.weigh(&l, r)
		return nil
	})
	return l
}

// spare is how many orders beyond the last a recurrence must begin, to be right at the
// last to 1e-12. Where no more orders count, none: the last terms are nothing.
func spare(more int) int { return min(more, 16) }

// weigh sets the weights of one wave: the wall's echo over 2π∫σZ².
func (f *wallFrame) weigh(l *wallLevel, r *wallRow) {
	col := f.columns[r.column]
	ratio, weight := l.ratio[r.from:r.from+r.orders], l.weight[r.from:r.from+r.orders]
	if r.wave < 0 { // the wall's echo is 1/2m, and a constant for m = 0
		f0 := 1 / (2 * math.Pi * col.stack.conductance())
		for m := range weight {
			if ratio[m] = 1; m >= max(col.from, 1) {
				weight[m] = f0 / float64(m)
			}
		}
		return
	}
	x := r.k * f.radius
	besselSteps(x, ratio, r.beyond)
	s, before := besselFirst(x), 0.0
	f0 := 1 / (2 * math.Pi * l.upright[r.column].norm[r.wave])
	for m := range weight {
		w := f0 * wallEcho(float64(m), x, ratio[m], s, before)
		if m > 0 {
			w *= 2
		}
		if m >= col.from {
			weight[m] = w
		}
		before, s = s, 2*float64(m+1)/x+1/s
		ratio[m] = 1 / ratio[m]
	}
}
