package schedule

import (
	"fmt"
	"slices"
	"strconv"
)

// Trial is one drawn trial.
type Trial struct {
	// ID is T001 and so on, of a spare draw S001.
	ID string
	// Kind is [Active], [Silent] or [Sham].
	Kind string
	// Pair is the label of the active pair; "" where none is.
	Pair string
	// CurrentUA is the current in µA, above 0; in a silent trial and a sham the
	// one that would have flowed.
	CurrentUA float64
	// Reversed: the current flows the other way, so that its sign is negative.
	Reversed bool
	// OdourOff: no odour in this trial.
	OdourOff bool
}

// SignedUA is the current with its sign.
func (t *Trial) SignedUA() float64 {
	if t.Reversed {
		return -t.CurrentUA
	}
	return t.CurrentUA
}

// Schedule is a plan with its draw.
type Schedule struct {
	Plan   Plan
	Trials []Trial
	Spare  []Trial
	// Block is the length of a block in trials, silent ones and shams among
	// them: given what a block holds, every order of its driven trials was
	// equally likely (with [Plan.MostAlike], every order that keeps it). It is the
	// block of the rule "blocks" by which a randomisation test draws again.
	Block int
}

// mostWork is how many places are laid out and shuffled before a plan counts as one that
// cannot be drawn: a second's work, and a count, so that every machine gives up at
// the same place. The largest plans that can be drawn take a fiftieth of it.
const mostWork = 50_000_000

// Draw draws a schedule. The same plan and seed give the same schedule for
// ever. Blocks hold each pair Repeats times, in an order drawn anew for each;
// where a silent trial or a sham takes a place, the pairs that stay away take
// turns in that. Each pair gets the currents in shuffled rounds, and each
// current of each pair the polarities.
//
// Errors: [ErrPlan], also where MostAlike cannot be kept.
func Draw(plan Plan, seed Seed) (*Schedule, error) {
	if err := plan.Check(); err != nil {
		return nil, err
	}
	c, work, block := newChance(seed), mostWork, plan.Block()
	const tries = 1000
	for range tries {
		if s := draw(plan, block, c, &work); s != nil {
			return s, nil
		}
		if work < 0 {
			break
		}
	}
	return nil, fmt.Errorf("%w: %d pairs cannot be drawn with at most %d alike in a row; expected a larger limit, or none", ErrPlan, len(plan.Pairs), plan.MostAlike)
}

// drawing is a schedule in the making.
type drawing struct {
	plan     Plan
	c        *chance
	work     *int     // places that may still be laid out and shuffled
	omitted  dealer   // which pair stays away where a block has no place for all
	currents []dealer // by pair, and last those of trials that drive none
	signs    []dealer // by pair and current
	last     int      // pair of the last driven trial; −1: none yet
	alike    int      // driven trials running with it
}

// draw is nil where the limit on trials alike could not be kept, or not with
// the work that is left.
func draw(plan Plan, block int, c *chance, work *int) *Schedule {
	pairs, currents := len(plan.Pairs), len(plan.CurrentsUA)
	d := &drawing{plan: plan, c: c, work: work, omitted: dealer{c: c, n: pairs}, last: -1}
	for range pairs + 1 {
		d.currents = append(d.currents, dealer{c: c, n: currents})
	}
	for range pairs * currents {
		d.signs = append(d.signs, dealer{c: c, n: 2})
	}
	s := &Schedule{Plan: plan, Block: block}
	kinds := slices.Concat(slices.Repeat([]string{Silent}, plan.Silent), slices.Repeat([]string{Sham}, plan.Sham))
	*work -= 4 * plan.Trials // to lay out, deal and draw them costs about that
	shuffle(c, kinds)
	for _, b := range d.layOut(s.Block) {
		trials, ok := d.drawBlock(b, kinds[:b.idle])
		if !ok {
			return nil
		}
		kinds = kinds[b.idle:]
		s.Trials = append(s.Trials, trials...)
	}
	d.takeOdourAway(s.Trials)
	for left := plan.Spare; left > 0; {
		b := blockShape{length: min(left, plan.capacity())}
		trials, ok := d.drawBlock(b, nil)
		if !ok {
			return nil
		}
		s.Spare = append(s.Spare, trials...)
		left -= b.length
	}
	all := s.all()
	for i, id := range plan.IDs() {
		all[i].ID = id
	}
	return s
}

// capacity is how many driven trials a block holds at most.
func (p *Plan) capacity() int { return len(p.Pairs) * p.repeats() }

