package app

import (
	"errors"
	"fmt"

	"brinefield/core/inference"
	"brinefield/core/numeric"
	"brinefield/core/study"
)

// randomisationDraws is how many schedules the randomisation test redraws.
const randomisationDraws = 9999

// everySpecies is the name of the row of preference over all species.
const everySpecies = "all"

// scheduleDesign is what the randomisation test needs of a season: its trials
// in the order of the schedule. why says why there is none.
type scheduleDesign struct {
	trials []designTrial
	pairs  int
	rule   inference.DrawRule
	why    string
}

type designTrial struct {
	id      string
	index   int
	active  []int
	unknown bool // which pairs are active is not known
	block   int  // 0: not stated
}

// withTurns is the schedule as the randomisation test sees it; turns are by
// trial and pair.
func (d *scheduleDesign) withTurns(turns map[int][]int) []inference.TrialCounts {
	trials := make([]inference.TrialCounts, len(d.trials))
	for i, t := range d.trials {
		byPair := turns[t.index]
		if byPair == nil {
			byPair = make([]int, d.pairs)
		}
		trials[i] = inference.TrialCounts{Trial: t.id, Active: t.active, Unknown: t.unknown, Block: t.block, TurnsByPair: byPair}
	}
	return trials
}

// preferences compares active and control pairs over all species and for each.
func preferences(records []record, design scheduleDesign, seed uint64) []Preference {
	names := append([]string{everySpecies}, speciesNames(records)...)
	out := make([]Preference, len(names))
	inParallel(len(names), func(i int) {
		rows := pick(records, func(r *record) bool {
			return r.used && (names[i] == everySpecies || r.species == names[i])
		})
		out[i] = preference(names[i], rows, design, seed)
	})
	return out
}

func preference(name string, rows []record, design scheduleDesign, seed uint64) Preference {
	p := Preference{Species: name}
	var mixed []inference.MixedRow
	for i := range rows {
		r := &rows[i]
		switch r.role {
		case study.RoleActive:
			count(&p.PassesActive, &p.TurnsActive, &p.BitesActive, r)
		case study.RoleControl:
			count(&p.PassesControl, &p.TurnsControl, &p.BitesControl, r)
		default:
			continue
		}
		mixed = append(mixed, inference.MixedRow{Cluster: r.cluster, Active: r.role == study.RoleActive, Turned: r.turned})
	}
	exact := inference.FisherExact(p.TurnsActive, p.PassesActive-p.TurnsActive, p.TurnsControl, p.PassesControl-p.TurnsControl)
	p.ExactP = finite(exact)
	randomisation(&p, rows, design, seed)
	p.Mixed = mixedModel(mixed)
	if p.Mixed.NotEstimable != "" {
		p.Penalised = penalised(mixed)
	}
	return p
}

func count(passes, turns, bites *int, r *record) {
	*passes++
	if r.turned {
		*turns++
	}
	if r.bit {
		*bites++
	}
}

func randomisation(p *Preference, rows []record, design scheduleDesign, seed uint64) {
	if design.why != "" {
		p.RandomisationWhy = design.why
		return
	}
	turns := make(map[int][]int)
	for i := range rows {
		if r := &rows[i]; r.turned {
			if turns[r.trial] == nil {
				turns[r.trial] = make([]int, design.pairs)
			}
			turns[r.trial][r.turnPair]++
		}
	}
	result, err := inference.RandomisationTest(design.withTurns(turns), design.rule, randomisationDraws, numeric.Stream(seed, "randomisation "+p.Species))
	if err != nil {
		p.RandomisationWhy = reasonOf(err)
		return
	}
	p.RandomisationP = finite(result.P)
	p.RandomisationN = result.Draws
}

func mixedModel(rows []inference.MixedRow) Mixed {
	fit, err := inference.Mixed(rows)
	if err != nil {
		return Mixed{Reason: Reason{reasonOf(err)}}
	}
	return Mixed{
		LogOddsRatio:  finite(fit.LogOddsRatio),
		SE:            finite(fit.SE),
		Intercept:     finite(fit.Intercept),
		IndividualSD:  finite(fit.IndividualSD),
		LogLikelihood: finite(fit.LogLikelihood),
		Boundary:      fit.Boundary,
		Made: Made{
			Method:      "mixed",
			Assumptions: assumptionsMixed,
			Warnings:    fit.Warnings,
		},
	}
}

func penalised(rows []inference.MixedRow) *PenalisedOdds {
	fit, err := inference.Penalised(rows)
	if err != nil {
		return &PenalisedOdds{Reason: Reason{reasonOf(err)}}
	}
	out := &PenalisedOdds{
		LogOddsRatio: finite(fit.LogOddsRatio),
		SE:           finite(fit.SE),
		CI95:         &Span{Low: fit.CI.Low, High: fit.CI.High},
		P:            finite(fit.P),
		Made: Made{
			Method:   "penalised",
			Ignores:  []string{"individuals: the passes of one animal count as so many animals"},
			Warnings: fit.Warnings,
		},
	}
	switch {
	case fit.Bounded && fit.BoundIsLower:
		out.AtLeast = finite(fit.Bound)
	case fit.Bounded:
		out.AtMost = finite(fit.Bound)
	}
	return out
}

// reasonOf is the sentence for not_estimable. A failure that is no fact about
// the data is said to be one.
func reasonOf(err error) string {
	var ne *inference.NotEstimable
	if errors.As(err, &ne) {
		return ne.Why
	}
	return fmt.Sprintf("the calculation failed: %v", err)
}
