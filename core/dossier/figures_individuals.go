package dossier

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// individualsMost is how many animals are drawn at most.
const individualsMost = 40

var (
	lowestTurnLook = Look{Line: Ink, WidthPt: 0.6, Mark: Circle, Fill: Ink, SizePt: 3.8}
	ignoredLook    = Look{Line: Ink, WidthPt: 0.8, Mark: Circle, Fill: Paper, SizePt: 3.8}
	joinLook       = Look{Line: Middle, WidthPt: 0.7}
)

func individualsFigure(in *Input) Figure {
	s := newSketch(in, "individuals", "What every recognised animal did", 2)
	groups, animals := animalGroups(in)
	if animals == 0 {
		switch {
		case len(in.Findings.Individuals) == 0 && noPasses(in) != "":
			return s.cannot(noPasses(in))
		case len(in.Findings.Individuals) == 0:
			return s.cannot("no animal was recognised")
		}
		return s.cannot("no recognised animal met a known field at an active pair")
	}
	share := rowsEach(groups)
	var values []float64
	drawn := 0
	for i := range groups {
		groups[i].cut(share)
		drawn += len(groups[i].rows)
		for _, a := range groups[i].rows {
			values = append(values, a.ends()...)
		}
	}
	s.figure.Columns = min(len(groups), 2)
	low, high := logSpan(values...)
	table := individualsData()
	var panels []Panel
	s.say("One row an animal: the smallest field by which it had turned at the active pair (filled) and the largest that it met there without a turn (open), joined; sorted by the former. ")
	alt := "Rows of animals over the field they met. "
	for i, g := range groups {
		most := len(g.rows)
		p := Panel{
			Title: panelLetter(i, len(groups)) + g.species, Italic: g.species,
			X:        Axis{Label: "Field met (nV/cm)", Min: low, Max: high, Log: true},
			Y:        Axis{Min: 0, Max: float64(most) + 0.2},
			LegendAt: "below", Height: math.Min(0.05*float64(most)+0.05, 2.1),
			Legend: []LegendEntry{
				{Text: "smallest field at a turn", Look: lowestTurnLook, Sample: "mark"},
				{Text: "largest without a turn", Look: ignoredLook, Sample: "mark"},
			},
		}
		turns, ignored := Points{Look: lowestTurnLook}, Points{Look: ignoredLook}
		never := 0
		for k, a := range g.rows {
			y := float64(most-k) - 0.4
			p.Y.Ticks = append(p.Y.Ticks, Tick{At: y, Label: shortened(a.ID, 12)})
			t, okT := positive(a.LowestTurn)
			n, okN := positive(a.HighestNoTurn)
			if okT && okN {
				p.Layers = append(p.Layers, Line{At: []XY{{t, y}, {n, y}}, Look: joinLook})
			}
			if okN {
				ignored.At = append(ignored.At, XY{n, y})
			}
			if okT {
				turns.At = append(turns.At, XY{t, y})
			} else {
				never++
			}
			table.Rows = append(table.Rows, animalCells(a))
		}
		p.Layers = append(p.Layers, pointsOf(ignored, turns)...)
		panels = append(panels, p)
		if i > 0 {
			s.say("; ")
		}
		s.say(panelLetter(i, len(groups)), speciesRun(g.species), ": ", s.count("animals drawn, "+g.species, len(g.rows), "animal", "animals"), " with ",
			s.count("passes at the active pair, "+g.species, g.passes, "pass", "passes"), " and ", s.count("turns at the active pair, "+g.species, g.turns, "turn", "turns"), " at the active pair")
		if never > 0 {
			s.say(", ", s.count("animals without a turn, "+g.species, never, "never turned", "never turned"), " there")
		}
		alt += g.species + ": " + s.count("animals drawn, "+g.species, len(g.rows), "animal", "animals") + ". "
	}
	s.say(".")
	if left := animals - drawn; left > 0 {
		s.say(" Left out for want of room: ", s.count("animals not drawn", left, "animal", "animals"), " with the fewest passes at the active pair.")
	}
	if left := len(in.Findings.Individuals) - animals; left > 0 {
		s.say(" ", s.count("animals without a field at an active pair", left, "further recognised animal has", "further recognised animals have"), " no pass at an active pair whose field is known.")
	}
	s.say(" Passes of animals that were not recognised are not here.")
	return s.done(in, alt, panels, table)
}