// Block is the longest block, in trials, that leaves every block no more driven
// trials than it holds.
func (p *Plan) Block() int {
	idle := p.Silent + p.Sham
	for length := p.capacity() + idle; ; length-- {
		need := 0
		for left := p.Trials; left > 0; left -= length {
			need += max(0, min(left, length)-p.capacity())
		}
		if need <= idle {
			return length
		}
	}
}

// blockShape is one block: its trials, and how many of them drive no pair.
type blockShape struct{ length, idle int }

// layOut deals the silent trials and shams out over the blocks.
func (d *drawing) layOut(length int) (blocks []blockShape) {
	idle := d.plan.Silent + d.plan.Sham
	for left := d.plan.Trials; left > 0; left -= length {
		b := blockShape{length: min(left, length)}
		b.idle = max(0, b.length-d.plan.capacity())
		idle -= b.idle
		blocks = append(blocks, b)
	}
	turns := dealer{c: d.c, n: len(blocks)}
	for idle > 0 {
		if b := &blocks[turns.deal()]; b.idle < b.length {
			b.idle++
			idle--
		}
	}
	return blocks
}

// drawBlock draws one block whose idle trials are of the kinds given.
func (d *drawing) drawBlock(b blockShape, kinds []string) (trials []Trial, ok bool) {
	places := make([]bool, b.length) // drives a pair
	for i := range b.length - b.idle {
		places[i] = true
	}
	shuffle(d.c, places)
	order, ok := d.order(b.length - b.idle)
	if !ok {
		return nil, false
	}
	for _, driven := range places {
		t := Trial{Kind: Active}
		which := len(d.plan.Pairs)
		if driven {
			which, order = order[0], order[1:]
			t.Pair = d.plan.Pairs[which]
		} else {
			t.Kind, kinds = kinds[0], kinds[1:]
		}
		current := d.currents[which].deal()
		t.CurrentUA = d.plan.CurrentsUA[current]
		if driven && d.plan.DrawPolarity {
			t.Reversed = d.signs[which*len(d.plan.CurrentsUA)+current].deal() == 1
		}
		trials = append(trials, t)
	}
	return trials, true
}

// order draws the pairs of so many driven trials: the block's, in an order that
// keeps the limit on trials alike.
func (d *drawing) order(driven int) (order []int, ok bool) {
	left := make([]int, len(d.plan.Pairs))
	for i := range left {
		left[i] = d.plan.repeats()
	}
	for range d.plan.capacity() - driven {
		left[d.stayAway(left)]--
	}
	for pair, n := range left {
		order = append(order, slices.Repeat([]int{pair}, n)...)
	}
	const tries = 1000
	for range tries {
		if *d.work -= len(order); *d.work < 0 {
			return nil, false
		}
		shuffle(d.c, order)
		if last, alike, ok := d.run(order); ok {
			d.last, d.alike = last, alike
			return order, true
		}
	}
	return nil, false
}

// stayAway is the next pair whose turn it is to stay away from a block that
// still holds it.
func (d *drawing) stayAway(left []int) int {
	var passed []int
	for {
		pair := d.omitted.deal()
		if left[pair] > 0 {
			d.omitted.left = append(d.omitted.left, passed...) // theirs is the next turn
			return pair
		}
		passed = append(passed, pair)
	}
}

// run follows an order from where the trials before it stand.
func (d *drawing) run(order []int) (last, alike int, ok bool) {
	last, alike = d.last, d.alike
	for _, pair := range order {
		if pair == last {
			alike++
		} else {
			last, alike = pair, 1
		}
		if d.plan.MostAlike > 0 && alike > d.plan.MostAlike {
			return 0, 0, false
		}
	}
	return last, alike, true
}

// takeOdourAway takes the odour from one driven trial, drawn evenly, in each of
// as many stretches as there are to be trials without.
func (d *drawing) takeOdourAway(trials []Trial) {
	var driven []*Trial
	for i := range trials {
		if trials[i].Kind == Active {
			driven = append(driven, &trials[i])
		}
	}
	n := d.plan.OdourOff
	for i := range n {
		from, to := i*len(driven)/n, (i+1)*len(driven)/n
		driven[from+d.c.below(to-from)].OdourOff = true
	}
}

// IDs are those that the trials and then the spare draws of a plan have: T001
// and so on, S001 and so on, each kind of one width.
func (p *Plan) IDs() []string {
	out := make([]string, 0, p.Trials+p.Spare)
	for _, kind := range []struct {
		letter string
		n      int
	}{{"T", p.Trials}, {"S", p.Spare}} {
		width := max(3, len(strconv.Itoa(kind.n)))
		for i := range kind.n {
			out = append(out, fmt.Sprintf("%s%0*d", kind.letter, width, i+1))
		}
	}
	return out
}
