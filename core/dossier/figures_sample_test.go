package dossier

import (
	"fmt"
	"math"
	"time"

	"brinefield/core/study"
)

// sampleInput is an invented season with something of everything that is drawn:
// three pairs on a plate, driven, silent and sealed trials, two species, tracks,
// old data without a track, every estimate, a map and ranges of a dipole.
func sampleInput() Input {
	zone := time.FixedZone("here", 3600)
	st := &study.Study{
		Site: study.Site{Name: "Bay (invented)", Zone: zone, XAxisBearingDeg: study.Some(90.0)},
		Plates: []study.Plate{{
			Label: "P", SizeXM: 1.2, SizeYM: 0.8, ThicknessM: 0.02, TopAboveBottomM: 0.01,
		}},
		Bottom:   study.Bottom{Kind: study.BottomSediment},
		Species:  []study.Species{{Name: "Raja clavata"}, {Name: "Scyliorhinus canicula"}},
		Analysis: study.Analysis{ReactionTimeS: study.Some(0.08)},
	}
	for i, label := range []string{"A", "B", "C"} {
		st.Pairs = append(st.Pairs, study.Pair{Label: label, CentreXM: 0.35 * float64(i-1), AzimuthDeg: 90, SeparationM: 0.01})
	}
	in := Input{Name: "bay", Study: st, Invented: true}
	start := time.Date(2025, 6, 1, 21, 0, 0, 0, zone)
	for i := range 9 {
		t := study.Trial{ID: fmt.Sprintf("T%02d", i+1), CurrentA: study.Some(6e-6)}
		t.Start = start.Add(time.Duration(i) * 20 * time.Hour)
		t.End = t.Start.Add(4 * time.Hour) // the first goes beyond midnight
		switch {
		case i == 4:
		case i == 8:
			t.Sealed = true
		default:
			t.ActivePairs = []int{i % 3}
		}
		st.Trials = append(st.Trials, t)
		samplePasses(&in, i)
	}
	st.Cast = []study.CastRow{{Time: start}, {Time: start}, {Time: start.Add(26 * time.Hour)}}
	in.Facts.Schedule = &ScheduleFacts{Openings: []StampFact{{When: start.Add(190 * time.Hour).Format(time.RFC3339)}}}
	in.Sealed = 1
	in.Findings = sampleFindings(&in)
	in.Maps, in.Ranges = sampleMaps(), sampleRanges()
	return in
}

// samplePasses adds eight passes of a trial: at odd ones the animal turns.
func samplePasses(in *Input, trial int) {
	st := in.Study
	t := &st.Trials[trial]
	for k := range 8 {
		pair := k % 3
		turn := k%2 == 1
		p := study.Pass{
			ID: fmt.Sprintf("P%02d%d", trial+1, k), Trial: trial, Pair: pair, Species: k % 2, Turned: study.No,
			Individual: fmt.Sprintf("S%d", k%5), Time: t.Start.Add(time.Duration(k) * time.Minute),
		}
		row := Pass{
			ID: p.ID, Trial: t.ID, Pair: st.Pairs[pair].Label, Role: t.RoleOf(pair).String(), Species: st.Species[k%2].Name,
			Individual: p.Individual, Time: p.Time, Turned: study.No, Used: ptr(!t.Sealed), HeightCm: ptr(4 + float64(k)),
		}
		if k == 6 {
			p.Individual, row.Individual = "", ""
		}
		if turn {
			p.Turned, row.Turned, row.Responded = study.Yes, study.Yes, true
			p.OnsetS = study.Some(1.0)
		}
		if !t.Sealed {
			row.LowNVPerCm = ptr(3 + float64(trial*8+k))
			if turn {
				row.HighNVPerCm = ptr(5 + 2*float64(trial*8+k))
			}
		}
		x, y := st.Pairs[pair].CentreXM*100, 0.0
		if k == 7 {
			row.DistanceCm, row.AngleDeg, row.HorizontalCm = ptr(10.0), ptr(60.0), ptr(8.0)
		} else {
			row.HeadXCm, row.HeadYCm, row.HasTrack = ptr(x+float64(k)), ptr(y+3*float64(k)), true
			st.Tracks = append(st.Tracks, study.Track{Pass: len(st.Passes), Points: []study.PointTrack{{Fixes: []study.Fix{
				{TimeS: 0, XM: x/100 - 0.2, YM: 0.05}, {TimeS: 1, XM: x/100 + 0.2, YM: 0.05},
			}}}})
		}
		st.Passes = append(st.Passes, p)
		in.Passes = append(in.Passes, row)
	}
}

