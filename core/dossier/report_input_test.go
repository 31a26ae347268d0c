package dossier

import (
	"fmt"
	"time"

	"brinefield/core/study"
)

func ptr[T any](v T) *T { return &v }

// recordedInput is an invented study in which everything was recorded: two
// species, a plate, casts, a sealed and opened schedule, footage, estimates.
func recordedInput() Input {
	s := recordedStudy()
	in := Input{
		Name: "skerry", Study: s, Invented: true,
		Program: Build{Version: "1.4.0", Commit: "0123abcd", OSArch: "linux/amd64"},
		Made:    time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC),
		Spec: Choices{
			Title: "Turns to small fields", Abstract: "First part.\n\nSecond part.", Keywords: []string{"electroreception", "dipole"}, Licence: "CC-BY-4.0",
			Funding: "None.", Ethics: "Approved by the committee of the station.", Interests: "None.", SampleSize: "24 trials give a power of 0.9.", Housing: "All animals were free.", DOI: "10.1234/abcd.5",
		},
		People: []Person{
			{Given: "Ada", Family: "Reef", ORCID: "0000-0002-1825-0097", Affiliation: "Marine Station", Email: "ada@reef.example"},
			{Given: "Ben", Family: "Skerry", Role: "contributor"},
		},
		Facts:    recordedFacts(),
		Findings: recordedFindings(),
		Beside: map[string][]byte{
			"preregistration.md":        []byte("# Plan\n"),
			"changed-after-opening.csv": []byte("kind,id,trial,field,from,to,when,by,reason,entry,made\npass,P003,T003,turned,no,yes,2025-06-20T10:00:00+01:00,Person 1,seen again,E9,edit\n"),
		},
		Maps: []FieldMap{
			{Pair: "A", CurrentUA: 9, WaterSPM: 4.31, Plane: "plan", HeightCm: 5, X: []float64{0, 1}, Y: []float64{0, 1}, NVPerCm: [][]float64{{1, 2}, {3, 4}}, Method: "The field was solved by panels.", Error: 0.001},
			{Pair: "A", CurrentUA: 9, WaterSPM: 4.31, Plane: "section", Why: "the section crosses the wall"},
		},
		Ranges: []RangeCurve{
			{Pair: "A", CurrentUA: 9, ThresholdNVPerC: 5, Of: "5 nV/cm", HeightCm: []float64{0, 10, 20, 30}, ReachCm: []*float64{ptr(24.1), ptr(20.0), ptr(4.2), nil}},
			{Pair: "A", CurrentUA: 9, ThresholdNVPerC: 31.4159, Of: "detection median of Scyliorhinus canicula", HeightCm: []float64{0, 10}, ReachCm: []*float64{nil, nil}},
			{Pair: "A", CurrentUA: 9, ThresholdNVPerC: 20, Why: "the field could not be solved"},
			{Pair: "A", Why: "no current is known"},
		},
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		t := &s.Trials[p.Trial]
		e := Pass{ID: p.ID, Trial: t.ID, Pair: s.Pairs[p.Pair].Label, Role: t.RoleOf(p.Pair).String(), Species: s.Species[p.Species].Name, Individual: p.Individual, Time: p.Time, Responded: p.Responded(), Used: ptr(i%5 != 4), HasTrack: true, HeightCm: ptr(4.5)}
		if i%5 == 4 {
			e.NotUsedBecause = "it came after the first response of its visit"
		}
		in.Passes = append(in.Passes, e)
	}
	for i := range s.Trials {
		in.Waters = append(in.Waters, TrialWater{Trial: s.Trials[i].ID, SPerM: 4.3 + 0.01*float64(i), From: "the cast nearest in time, at the plate's depth"})
	}
	return in
}

