package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/numeric"
	"brinefield/core/study"
)

// Season invents a season. The study is valid and complete; the same plan and
// seed give the same study, bit for bit. The error says what is wrong with the
// plan.
func Season(plan Plan, seed uint64) (*study.Study, Truth, error) {
	if err := plan.check(); err != nil {
		return nil, Truth{}, err
	}
	b := &builder{plan: &plan, seed: seed, s: skeleton(&plan)}
	b.drawTrials(numeric.Stream(seed, "simulate trials"))
	b.drawAnimals(numeric.Stream(seed, "simulate animals"))
	if err := b.solveFields(); err != nil {
		return nil, Truth{}, err
	}
	b.drawVisits(numeric.Stream(seed, "simulate visits"))
	b.swimVisits()
	b.writeDown()
	return b.s, b.truth, nil
}

// Water is the water of every trial of a study that states conductivities, as
// invented seasons do.
func Water(s *study.Study) []exposure.TrialWater {
	out := make([]exposure.TrialWater, len(s.Trials))
	for i := range s.Trials {
		t := &s.Trials[i]
		out[i] = exposure.TrialWater{
			WaterSPerM:  t.WaterSPerM.Or(s.Water.ConductivitySPerM),
			BottomSPerM: s.Bottom.ConductivitySPerM.Or(0),
			DepthM:      s.Site.DepthM + t.TideM.Or(0),
		}
	}
	return out
}

func (p *Plan) check() error {
	fail := func(what string, args ...any) error { return fmt.Errorf("simulate: "+what, args...) }
	switch {
	case len(p.Pairs) == 0 || len(p.Species) == 0 || len(p.CurrentsA) == 0:
		return fail("a plan needs pairs, species and currents; it has %d, %d and %d", len(p.Pairs), len(p.Species), len(p.CurrentsA))
	case p.Trials <= 0 || p.Passes < 0 || p.SilentTrials < 0 || p.SilentTrials > p.Trials || p.TrialsPerDay <= 0:
		return fail("%d trials (%d a day), %d of them silent, %d passes", p.Trials, p.TrialsPerDay, p.SilentTrials, p.Passes)
	case !(p.FrameS > 0) || !(p.ReactionTimeS >= 0) || !(p.PassRadiusM > 0) || !(p.ApproachM > p.PassRadiusM):
		return fail("frames of %g s, reaction time %g s, pass radius %g m seen from %g m; the last must be the larger", p.FrameS, p.ReactionTimeS, p.PassRadiusM, p.ApproachM)
	case !(p.MissSDM >= 0) || !(p.FixSDM >= 0) || !(p.WaterSDSPerM >= 0) || !(p.TideAmplitude >= 0) || p.TideAmplitude >= p.Site.DepthM:
		return fail("a spread or a tide out of range: %g m, %g m, %g S/m, %g m", p.MissSDM, p.FixSDM, p.WaterSDSPerM, p.TideAmplitude)
	case p.SparseRows < 0 || p.SparseRows == 1 || p.SparseRows == 2 || p.SparseRows == 3:
		return fail("%d rows a track; 4 or more, or 0 for all", p.SparseRows)
	case p.TrialLength < 10*time.Minute:
		return fail("trials of %v; at least 10 minutes", p.TrialLength)
	}
	for i := range p.Species {
		sp := &p.Species[i]
		if sp.Animals <= 0 || !(sp.Truth.MedianNVPerCm > 0) || !(sp.SpeedMPerS > 0) || !(sp.HeadHeightM > 0) ||
			!(sp.Truth.Lapse >= 0 && sp.Truth.Lapse <= 1) || !(sp.Truth.SpontaneousPerS >= 0) {
			return fail("species %s: %d animals, median %g nV/cm, speed %g m/s, height %g m, lapse %g, %g turns per s of their own accord",
				sp.Truth.Name, sp.Animals, sp.Truth.MedianNVPerCm, sp.SpeedMPerS, sp.HeadHeightM, sp.Truth.Lapse, sp.Truth.SpontaneousPerS)
		}
	}
	return nil
}

// builder holds a season while it is made.
type builder struct {
	plan    *Plan
	seed    uint64
	s       *study.Study
	truth   Truth
	fields  *exposure.Fields
	drives  []*exposure.Drive
	driven  [][]electrodePlace // by trial
	animals [][]int            // by species: indices into truth.Animals
	weights [][]float64        // by species, cumulative
	visits  []visit
}

func skeleton(p *Plan) *study.Study {
	s := &study.Study{
		Title: p.Title, Question: p.Question, Site: p.Site, Bottom: p.Bottom, Enclosure: p.Enclosure,
		Water:    study.Water{Kind: study.WaterConductivity, ConductivitySPerM: p.WaterSPerM},
		Pairs:    slices.Clone(p.Pairs),
		Schedule: study.ScheduleRule{Kind: study.ScheduleUniform},
		Analysis: study.Analysis{PassRadiusM: p.PassRadiusM, ReactionTimeS: study.Some(p.ReactionTimeS), FieldAt: "largest"},
	}
	if s.Site.Zone == nil {
		s.Site.Zone = p.Start.Location()
	}
	if p.FixSDM > 0 {
		s.Analysis.FixSDM = study.Some(p.FixSDM)
	}
	for i := range p.Species {
		s.Species = append(s.Species, study.Species{Name: p.Species[i].Truth.Name, Aliases: slices.Clone(p.Species[i].Aliases)})
	}
	return s
}

