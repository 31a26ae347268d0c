package inference

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Interval is one pass at the active pair: what it says about the detection
// threshold. A turn puts it in (Low, High]; a pass without a turn, or with a
// falling field, puts it above Low (High = +Inf).
type Interval struct {
	Cluster    string  // the animal, or trial and species of unidentified passes
	Identified bool    // Cluster is a recognised animal
	Low, High  float64 // nV/cm; 0 ≤ Low < High, Low = High only with Exact
	Exact      bool    // the threshold is Low = High > 0; the row adds its density of the field
}

// DetectionRow is one pass of a species, at whatever pair and in silent trials
// too: what it met and what it did.
type DetectionRow struct {
	Cluster    string
	Identified bool
	// Low and High in nV/cm. Without a turn only Low counts: the largest field
	// met. With an onset, Low is the largest field before it and High the largest
	// in which it can have begun; High ≤ Low is a falling field. Turned without
	// an onset: High is the largest field met. +Inf is allowed for High.
	Low, High float64
	Turned    bool
	Onset     bool // the onset is known to lie in (OnsetBeforeS, OnsetS]
	// Seconds since the pass began to be watched: t0 and t1 of the onset, and
	// how long it was watched (W, used where there is no onset).
	OnsetBeforeS, OnsetS, WatchedS float64
	// Exact says that the field caused the turn and that the threshold is
	// Low = High > 0. The row adds its density of the field.
	Exact bool
}

// checkIntervals says which row is impossible, and why.
func checkIntervals(rows []Interval) error {
	for i, r := range rows {
		bad := ""
		switch {
		case math.IsNaN(r.Low) || math.IsNaN(r.High):
			bad = "a field is not a number"
		case r.Low < 0 || math.IsInf(r.Low, 1):
			bad = "the lower field must be 0 or more and finite"
		case r.Exact && (r.Low != r.High || r.Low == 0):
			bad = "an exact threshold needs two equal fields above 0"
		case !r.Exact && r.High <= r.Low:
			bad = "the upper field must be above the lower one (equal only for an exact threshold)"
		}
		if bad != "" {
			return fmt.Errorf("interval %d (%s): low %g, high %g nV/cm: %s", i, r.Cluster, r.Low, r.High, bad)
		}
	}
	return nil
}

// canonical returns the rows in the one order in which every fit takes them.
func canonical(rows []Interval) []Interval {
	sorted := slices.Clone(rows)
	slices.SortFunc(sorted, func(a, b Interval) int {
		return cmp.Or(cmp.Compare(a.Cluster, b.Cluster), compareBool(a.Identified, b.Identified),
			cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High), compareBool(a.Exact, b.Exact))
	})
	return sorted
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// clusterRange is the rows [from, to) of one cluster in canonical order.
type clusterRange struct{ from, to int }

// clustersOf splits n sorted rows into clusters and counts the animals among
// them. A name that is used both for an animal and for unidentified passes
// makes two clusters.
func clustersOf(n int, name func(i int) string, identified func(i int) bool) (ranges []clusterRange, animals int) {
	for i := 0; i < n; {
		j := i + 1
		for j < n && name(j) == name(i) && identified(j) == identified(i) {
			j++
		}
		ranges = append(ranges, clusterRange{i, j})
		if identified(i) {
			animals++
		}
		i = j
	}
	return ranges, animals
}

func intervalClusters(rows []Interval) ([]clusterRange, int) {
	return clustersOf(len(rows), func(i int) string { return rows[i].Cluster },
		func(i int) bool { return rows[i].Identified })
}

// numberText prints a field for a message: four digits are enough to find it.
func numberText(x float64) string { return fmt.Sprintf("%.4g", x) }
