package exposure

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/study"
)

// afterFirstResponse marks the passes of each visit that came after its first
// turn or bite, by the clock, then by row. A response counts whether or not
// its trial is sealed: the seal hides which pair was active, not what the
// animal did. A blank visit is a visit of its own.
func afterFirstResponse(s *study.Study) (after []bool, warnings []string) {
	after = make([]bool, len(s.Passes))
	order := make([]int, len(s.Passes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if c := s.Passes[a].Time.Compare(s.Passes[b].Time); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	type visit struct {
		responded  bool
		individual string
		species    int
	}
	visits := make(map[string]*visit)
	var mixed []string
	mixedSeen := make(map[string]bool)
	for _, i := range order {
		p := &s.Passes[i]
		if p.Visit == "" {
			continue
		}
		v := visits[p.Visit]
		if v == nil {
			v = &visit{individual: p.Individual, species: p.Species}
			visits[p.Visit] = v
		}
		if (p.Individual != v.individual || p.Species != v.species) && !mixedSeen[p.Visit] {
			mixedSeen[p.Visit] = true
			mixed = append(mixed, p.Visit)
		}
		after[i] = v.responded
		v.responded = v.responded || p.Responded()
	}
	if len(mixed) > 0 {
		warnings = append(warnings, fmt.Sprintf("%s more than one animal: %s. A visit is the passes of one animal that belong together; only its first response counts.",
			plural(len(mixed), "visit has", "visits have"), listed(mixed)))
	}
	return after, warnings
}

// clusterOf names the group of passes that are not independent of each other.
func clusterOf(s *study.Study, p *study.Pass) (name string, identified bool) {
	if p.Individual != "" {
		return p.Individual, true
	}
	return "not identified: " + s.Trials[p.Trial].ID + ", " + s.Species[p.Species].Name, false
}

// listed joins names for a sentence, the first few of many.
func listed(names []string) string {
	const most = 12
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