// rowsEach is how many animals of each species there is room for: what some species
// do not need goes to the others.
func rowsEach(groups []animalGroup) int {
	most := 1
	for {
		rows, more := 0, false
		for _, g := range groups {
			rows += min(len(g.rows), most+1)
			more = more || len(g.rows) > most
		}
		if !more || rows > individualsMost && most >= 4 {
			return most
		}
		most++
	}
}

// animalGroup is the animals of one species.
type animalGroup struct {
	species       string
	rows          []*Individual
	passes, turns int
}

// cut keeps the animals with the most passes at the active pair, and counts what
// they did.
func (g *animalGroup) cut(most int) {
	if len(g.rows) > most {
		slices.SortStableFunc(g.rows, func(a, b *Individual) int { return b.PassesActive - a.PassesActive })
		g.rows = g.rows[:most]
		slices.SortStableFunc(g.rows, byLowestTurn)
	}
	for _, a := range g.rows {
		g.passes += a.PassesActive
		g.turns += a.TurnsActive
	}
}

func (a *Individual) ends() []float64 {
	var out []float64
	for _, p := range []*float64{a.LowestTurn, a.HighestNoTurn} {
		if v, ok := positive(p); ok {
			out = append(out, v)
		}
	}
	return out
}

func animalGroups(in *Input) (groups []animalGroup, animals int) {
	at := map[string]int{}
	for i := range in.Findings.Individuals {
		a := &in.Findings.Individuals[i]
		if len(a.ends()) == 0 {
			continue
		}
		k, ok := at[a.Species]
		if !ok {
			k = len(groups)
			at[a.Species] = k
			groups = append(groups, animalGroup{species: a.Species})
		}
		groups[k].rows = append(groups[k].rows, a)
		animals++
	}
	slices.SortFunc(groups, func(a, b animalGroup) int { return strings.Compare(a.species, b.species) })
	for i := range groups {
		slices.SortStableFunc(groups[i].rows, byLowestTurn)
	}
	return groups, animals
}

// byLowestTurn sorts by the smallest field at a turn, animals that never turned
// last, and by name.
func byLowestTurn(a, b *Individual) int {
	of := func(p *float64) float64 {
		if v, ok := positive(p); ok {
			return v
		}
		return math.Inf(1)
	}
	if c := cmp.Compare(of(a.LowestTurn), of(b.LowestTurn)); c != 0 {
		return c
	}
	if c := cmp.Compare(of(a.HighestNoTurn), of(b.HighestNoTurn)); c != 0 {
		return c
	}
	return strings.Compare(a.ID, b.ID)
}

func individualsData() Table {
	return Table{Title: "Animals drawn", Columns: []Column{
		textColumn("individual", "Animal", "The recognised animal."),
		textColumn("species", "Species", "Accepted name."),
		numberColumn("passes_active", "Passes", "", "Passes at the active pair."),
		numberColumn("turns_active", "Turns", "", "Of these, with a turn or a bite."),
		numberColumn("lowest_turn_nV_per_cm", "Smallest field at a turn", "nV/cm", "Smallest field by which it had turned; blank: it never turned, or the field is not known."),
		numberColumn("highest_no_turn_nV_per_cm", "Largest field without a turn", "nV/cm", "Blank: no pass without a turn."),
	}}
}

func animalCells(a *Individual) []Cell {
	return []Cell{
		{Text: a.ID},
		{Text: a.Species},
		whole(a.PassesActive), whole(a.TurnsActive), measuredIf(a.LowestTurn, 3), measuredIf(a.HighestNoTurn, 3),
	}
}
