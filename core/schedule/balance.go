package schedule

// Balance is how even a draw came out, and what can be guessed of it.
type Balance struct {
	// PairCurrent[i][j] is how many trials drive pair i with current j.
	PairCurrent [][]int
	// PairReversed[i] is how many trials drive pair i the other way round.
	PairReversed []int
	// PairDay[i][d] is how many trials of day d drive pair i, PairTime[i][k] how
	// many that are the k-th of their day; nil where the trials a day are not
	// known.
	PairDay, PairTime [][]int
	// LongestRun is the most driven trials running with one pair.
	LongestRun int
	// Chance is how often a guess hits that knows nothing: one in the number of
	// pairs.
	Chance float64
	// ChanceWithBlocks is how often the best guess hits of somebody who is told
	// every trial's pair when it is over and knows what each block holds: the mean
	// over the driven trials. The end of a block is then no secret.
	ChanceWithBlocks float64
}

// Balance counts. perDay is the trials of a day, 0 where it is not known.
func (s *Schedule) Balance(perDay int) Balance {
	pairs := len(s.Plan.Pairs)
	b := Balance{PairCurrent: grid(pairs, len(s.Plan.CurrentsUA)), PairReversed: make([]int, pairs), Chance: 1 / float64(pairs)}
	if perDay > 0 {
		b.PairDay = grid(pairs, (len(s.Trials)+perDay-1)/perDay)
		b.PairTime = grid(pairs, min(perDay, len(s.Trials)))
	}
	which, level := indexOf(s.Plan.Pairs), indexOf(s.Plan.CurrentsUA)
	last, run := -1, 0
	for i := range s.Trials {
		t := &s.Trials[i]
		if t.Kind != Active {
			continue
		}
		p := which[t.Pair]
		b.PairCurrent[p][level[t.CurrentUA]]++
		if t.Reversed {
			b.PairReversed[p]++
		}
		if perDay > 0 {
			b.PairDay[p][i/perDay]++
			b.PairTime[p][i%perDay]++
		}
		if p != last {
			last, run = p, 0
		}
		run++
		b.LongestRun = max(b.LongestRun, run)
	}
	b.ChanceWithBlocks = s.chanceWithBlocks(which)
	return b
}

// chanceWithBlocks takes the contents of each block as known, which a pair that
// stayed away makes them a little less in truth.
func (s *Schedule) chanceWithBlocks(which map[string]int) float64 {
	sum, driven := 0.0, 0
	for from := 0; from < len(s.Trials); from += s.Block {
		block := s.Trials[from:min(from+s.Block, len(s.Trials))]
		left, all := make([]int, len(s.Plan.Pairs)), 0
		for i := range block {
			if block[i].Kind == Active {
				left[which[block[i].Pair]]++
				all++
			}
		}
		for i := range block {
			if block[i].Kind != Active {
				continue
			}
			most := 0
			for _, n := range left {
				most = max(most, n)
			}
			sum += float64(most) / float64(all)
			driven++
			left[which[block[i].Pair]]--
			all--
		}
	}
	return sum / float64(driven)
}

func grid(rows, columns int) [][]int {
	out := make([][]int, rows)
	for i := range out {
		out[i] = make([]int, columns)
	}
	return out
}

func indexOf[T comparable](list []T) map[T]int {
	out := make(map[T]int, len(list))
	for i, v := range list {
		out[v] = i
	}
	return out
}
