// Package simulate invents seasons whose truth is known: for the demonstration,
// for asking how often an interval covers the truth, for power, and for load.
//
// Start from [Demo], [Coverage] or [Load], change the [Plan] as you like, and
// call [Season]. What comes back is a whole valid study, as if a biologist had
// written it down, and the [Truth] that it was made from.
//
// Animals swim past the pairs on smooth, slightly curved paths and meet the
// field of everything that is driven, through the layers of water and bottom.
// Each pass has a threshold of its own; the animal turns a reaction time after
// the field first reached it, unless the pass is a lapse, or turns of its own
// accord. An observer then records frames, an onset to the next frame, and
// what happened. Nothing of this uses the code that later estimates thresholds
// from such seasons: only the field is shared.
//
// The same plan and seed give the same bits on every machine.
package simulate

import (
	"time"

	"brinefield/core/study"
)

// SpeciesTruth is how one species answers fields. The threshold of a pass is
// lognormal: its logarithm is that of MedianNVPerCm, plus the animal's own
// deviation (SDIndividual), plus that of the pass (SDWithin). The population
// of thresholds is then lognormal with sigma² = SDIndividual² + SDWithin².
type SpeciesTruth struct {
	Name            string
	MedianNVPerCm   float64
	SDIndividual    float64 // of the natural logarithm
	SDWithin        float64
	Lapse           float64 // share of passes in which no field is answered
	SpontaneousPerS float64 // turns of their own accord per second watched
}

// Truth is what a season was made from.
type Truth struct {
	ReactionTimeS float64
	Species       []SpeciesTruth
	Animals       []AnimalTruth
	Passes        []PassTruth // in the order of Study.Passes
}

// AnimalTruth is one animal's own median threshold.
type AnimalTruth struct {
	ID            string
	Species       int
	MedianNVPerCm float64
}

// PassTruth is what really happened in one pass.
type PassTruth struct {
	Animal           int // index into Animals
	ThresholdNVPerCm float64
	Lapse            bool
	// Turned by the field, of its own accord, or (both false) not at all.
	TurnedByField, TurnedSpontaneously bool
	OnsetS                             float64 // exact; meaningless without a turn
}

// SpeciesPlan is one species of a season.
type SpeciesPlan struct {
	Truth   SpeciesTruth
	Aliases []string
	Code    string // of individuals: "SC" gives SC01, SC02, …
	Animals int
	// UnidentifiedShare of visits nobody recognises; NoOnsetShare of turns are
	// seen without their beginning; BiteShare of turns end in a bite.
	UnidentifiedShare, NoOnsetShare, BiteShare float64
	// HeadHeightM is the median height of the head; speeds are in m/s.
	HeadHeightM, SpeedMPerS float64
	LengthMeanM, LengthSDM  float64 // total length
	DiscPerLength           float64 // disc width over total length; 0 = no disc
}

// Plan is a season to be invented. Lengths in metres, currents in amperes.
type Plan struct {
	Title, Question string
	Site            study.Site
	WaterSPerM      float64
	// WaterSDSPerM, above 0, varies the water from trial to trial, and each
	// trial then records its own.
	WaterSDSPerM float64
	Bottom       study.Bottom // sediment states its ConductivitySPerM here
	Enclosure    *study.Enclosure
	Pairs        []study.Pair
	Species      []SpeciesPlan

	Start         time.Time // of the first trial, in the site's zone
	TrialsPerDay  int
	TrialLength   time.Duration
	Trials        int
	SilentTrials  int // of them
	Passes        int // altogether
	CurrentsA     []float64
	TideAmplitude float64 // metres; 0 = none recorded
	Observers     []string
	Scorers       []string

	ReactionTimeS float64
	PassRadiusM   float64
	FrameS        float64 // time between rows of a track
	// SparseRows, above 0, keeps only that many rows of a track: its first and
	// last, the two frames of an onset, and some between.
	SparseRows int
	// FixSDM is the error of a measured position, per coordinate. States
	// fix_sd_cm where above 0.
	FixSDM float64
	// ApproachM is how far from the pair a pass begins to be watched, and
	// MissSDM the spread of the distance at which it would pass the pair by.
	ApproachM, MissSDM float64
	// BendPerM is the spread of the curvature of paths, per metre.
	BendPerM float64
}

// DemoSeed is the seed of the season that the program shows.
const DemoSeed = 2025

