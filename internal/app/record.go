package app

import (
	"cmp"
	"math"
	"slices"

	"brinefield/core/study"
)

// record is one pass as the models see it, whether it came from a season's
// tracks or from a table of intervals. Fields are in nV/cm.
type record struct {
	species    string
	individual string // "" = not identified
	cluster    string // individual, or trial and species
	trial      int    // index into the season's trials; -1 from a table
	role       study.Role
	used       bool
	turned     bool
	bit        bool
	low, high  float64 // high = +Inf where the pass shows no upper bound
	exact      bool
	falling    bool
	onset      bool // the moment of the turn is known
	atOnset    bool // high is the field at the onset: by its moment or, in old data, by its distance
	t0, t1     float64
	watched    study.Opt[float64]
	turnPair   int // index into the season's pairs; -1 from a table

	distanceM study.Opt[float64]
	textbook  study.Opt[float64] // nV/cm
}

func (r *record) identified() bool { return r.individual != "" }

// clusterName is the animal, or for unidentified passes the trial and species.
func clusterName(individual, trial, species string) string {
	if individual != "" {
		return "animal " + individual
	}
	return "unidentified " + trial + " " + species
}

// speciesNames lists the accepted names in the records, in byte order.
func speciesNames(records []record) []string {
	var names []string
	for i := range records {
		names = append(names, records[i].species)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// pick keeps the records that pass the test, in order.
func pick(records []record, keep func(*record) bool) []record {
	var out []record
	for i := range records {
		if keep(&records[i]) {
			out = append(out, records[i])
		}
	}
	return out
}

func ofSpecies(name string) func(*record) bool {
	return func(r *record) bool { return r.used && r.species == name }
}

// countAnimals counts recognised animals and the passes of the others.
func countAnimals(records []record) (individuals, unidentified int) {
	seen := map[string]bool{}
	for i := range records {
		if records[i].identified() {
			seen[records[i].individual] = true
		} else {
			unidentified++
		}
	}
	return len(seen), unidentified
}

// markVisits takes every pass of a visit after its first response out of the
// estimates; records must be in order of time. A blank visit is its own.
func markVisits(records []record, visits []string) {
	answered := map[string]bool{}
	for i := range records {
		if visits[i] == "" {
			continue
		}
		if answered[visits[i]] {
			records[i].used = false
		} else if records[i].turned {
			answered[visits[i]] = true
		}
	}
}

// canonical sorts records into the order in which every model takes them, so
// that estimates do not depend on the order of rows in a file.
func canonical(records []record) {
	slices.SortStableFunc(records, func(a, b record) int {
		return cmp.Or(
			cmp.Compare(a.species, b.species), cmp.Compare(a.cluster, b.cluster),
			cmp.Compare(a.role, b.role), cmp.Compare(a.low, b.low), cmp.Compare(a.high, b.high),
			cmp.Compare(a.t0, b.t0), cmp.Compare(a.t1, b.t1), cmp.Compare(a.watched.Value, b.watched.Value),
			cmpBool(a.turned, b.turned), cmpBool(a.bit, b.bit))
	})
}

func cmpBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

const nVPerCmPerVPerM = 1e7

// known is the number for a document, or null.
func known(o study.Opt[float64], factor float64) *float64 {
	if !o.Known {
		return nil
	}
	return finite(o.Value * factor)
}

func noUpperBound() float64 { return math.Inf(1) }