func recordedStudy() *study.Study {
	begin := time.Date(2025, 6, 1, 9, 0, 0, 0, time.UTC)
	s := &study.Study{
		Title: "Tank trials (invented)", Question: "Do catsharks turn to a prey-like field?",
		Site:      study.Site{Name: "Skerrymore", Timezone: "UTC", Zone: time.UTC, DepthM: 3.2, LatitudeDeg: study.Some(54.61), LongitudeDeg: study.Some(-8.43), XAxisBearingDeg: study.Some(30.0)},
		Water:     study.Water{Kind: study.WaterCast, CastFile: "water.csv"},
		Bottom:    study.Bottom{Kind: study.BottomSediment, Porosity: study.Some(0.4), CementationExponent: study.Some(1.5), ThicknessM: study.Some(2.0), BasementSPerM: study.Some(0.01)},
		Enclosure: &study.Enclosure{DiameterM: study.Some(4.0)},
		Plates:    []study.Plate{{Disc: true, DiameterM: 0.8, ThicknessM: 0.01, TopAboveBottomM: 0.02}},
		Species:   []study.Species{{Name: "Scyliorhinus canicula"}, {Name: "Raja clavata"}},
		Schedule:  study.ScheduleRule{Kind: study.ScheduleBlocks, Block: 4, MostAlike: 2},
		Analysis:  study.Analysis{PassRadiusM: 0.16, ReactionTimeS: study.Some(0.08), ReactionTimeSDS: study.Some(0.02), FixSDM: study.Some(0.01), HeightLowM: study.Some(0.02), HeightHighM: study.Some(0.2)},
		Uncertainty: study.Uncertainty{
			BottomSPerMSD: study.Some(0.1), PositionSDM: study.Some(0.01), HeightSDM: study.Some(0.02), CurrentSDPercent: study.Some(2.0),
		},
		Clips: []study.Clip{{ID: "C1", File: "c1.mp4"}},
	}
	for i, label := range []string{"A", "B", "C", "D"} {
		s.Pairs = append(s.Pairs, study.Pair{Label: label, CentreXM: 0.2 * float64(i), AzimuthDeg: 90, SeparationM: 0.01, ElectrodeDiameterM: 0.002})
	}
	for i := range 4 {
		s.Cast = append(s.Cast, study.CastRow{Time: begin.Add(time.Duration(i/2) * 24 * time.Hour), DepthM: float64(1 + i%2), TemperatureC: study.Some(12.5 + 0.1*float64(i)), Salinity: study.Some(34.8)})
	}
	for i := range 8 {
		t := study.Trial{
			ID: fmt.Sprintf("T%03d", i+1), Start: begin.Add(time.Duration(i) * 6 * time.Hour), End: begin.Add(time.Duration(i)*6*time.Hour + 40*time.Minute),
			CurrentA: study.Some(9e-6), Waveform: "DC", TideM: study.Some(0.1 * float64(i)), Bait: "none", Odour: "herring", VisibilityM: study.Some(6.0), Observers: "Person 1",
		}
		if i%4 != 3 {
			t.ActivePairs = []int{i % 4}
			t.CurrentBeforeA, t.CurrentAfterA = study.Some(9.1e-6), study.Some(8.9e-6+float64(i)*1e-8)
		}
		s.Trials = append(s.Trials, t)
	}
	for i := range 40 {
		p := study.Pass{
			ID: fmt.Sprintf("P%03d", i+1), Trial: i % 8, Time: s.Trials[i%8].Start.Add(time.Minute), Species: i % 2, Pair: (i / 2) % 4,
			Turned: study.No, Clip: "C1", Scorer: "Person 1",
		}
		if i%7 != 6 {
			p.Individual = fmt.Sprintf("%s%02d", []string{"SC", "RC"}[i%2], i%6)
		}
		if i%3 == 0 {
			p.Turned, p.OnsetS = study.Yes, study.Some(1.2)
		}
		if i%4 == 0 {
			p.SecondScorer = "Person 2"
		}
		s.Passes = append(s.Passes, p)
		s.Tracks = append(s.Tracks, study.Track{Pass: i})
	}
	for i := range 6 {
		s.Individuals = append(s.Individuals, study.Individual{
			ID: fmt.Sprintf("%s%02d", []string{"SC", "RC"}[i%2], i), Species: i % 2, Sex: []string{"f", "male"}[i/3], TotalLengthM: study.Some(0.5 + 0.02*float64(i)), DiscWidthM: study.Some(0.3), Mark: "spots", Experience: "none",
		})
	}
	return s
}