// drawTrials draws the active pair of each trial independently with equal
// chances, as the schedule says, and which trials are silent.
func (b *builder) drawTrials(rng *rand.Rand) {
	p := b.plan
	silent := make([]bool, p.Trials)
	for _, i := range rng.Perm(p.Trials)[:p.SilentTrials] {
		silent[i] = true
	}
	digits := len(fmt.Sprint(p.Trials))
	gap := p.TrialLength + p.TrialLength/3
	for i := range p.Trials {
		start := p.Start.AddDate(0, 0, i/p.TrialsPerDay).Add(time.Duration(i%p.TrialsPerDay) * gap)
		t := study.Trial{
			ID: fmt.Sprintf("T%0*d", digits, i+1), Start: start, End: start.Add(p.TrialLength),
			CurrentA: study.Some(p.CurrentsA[rng.IntN(len(p.CurrentsA))]),
		}
		active := rng.IntN(len(p.Pairs))
		if !silent[i] {
			t.ActivePairs = []int{active}
		}
		if p.WaterSDSPerM > 0 {
			t.WaterSPerM = study.Some(round(p.WaterSPerM+p.WaterSDSPerM*rng.NormFloat64(), 1e3))
		}
		if p.TideAmplitude > 0 {
			hours := start.Sub(p.Start).Hours()
			t.TideM = study.Some(round(p.TideAmplitude*math.Cos(2*math.Pi*hours/12.42), 20)) // to 5 cm, as read from a pole
		}
		if n := len(p.Observers); n > 0 {
			t.Observers = p.Observers[rng.IntN(n)]
		}
		b.s.Trials = append(b.s.Trials, t)
	}
}

// round to 1/per.
func round(v, per float64) float64 { return math.Round(v*per) / per }

func (b *builder) drawAnimals(rng *rand.Rand) {
	b.truth.ReactionTimeS = b.plan.ReactionTimeS
	for k := range b.plan.Species {
		sp := &b.plan.Species[k]
		b.truth.Species = append(b.truth.Species, sp.Truth)
		var list []int
		var cumulative []float64
		sum := 0.0
		digits := max(2, len(fmt.Sprint(sp.Animals)))
		for i := range sp.Animals {
			id := fmt.Sprintf("%s%0*d", sp.Code, digits, i+1)
			length := round(math.Max(sp.LengthMeanM+sp.LengthSDM*rng.NormFloat64(), 0.3*sp.LengthMeanM), 1e3)
			animal := study.Individual{
				ID: id, Species: k, Sex: []string{"female", "male"}[rng.IntN(2)], TotalLengthM: study.Some(length),
			}
			if sp.DiscPerLength > 0 {
				animal.DiscWidthM = study.Some(round(sp.DiscPerLength*length*(1+0.03*rng.NormFloat64()), 1e3))
			}
			b.s.Individuals = append(b.s.Individuals, animal)
			median := sp.Truth.MedianNVPerCm * math.Exp(sp.Truth.SDIndividual*rng.NormFloat64())
			list = append(list, len(b.truth.Animals))
			b.truth.Animals = append(b.truth.Animals, AnimalTruth{ID: id, Species: k, MedianNVPerCm: median})
			sum += math.Exp(0.5 * rng.NormFloat64()) // some animals come more often
			cumulative = append(cumulative, sum)
		}
		b.animals = append(b.animals, list)
		b.weights = append(b.weights, cumulative)
	}
}

// solveFields works out the field of everything driven, by trial.
func (b *builder) solveFields() error {
	reach := 0.0
	for i := range b.s.Pairs {
		for k := range b.s.Pairs {
			a, c := &b.s.Pairs[i], &b.s.Pairs[k]
			reach = math.Max(reach, math.Hypot(a.CentreXM-c.CentreXM, a.CentreYM-c.CentreYM))
		}
	}
	f, err := exposure.NewFields(b.s, Water(b.s), exposure.FieldOptions{ReachM: reach + 1.3*b.plan.ApproachM, HighestM: highestHeadM * 1.2})
	if err != nil {
		return fmt.Errorf("simulate: %w", err)
	}
	b.fields = f
	for i := range b.s.Trials {
		d, err := f.Driven(b.s, i)
		if err != nil {
			return fmt.Errorf("simulate: %w", err)
		}
		b.drives = append(b.drives, d)
		var at []electrodePlace
		for _, pair := range b.s.Trials[i].ActivePairs {
			p := &b.s.Pairs[pair]
			sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
			for _, half := range [...]float64{p.SeparationM / 2, -p.SeparationM / 2} {
				at = append(at, electrodePlace{p.CentreXM + half*cos, p.CentreYM + half*sin, p.HeightM})
			}
		}
		b.driven = append(b.driven, at)
	}
	return nil
}
