package app

import (
	"brinefield/core/inference"
	"brinefield/core/study"
)

// descriptives are the numbers that the trade publishes: turns with an onset
// at the active pair whose field was not falling.
func descriptives(records []record) []Descriptive {
	names := speciesNames(records)
	out := make([]Descriptive, len(names))
	for i, name := range names {
		out[i] = descriptive(name, pick(records, func(r *record) bool {
			return r.used && r.species == name && r.role == study.RoleActive && r.turned && r.atOnset && !r.falling
		}))
	}
	return out
}

func descriptive(name string, rows []record) Descriptive {
	d := Descriptive{Species: name, N: len(rows), Made: Made{Method: "descriptive", Ignores: ignoresDescriptive}}
	var fields, textbook []float64
	longest := study.Opt[float64]{}
	for i := range rows {
		r := &rows[i]
		fields = append(fields, r.high)
		if r.textbook.Known {
			textbook = append(textbook, r.textbook.Value)
		}
		if r.distanceM.Known && (!longest.Known || r.distanceM.Value > longest.Value) {
			longest = r.distanceM
		}
	}
	d.LongestDistanceCm = known(longest, 100)
	if s, err := inference.Describe(fields); err == nil {
		d.Median, d.Q1, d.Q3, d.Smallest = finite(s.Median), finite(s.Q1), finite(s.Q3), finite(s.Smallest)
		d.ShareBelow5, d.ShareBelow20 = finite(s.ShareBelow5), finite(s.ShareBelow20)
	}
	if s, err := inference.Describe(textbook); err == nil {
		d.Textbook = Textbook{
			Median: finite(s.Median), Q1: finite(s.Q1), Q3: finite(s.Q3), Smallest: finite(s.Smallest),
			ShareBelow5: finite(s.ShareBelow5), ShareBelow20: finite(s.ShareBelow20),
		}
	}
	return d
}