func recordedFacts() Facts {
	stamp := func(when string) *StampFact {
		return &StampFact{When: when, By: "Person 2", Reason: "all trials were run"}
	}
	return Facts{
		Format:  1,
		Journal: &JournalFacts{Entries: 12345, From: "2025-05-01T10:00:00+01:00", To: "2025-07-01T10:00:00+01:00", Devices: []DeviceFact{{Device: "laptop", Entries: 12000, Head: "ab12"}, {Device: "tablet", Entries: 345, Head: "cd34"}}},
		Protocol: ProtocolFacts{
			Method: "The plate is lowered.\n\nCurrent flows for 40 min.", Start: "2025-06-01", End: "2025-06-30", Hypotheses: "They turn more at the active pair",
			Criteria: "Every animal that crosses a circle.", StoppingRule: "After 8 trials.", AnalysisPlan: "The detection median is the main outcome.",
		},
		Permits: []PermitFact{
			{What: "Work with sharks", Authority: "Marine Institute", Number: "12/2025", ValidFrom: "2025-01-01", ValidTo: "2025-12-31", AnimalsMost: ptr(60.0), Animals: ptr(37.0), HoursMost: ptr(50.0), Hours: ptr(12.5)},
			{What: "Anchoring"},
		},
		Cautions: []CautionFact{
			{About: "Diving", Text: "Every dive has a plan.", Rests: "HSE, L107", Ticked: true, Note: "plan 7"},
			{About: "Animals", Text: "Trials are stopped for an animal's sake.", Rests: "ASAB/ABS", Ticked: true},
			{About: "Bait", Text: "Bait is the least that will do.", Rests: "Local rules decide"},
		},
		Rig: &RigFacts{
			Supply: "9 V battery", Cable: "20 m, 0.25 mm²", Electrodes: "silver, 2 mm",
			Positions: []RigPosition{{Label: "1", NominalUA: 6, LowUA: 5.9, HighUA: 6.1}, {Label: "2", NominalUA: 9, LowUA: 8.85, HighUA: 9.12}},
			Safety:    []string{"no fault passes more than 40 µA"}, Methods: []string{"tolerances are uniform"},
		},
		Bench:       []BenchFact{{CurrentUA: ptr(8.97), SilentUA: ptr(0.0), WaterSPM: ptr(4.2)}},
		Calibration: &CalibrationFacts{Pair: "A", Readings: 12, Sentences: []string{"the current is 8.9 µA (8.7 to 9.1)"}},
		Background:  &BackgroundFacts{Sources: []BackgroundSource{{What: "flow of 0.1 m/s", NVPerCm: ptr(48.0), Where: "everywhere"}, {What: "camera housing", Where: "at 1 m"}}, Methods: []string{"the Earth's field is that of the year"}},
		Schedule: &ScheduleFacts{
			Sealed: true, Seal: "e3b0c442", Written: stamp("2025-05-20T09:00:00+01:00"), Rule: "in permuted blocks of 4 trials", Trials: 8, Spare: 2, TrialsRun: 8, Keys: 2, Rehearsed: 2,
			Locked: stamp("2025-07-02T09:00:00+01:00"), Openings: []StampFact{*stamp("2025-07-03T09:00:00+01:00")}, AllOpened: true, Balance: "every pair was active in two trials",
		},
		Blinding: BlindingFacts{
			Guesses: []GuessFact{{By: "Person 1", Guesses: 8, Hits: 2, Expected: ptr(1.5), P: ptr(0.42)}},
			Knowers: []KnowerFact{{Who: "Person 2", How: "holds a key", Since: "2025-05-20T09:00:00+01:00"}}, AfterOpening: 1, Warnings: []string{"one value was changed after the opening"},
		},
		Preregistration: []RegisteredFact{{ID: "preregistration 1", When: "2025-05-25T09:00:00+01:00", SHA256: "9f86d081"}},
		Scorers:         []ScorerFact{{Who: "Person 1", Passes: 40}, {Who: "Person 2", Second: 10}},
		Footage: &FootageFacts{
			Cameras: []CameraFact{{Name: "north", What: "1920 by 1080, flat window", Poses: 3, LargestResidualPX: ptr(0.8), Note: "cleaned daily"}},
			Clips:   1, ClipsWithPose: 1, ClipsWithClock: 1, Passes: 40, Placed: 400, Carried: 900, Filled: 30, People: 2,
			Heights: map[string]int{"from the shadow": 30, "by eye": 10}, MedianSDCm: ptr(0.9), LargestSDCm: ptr(3.2),
		},
		Deck: &DeckFacts{
			Devices: 2, Photos: 3, Checks: []CheckFact{{Check: "current read", Done: 8}}, Events: []EventFact{{What: "adverse event", Trial: "T002", When: "2025-06-02T10:00:00+01:00", Text: "a line fouled the plate"}},
		},
		Privacy: []string{"people are numbered"},
		Place:   PlaceFacts{Latitude: ptr(54.5), Longitude: ptr(-8.5), UncertaintyM: ptr(7071.0), Coarsened: true, Name: "Skerrymore"},
	}
}