// Demo is the season that the program shows to somebody who has none: a
// shallow bay with sand over rock, four pairs on bare sand, a tide.
func Demo() Plan {
	return Plan{
		Title:    "Sandy bay at three currents, July (invented)",
		Question: "From which field do catsharks and thornback rays turn to a pair of electrodes on sand?",
		Site: study.Site{
			Name: "Ballyhorane Strand, south cove (invented)", Timezone: "Europe/Dublin", DepthM: 1.9,
			LatitudeDeg: study.Some(51.76), LongitudeDeg: study.Some(-9.93), XAxisBearingDeg: study.Some(62.0),
		},
		WaterSPerM: 4.27, WaterSDSPerM: 0.03,
		Bottom: study.Bottom{
			Kind: study.BottomSediment, ConductivitySPerM: study.Some(1.15),
			ThicknessM: study.Some(1.4), BasementSPerM: study.Some(0.02),
		},
		Pairs: []study.Pair{
			{Label: "N", CentreXM: 0.0, CentreYM: 0.75, AzimuthDeg: 15, SeparationM: 0.015, ElectrodeDiameterM: 0.002},
			{Label: "E", CentreXM: 0.85, CentreYM: 0.05, AzimuthDeg: 100, SeparationM: 0.015, ElectrodeDiameterM: 0.002},
			{Label: "S", CentreXM: 0.05, CentreYM: -0.7, AzimuthDeg: 60, SeparationM: 0.015, ElectrodeDiameterM: 0.002},
			{Label: "W", CentreXM: -0.8, CentreYM: 0.0, AzimuthDeg: 140, SeparationM: 0.015, ElectrodeDiameterM: 0.002},
		},
		Species: []SpeciesPlan{
			{
				Truth:   SpeciesTruth{"Scyliorhinus canicula", 26, 0.32, 0.40, 0.10, 0.020},
				Aliases: []string{"S. canicula", "small-spotted catshark"}, Code: "CAT", Animals: 17,
				UnidentifiedShare: 0.06, NoOnsetShare: 0.04, BiteShare: 0.45,
				HeadHeightM: 0.045, SpeedMPerS: 0.28, LengthMeanM: 0.58, LengthSDM: 0.07,
			},
			{
				Truth:   SpeciesTruth{"Raja clavata", 13, 0.28, 0.45, 0.07, 0.030},
				Aliases: []string{"R. clavata", "thornback ray"}, Code: "RAY", Animals: 14,
				UnidentifiedShare: 0.08, NoOnsetShare: 0.05, BiteShare: 0.55,
				HeadHeightM: 0.03, SpeedMPerS: 0.22, LengthMeanM: 0.66, LengthSDM: 0.09, DiscPerLength: 0.68,
			},
		},
		Start:        time.Date(2025, 7, 7, 9, 30, 0, 0, irishSummer),
		TrialsPerDay: 8, TrialLength: 30 * time.Minute, Trials: 40, SilentTrials: 6, Passes: 420,
		CurrentsA: []float64{3e-6, 6e-6, 12e-6}, TideAmplitude: 0.7,
		Observers: []string{"Aoife", "Tadhg"}, Scorers: []string{"AB", "TL"},
		ReactionTimeS: 0.1, PassRadiusM: 0.2, FrameS: 0.1, FixSDM: 0.004,
		ApproachM: 0.65, MissSDM: 0.09, BendPerM: 0.35,
	}
}

// Coverage is a season of the size of a summer in a tank, whose positions are
// exact: it shows whether intervals cover the truth as often as they say.
func Coverage() Plan {
	pair := func(label string, x, y, azimuth float64) study.Pair {
		return study.Pair{Label: label, CentreXM: x, CentreYM: y, AzimuthDeg: azimuth, SeparationM: 0.01}
	}
	return Plan{
		Title: "Coverage (invented)",
		Site: study.Site{
			Name: "A tank without walls (invented)", Timezone: "Europe/Dublin", DepthM: 0.9,
		},
		WaterSPerM: 4.3,
		Bottom:     study.Bottom{Kind: study.BottomInsulating},
		Pairs:      []study.Pair{pair("A", 0.45, 0.4, 0), pair("B", -0.4, 0.45, 90), pair("C", -0.45, -0.4, 0), pair("D", 0.4, -0.45, 90)},
		Species: []SpeciesPlan{
			{
				Truth: SpeciesTruth{"Scyliorhinus canicula", 31, 0.35, 0.45, 0.12, 0.03}, Code: "SC", Animals: 20,
				UnidentifiedShare: 0.03, NoOnsetShare: 0.02, BiteShare: 0.4, HeadHeightM: 0.04, SpeedMPerS: 0.27, LengthMeanM: 0.57, LengthSDM: 0.06,
			},
			{
				Truth: SpeciesTruth{"Raja clavata", 17, 0.30, 0.50, 0.12, 0.03}, Code: "RC", Animals: 20,
				UnidentifiedShare: 0.03, NoOnsetShare: 0.02, BiteShare: 0.4, HeadHeightM: 0.03, SpeedMPerS: 0.24, LengthMeanM: 0.7, LengthSDM: 0.08, DiscPerLength: 0.7,
			},
		},
		Start:        time.Date(2025, 6, 2, 9, 0, 0, 0, irishSummer),
		TrialsPerDay: 8, TrialLength: 40 * time.Minute, Trials: 48, SilentTrials: 6, Passes: 650,
		CurrentsA: []float64{6e-6, 9e-6, 12e-6}, Scorers: []string{"AB"},
		ReactionTimeS: 0.08, PassRadiusM: 0.16, FrameS: 0.08,
		ApproachM: 0.6, MissSDM: 0.08, BendPerM: 0.3,
	}
}

// Load is a season of many passes with three or four rows each.
func Load(passes int) Plan {
	p := Coverage()
	p.Title = "Load (invented)"
	p.Passes, p.SparseRows = passes, 4
	p.Trials = max(48, passes/50)
	p.SilentTrials = p.Trials / 10
	for i := range p.Species {
		p.Species[i].Animals = max(20, passes/500)
	}
	p.BendPerM = 0.1
	return p
}

// irishSummer is the zone of Europe/Dublin in summer, in which all invented
// seasons lie: core reads no zones from the machine.
var irishSummer = time.FixedZone("IST", 3600)
