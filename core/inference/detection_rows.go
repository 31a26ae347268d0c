package inference

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

type passKind uint8

const (
	stayed    passKind = iota // −h·until + ln S(low)
	turnedNow                 // −h·until + ln[S(low) − e^(−h·window)·S(high)]
	exactTurn                 // −h·until + ln[(1 − lapse)·density of the field at low]
)

// passRow is a row as the likelihood sees it; fields as natural logarithms.
type passRow struct {
	kind          passKind
	low, high     float64 // high ≥ low; −Inf: no field, +Inf: no upper bound
	until, window float64 // s
}

// detectionProblem is a checked table in canonical order.
type detectionProblem struct {
	rows     []passRow
	clusters []clusterRange
	animals  int
	// Scales of the search.
	turns, time, longest float64 // turns, seconds watched in all, longest watch
	lowest, highest      float64 // ln of the fields above 0
	left                 int     // rows that no model allows, left out
	exact                bool    // some thresholds are known exactly
}

func checkDetection(rows []DetectionRow) error {
	for i, r := range rows {
		bad := ""
		switch {
		case math.IsNaN(r.Low) || r.Low < 0 || math.IsInf(r.Low, 1):
			bad = "the lower field must be a finite number, 0 or more"
		case r.Turned && (math.IsNaN(r.High) || r.High < 0):
			bad = "a turn needs an upper field of 0 or more"
		case r.Onset && !r.Turned:
			bad = "an onset without a turn"
		case r.Exact && (!r.Turned || r.Low != r.High || r.Low == 0):
			bad = "an exact threshold needs a turn and two equal fields above 0"
		case r.Onset && !(r.OnsetBeforeS >= 0 && r.OnsetBeforeS <= r.OnsetS && !math.IsInf(r.OnsetS, 1)):
			bad = fmt.Sprintf("onset between %g and %g s: times must be finite, 0 or more, in order", r.OnsetBeforeS, r.OnsetS)
		case !r.Onset && !(r.WatchedS >= 0 && !math.IsInf(r.WatchedS, 1)):
			bad = fmt.Sprintf("watched for %g s: it must be a finite number, 0 or more", r.WatchedS)
		}
		if bad != "" {
			return fmt.Errorf("pass %d (%s): %s", i, r.Cluster, bad)
		}
	}
	return nil
}

// canonicalDetection returns the rows in the one order in which the fit takes
// them, with every number that the likelihood does not use set to 0.
func canonicalDetection(rows []DetectionRow) []DetectionRow {
	sorted := slices.Clone(rows)
	for i := range sorted {
		r := &sorted[i]
		switch {
		case !r.Turned:
			r.High, r.OnsetBeforeS, r.OnsetS = 0, 0, 0
		case r.Onset:
			r.WatchedS = 0
			r.High = math.Max(r.High, r.Low)
		default:
			r.OnsetBeforeS, r.OnsetS = 0, 0
			if !r.Exact {
				r.Low = 0
			}
		}
	}
	slices.SortFunc(sorted, func(a, b DetectionRow) int {
		return cmp.Or(
			cmp.Compare(a.Cluster, b.Cluster), compareBool(a.Identified, b.Identified),
			compareBool(a.Turned, b.Turned), compareBool(a.Onset, b.Onset), compareBool(a.Exact, b.Exact),
			cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High),
			cmp.Compare(a.OnsetBeforeS, b.OnsetBeforeS), cmp.Compare(a.OnsetS, b.OnsetS), cmp.Compare(a.WatchedS, b.WatchedS))
	})
	return sorted
}

// newDetectionProblem takes checked rows. A turn that began in no time and in
// no rising field has probability 0 under every parameter: such rows are left
// out and counted.
func newDetectionProblem(rows []DetectionRow) *detectionProblem {
	kept := canonicalDetection(rows)
	p := &detectionProblem{lowest: math.Inf(1), highest: math.Inf(-1)}
	kept = slices.DeleteFunc(kept, func(r DetectionRow) bool {
		return r.Turned && !r.Exact && r.High <= r.Low && windowOf(r) == 0
	})
	p.left = len(rows) - len(kept)
	p.rows = make([]passRow, len(kept))
	for i, r := range kept {
		row := passRow{kind: stayed, low: math.Log(r.Low), until: r.WatchedS}
		switch {
		case r.Exact:
			row = passRow{kind: exactTurn, low: math.Log(r.Low), high: math.Log(r.High), until: r.OnsetS}
		case r.Turned:
			row = passRow{kind: turnedNow, low: math.Log(r.Low), high: math.Log(r.High), until: r.OnsetBeforeS, window: windowOf(r)}
		}
		p.rows[i] = row
		p.measure(row)
	}
	p.clusters, p.animals = clustersOf(len(kept), func(i int) string { return kept[i].Cluster },
		func(i int) bool { return kept[i].Identified })
	return p
}

// windowOf is the time in which a turn can have begun.
func windowOf(r DetectionRow) float64 {
	if r.Onset {
		return r.OnsetS - r.OnsetBeforeS
	}
	return r.WatchedS
}

func (p *detectionProblem) measure(row passRow) {
	if row.kind != stayed {
		p.turns++
	}
	p.exact = p.exact || row.kind == exactTurn
	watched := row.until + row.window
	p.time += watched
	p.longest = math.Max(p.longest, watched)
	p.reach(row.low)
	if row.kind != stayed {
		p.reach(row.high)
	}
}

func (p *detectionProblem) reach(lnField float64) {
	if !math.IsInf(lnField, 0) {
		p.lowest, p.highest = math.Min(p.lowest, lnField), math.Max(p.highest, lnField)
	}
}

// thinned returns every stride-th row: enough to find where the maximum is.
func (p *detectionProblem) thinned(rows int) *detectionProblem {
	stride := (len(p.rows) + rows - 1) / rows
	thin := &detectionProblem{lowest: math.Inf(1), highest: math.Inf(-1)}
	for i := 0; i < len(p.rows); i += stride {
		thin.rows = append(thin.rows, p.rows[i])
		thin.measure(p.rows[i])
	}
	return thin
}

// existence says what makes the model pointless before any search.
func (p *detectionProblem) existence() error {
	caused := 0
	for _, r := range p.rows {
		if r.kind == exactTurn || r.kind == turnedNow && r.high > r.low {
			caused++
		}
	}
	switch {
	case len(p.rows) == 0:
		return notEstimable("no passes")
	case p.time == 0:
		return notEstimable("no pass says how long it was watched: without time the turns that no field caused cannot be told from the others")
	case p.turns == 0:
		return notEstimable("none of the %d passes turned", len(p.rows))
	case caused == 0:
		return notEstimable("none of the %g turns began in a rising field: no field can have caused them", p.turns)
	case math.IsInf(p.lowest, 1):
		return notEstimable("no pass gives a bound on its threshold")
	}
	return nil
}