func sampleFindings(in *Input) Findings {
	f := Findings{}
	for i, name := range []string{"all", "Raja clavata", "Scyliorhinus canicula"} {
		p := Preference{
			Species: name, PassesActive: 20 + i, TurnsActive: 15, PassesControl: 40 + i, TurnsControl: 4,
			ExactP: ptr(1e-7), RandomisationP: ptr(0.0123), RandomisationN: 9999,
			LogOddsRatio: ptr(3.3 - float64(i)), SE: ptr(0.6),
		}
		if i == 2 {
			p.LogOddsRatio, p.SE, p.MixedWhy = nil, nil, "turns and passes without one are told apart by the pair alone"
			p.PenalisedLogOddsRatio, p.PenalisedCI95 = ptr(4.1), Interval{Low: ptr(2.2)}
		}
		f.Preference = append(f.Preference, p)
		if i == 0 {
			continue
		}
		mu, sigma := math.Log(15+10*float64(i)), 0.5
		c := Curves{Species: name}
		for k := range 41 {
			x := math.Pow(10, float64(k)/16)
			share := func(shift float64) float64 { return 0.5 * math.Erfc(-(math.Log(x)-mu-shift)/sigma/math.Sqrt2) }
			c.Field = append(c.Field, x)
			c.Detection, c.DetectionLow, c.DetectionHigh = append(c.Detection, share(0)), append(c.DetectionLow, share(0.3)), append(c.DetectionHigh, share(-0.3))
			c.Lognormal, c.LognormalIndividual = append(c.Lognormal, share(0.1)), append(c.LognormalIndividual, share(-0.1))
		}
		c.Steps = []Step{{Low: 0, High: ptr(12.0), After: 0.3}, {Low: 20, High: ptr(30.0), Before: 0.3, After: 0.8}, {Low: 90, Before: 0.8, After: 1}}
		f.Curves = append(f.Curves, c)
		d := Detection{Species: name, Passes: 32, Individuals: 5, PassesUnidentified: 8}
		d.Median, d.CI95 = ptr(math.Exp(mu)), Interval{Low: ptr(math.Exp(mu) / 1.4), High: ptr(math.Exp(mu) * 1.4)}
		for _, t := range []float64{0, 0.05, 0.1, 0.2} {
			d.Sensitivity = append(d.Sensitivity, Sensitivity{ReactionTimeS: t, Median: ptr(math.Exp(mu) * (1.3 - t))})
		}
		f.Detection = append(f.Detection, d)
		f.Uncertainty = append(f.Uncertainty, Uncertainty{What: fmt.Sprintf("input %d", i), Unit: "cm", SD: ptr(1.5), Species: []UncertainMedian{
			{Species: "Raja clavata", Median: Interval{Low: ptr(20.0), High: ptr(30.0)}},
			{Species: "Scyliorhinus canicula", Median: Interval{Low: ptr(30.0), High: ptr(41.0)}},
		}})
	}
	for i := range 5 {
		a := Individual{ID: fmt.Sprintf("S%d", i), Species: in.Study.Species[i%2].Name, PassesActive: 3, TurnsActive: 2}
		if i != 1 {
			a.LowestTurn = ptr(10 + float64(i))
		}
		if i != 2 {
			a.HighestNoTurn = ptr(8 + 3*float64(i))
		}
		f.Individuals = append(f.Individuals, a)
	}
	return f
}

// sampleMaps are maps of pair A: 1000 nV/cm at 1 cm, falling with the cube of the
// distance, on a square of 60 cm round it.
func sampleMaps() []FieldMap {
	field := func(x, y, z float64) float64 { return 2e5 / math.Pow(math.Hypot(math.Hypot(x, y), z), 3) }
	m := FieldMap{Pair: "A", CurrentUA: 6, WaterSPM: 4.3, HeightCm: 5, Plane: "plan", Method: "a cube law; by its own estimate it is off by at most 0.5 %", Error: 0.005}
	s := m
	s.Plane, s.HeightCm, s.XCentreCm = "section", 0, -35
	for i := range 31 {
		x := -30 + 2*float64(i)
		m.X, s.X = append(m.X, x-35), append(s.X, x-35)
		m.Y, s.Y = append(m.Y, x), append(s.Y, float64(i)*1.5)
	}
	for _, y := range m.Y {
		var row []float64
		for _, x := range m.X {
			row = append(row, field(x+35, y, 5))
		}
		m.NVPerCm = append(m.NVPerCm, row)
	}
	for i, y := range s.Y {
		var row []float64
		for j, x := range s.X {
			v := field(x+35, 0, y)
			if i == 0 && j > 12 && j < 18 {
				v = math.NaN()
			}
			row = append(row, v)
		}
		s.NVPerCm = append(s.NVPerCm, row)
	}
	return []FieldMap{m, s}
}

func sampleRanges() []RangeCurve {
	var out []RangeCurve
	for i, of := range []string{"5 nV/cm", "10 nV/cm", "20 nV/cm", "50 nV/cm", "detection median of Raja clavata", "detection median of Scyliorhinus canicula"} {
		c := RangeCurve{Pair: "A", CurrentUA: 6, ThresholdNVPerC: []float64{5, 10, 20, 50, 25, 35}[i], Of: of}
		r := math.Cbrt(2e5 / c.ThresholdNVPerC)
		for h := 0.0; h <= 60; h += 2 {
			c.HeightCm = append(c.HeightCm, h)
			if h < r {
				c.ReachCm = append(c.ReachCm, ptr(math.Sqrt(r*r-h*h)))
			} else {
				c.ReachCm = append(c.ReachCm, nil)
			}
		}
		out = append(out, c)
	}
	return out
}