func recordedFindings() Findings {
	estimate := func(median, low, high float64) Estimate {
		return Estimate{Median: ptr(median), CI95: Interval{Low: ptr(low), High: ptr(high)}, Mu: ptr(3.4), Sigma: ptr(0.49), Ignores: []string{"lapses"}}
	}
	return Findings{
		Seed: ptr(uint64(7)), Warnings: []string{"one trial of Raja clavata has no water"},
		Preference: []Preference{
			{Species: "all", PassesActive: 218, PassesControl: 306, TurnsActive: 132, TurnsControl: 27, BitesActive: 66, ExactP: ptr(5e-38), RandomisationP: ptr(1e-4), RandomisationN: 9999, LogOddsRatio: ptr(2.7897668), SE: ptr(0.2546228), IndividualSD: ptr(0.231)},
			{Species: "Scyliorhinus canicula", PassesActive: 126, PassesControl: 182, TurnsActive: 68, TurnsControl: 18, BitesActive: 32, ExactP: ptr(0.0123), RandomisationP: ptr(0.0496), RandomisationN: 9999, LogOddsRatio: ptr(2.4115), SE: ptr(0.31945), Boundary: []string{"individual_sd"}},
			{Species: "Raja clavata", PassesActive: 9, PassesControl: 12, TurnsActive: 6, RandomisationWhy: "the rule could have drawn nothing else", MixedWhy: "no turn at any control pair", PenalisedLogOddsRatio: ptr(3.1), PenalisedCI95: Interval{Low: ptr(0.6)}},
		},
		Descriptive: []Descriptive{{Species: "Scyliorhinus canicula", N: 66, Median: ptr(32.7996), Q1: ptr(19.43), Q3: ptr(54.26), Smallest: ptr(0.535), LongestDistanceCm: ptr(45.3), ShareBelow5: ptr(0.0909), ShareBelow20: ptr(0.2727), TextbookMedian: ptr(24.2), TextbookQ1: ptr(8.39), TextbookQ3: ptr(40.8), TextbookSmallest: ptr(0.237), TextbookBelow20: ptr(0.44)}},
		Thresholds:  []Thresholds{{Species: "Scyliorhinus canicula", Passes: 126, Individuals: 22, PassesUnidentified: 8, Step: estimate(30.96, 30.95, 30.97), Lognormal: estimate(41.01, 31.1, 54.0), Individual: Estimate{Why: "no animal has two passes"}}},
		Detection: []Detection{
			{Species: "Scyliorhinus canicula", Passes: 332, Individuals: 22, PassesUnidentified: 16, Estimate: estimate(32.38508326795536, 26.78700504430215, 39.153075027903895), Lapse: ptr(0.11122), SpontaneousPerS: ptr(0.037125), Sensitivity: []Sensitivity{{0, ptr(52.37), ""}, {0.2, nil, "turns are explained as well without any field"}}},
			{Species: "Raja clavata", Passes: 21, Individuals: 4, Estimate: Estimate{Why: "no turn in a rising field"}},
		},
		Individuals: []Individual{{ID: "SC00", Species: "Scyliorhinus canicula", PassesActive: 5, TurnsActive: 3, PassesControl: 9, LowestTurn: ptr(5.9), HighestNoTurn: ptr(67.3)}},
		Uncertainty: []Uncertainty{{What: "height", Unit: "cm", SD: ptr(2.0), How: "every height off", Species: []UncertainMedian{{Species: "Scyliorhinus canicula", Median: Interval{Low: ptr(28.0), High: ptr(36.5)}}, {Species: "Raja clavata", Median: Interval{Why: "no median"}}}}},
	}
}

// recordedFigures are figures without panels, in the order of the report.
func recordedFigures() []Figure {
	var out []Figure
	for _, name := range []string{"timeline", "field-map", "field-section", "range-at-height", "turns", "preference", "individuals", "threshold-curves", "sensitivity"} {
		out = append(out, Figure{Name: name, Title: name})
	}
	return out
}
