package app

import (
	"maps"
	"slices"

	"brinefield/core/study"
)

// individuals counts what each recognised animal did.
func individuals(records []record) []Individual {
	type key struct{ species, individual string }
	byAnimal := map[key][]*record{}
	for i := range records {
		if r := &records[i]; r.used && r.identified() {
			k := key{r.species, r.individual}
			byAnimal[k] = append(byAnimal[k], r)
		}
	}
	keys := slices.SortedFunc(maps.Keys(byAnimal), func(a, b key) int {
		return slices.Compare([]string{a.species, a.individual}, []string{b.species, b.individual})
	})
	out := make([]Individual, len(keys))
	for i, k := range keys {
		out[i] = individual(k.species, k.individual, byAnimal[k])
	}
	return out
}

func individual(species, name string, rows []*record) Individual {
	a := Individual{Individual: name, Species: species}
	var lowest, highest study.Opt[float64]
	for _, r := range rows {
		var bites int
		switch r.role {
		case study.RoleActive:
			count(&a.PassesActive, &a.TurnsActive, &bites, r)
			if r.turned && !r.falling && (!lowest.Known || r.high < lowest.Value) {
				lowest = study.Some(r.high)
			}
			if !r.turned && (!highest.Known || r.low > highest.Value) {
				highest = study.Some(r.low)
			}
		case study.RoleControl:
			count(&a.PassesControl, &a.TurnsControl, &bites, r)
		case study.RoleSilent:
			count(&a.PassesSilent, &a.TurnsSilent, &bites, r)
		}
	}
	a.LowestTurn, a.HighestNoTurn = known(lowest, 1), known(highest, 1)
	return a
}
