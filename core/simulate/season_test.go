package simulate

import (
	"math"
	"reflect"
	"testing"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/inference"
	"brinefield/core/numeric/numtest"
	"brinefield/core/season"
	"brinefield/core/study"
)

func invent(t testing.TB, p Plan, seed uint64) (*study.Study, Truth) {
	t.Helper()
	s, truth, err := Season(p, seed)
	if err != nil {
		t.Fatal(err)
	}
	return s, truth
}

func exposures(t testing.TB, s *study.Study) []exposure.Exposure {
	t.Helper()
	f, err := exposure.NewFields(s, Water(s), exposure.FieldOptions{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	out, warnings, err := exposure.Compute(s, f, exposure.Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range warnings {
		t.Log(w)
	}
	return out
}

func plans() map[string]Plan {
	return map[string]Plan{"demo": Demo(), "coverage": Coverage(), "load": Load(800)}
}

func TestSameSeedSameBits(t *testing.T) {
	for name, p := range plans() {
		a, ta := invent(t, p, 5)
		b, tb := invent(t, p, 5)
		if !reflect.DeepEqual(a, b) || !reflect.DeepEqual(ta, tb) {
			t.Errorf("%s: the same seed gave two seasons", name)
		}
		c, _ := invent(t, p, 6)
		if reflect.DeepEqual(a.Tracks, c.Tracks) {
			t.Errorf("%s: two seeds gave the same tracks", name)
		}
	}
}

// A whole valid season folder: what is written can be read without a fault
// and written again as the same bytes.
func TestInventedSeasonsAreValid(t *testing.T) {
	for name, p := range plans() {
		s, truth := invent(t, p, 3)
		if len(s.Passes) != p.Passes || len(truth.Passes) != p.Passes || len(s.Trials) != p.Trials {
			t.Errorf("%s: %d passes, %d trials", name, len(s.Passes), len(s.Trials))
		}
		files, err := season.Write(s)
		if err != nil {
			t.Fatal(name, err)
		}
		again, faults := season.Read(files, season.Options{Zone: time.LoadLocation})
		for i, f := range faults {
			if i < 5 {
				t.Errorf("%s: %v", name, f)
			}
		}
		files2, err := season.Write(again)
		if err != nil {
			t.Fatal(name, err)
		}
		for file, data := range files {
			if string(files2[file]) != string(data) {
				t.Errorf("%s: %s is written differently the second time", name, file)
			}
		}
	}
}

// What was written down is what happened: the exact moment of a turn lies in
// (t0, t1], and, with exact positions in every frame, the threshold lies
// between the bounds that the tracks give for it.
func TestRecordsAreTrue(t *testing.T) {
	p := Coverage()
	p.Passes = 3000
	s, truth := invent(t, p, 11)
	var inside, turns int
	for i, e := range exposures(t, s) {
		tr, pass := &truth.Passes[i], &s.Passes[i]
		turned := tr.TurnedByField || tr.TurnedSpontaneously
		if turned != pass.Responded() {
			t.Fatalf("%s: turned %v, written down as %v", pass.ID, turned, pass.Responded())
		}
		if !e.Known {
			t.Errorf("%s: %s", pass.ID, e.WhyNotUsed)
			continue
		}
		low, high := e.Low*nVPerCm, e.High*nVPerCm
		switch {
		case pass.OnsetS.Known:
			if tr.OnsetS <= e.OnsetBeforeS.Value-1e-9 || tr.OnsetS > e.OnsetS.Value+1e-9 {
				t.Errorf("%s: turned at %g s, recorded in (%g, %g]", pass.ID, tr.OnsetS, e.OnsetBeforeS.Value, e.OnsetS.Value)
			}
			if tr.TurnedByField {
				turns++
				// Rows are joined by straight lines and rounded to 0.1 mm;
				// the animal swam a curve.
				if tr.ThresholdNVPerCm >= low*0.985 && tr.ThresholdNVPerCm <= high*1.015 {
					inside++
				}
			}
		case !turned && !tr.Lapse && tr.ThresholdNVPerCm < low*0.95:
			// Only where the field was reached within the reaction time of the end.
			t.Errorf("%s: met %g nV/cm without a turn at a threshold of %g", pass.ID, low, tr.ThresholdNVPerCm)
		}
	}
	if turns < 300 || float64(inside) < 0.995*float64(turns) {
		t.Errorf("%d of %d thresholds lie between their bounds", inside, turns)
	}
}

// The season shows the numbers that the plan asked for.
func TestTruthInNumbers(t *testing.T) {
	p := Coverage()
	p.Passes = 8000
	p.Trials, p.SilentTrials = 240, 30
	for i := range p.Species {
		p.Species[i].Animals = 400
	}
	s, truth := invent(t, p, 2)
	for k, want := range truth.Species {
		var logs []float64
		var lapses, n, spontaneous, seconds, turned, lost, bit, nobody float64
		for i := range s.Passes {
			pass, tr := &s.Passes[i], &truth.Passes[i]
			if pass.Species != k {
				continue
			}
			n++
			logs = append(logs, math.Log(tr.ThresholdNVPerCm))
			if tr.Lapse {
				lapses++
			}
			if pass.Individual == "" {
				nobody++
			}
			if tr.TurnedByField || tr.TurnedSpontaneously {
				turned++
				seconds += tr.OnsetS
				if !pass.OnsetS.Known {
					lost++
				}
				if pass.Bit == study.Yes {
					bit++
				}
			} else {
				seconds += pass.WatchedS.Value
			}
			if tr.TurnedSpontaneously {
				spontaneous++
			}
		}
		mean, sd := meanSD(logs)
		// Standard errors: sd of 400 animals' means 0.35/√400 = 0.018, and of
		// shares of 6 000 passes below 0.005; four of them are allowed.
		numtest.Check(t, want.Name+": mean ln threshold", mean, math.Log(want.MedianNVPerCm), numtest.Tolerance{Abs: 0.09})
		numtest.Check(t, want.Name+": sd ln threshold", sd, math.Hypot(want.SDIndividual, want.SDWithin), numtest.Tolerance{Rel: 0.07})
		numtest.Check(t, want.Name+": lapses", lapses/n, want.Lapse, numtest.Tolerance{Abs: 0.02})
		numtest.Check(t, want.Name+": spontaneous turns per second", spontaneous/seconds, want.SpontaneousPerS, numtest.Tolerance{Rel: 0.2})
		numtest.Check(t, want.Name+": not identified", nobody/n, p.Species[k].UnidentifiedShare, numtest.Tolerance{Abs: 0.02})
		numtest.Check(t, want.Name+": turns without onset", lost/turned, p.Species[k].NoOnsetShare, numtest.Tolerance{Abs: 0.015})
		numtest.Check(t, want.Name+": bites", bit/turned, p.Species[k].BiteShare, numtest.Tolerance{Abs: 0.05})
	}
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(sd)
}

// The demonstration is rich enough to be looked at: every kind of pass is in it.
func TestDemoIsRich(t *testing.T) {
	s, _ := invent(t, Demo(), DemoSeed)
	count := map[string]int{}
	for _, e := range exposures(t, s) {
		p := &s.Passes[e.Pass]
		add := func(what string, is bool) {
			if is {
				count[what]++
			}
		}
		add(e.Role.String(), true)
		add("active turn", e.Role == study.RoleActive && p.Responded())
		add("control turn", e.Role == study.RoleControl && p.Responded())
		add("silent turn", e.Role == study.RoleSilent && p.Responded())
		add("falling", e.FallingField && e.Role == study.RoleActive)
		add("after first response", e.AfterFirstResponse)
		add("nobody", !e.Identified)
		add("no onset", p.Responded() && !p.OnsetS.Known)
		add("second scorer", p.SecondScorer != "")
		add("bite", p.Bit == study.Yes)
		add("unknown field", !e.Known)
		add("other pair", e.ComputedPair.Known && e.ComputedPair.Value != p.Pair)
	}
	t.Log(count)
	for what, least := range map[string]int{
		"active": 60, "control": 150, "silent": 30, "active turn": 30, "control turn": 8, "silent turn": 2,
		"after first response": 10, "nobody": 10, "no onset": 3, "second scorer": 30, "bite": 20,
	} {
		if count[what] < least {
			t.Errorf("%s: %d, want at least %d", what, count[what], least)
		}
	}
	if count["unknown field"] > 0 || count["other pair"] > 8 {
		t.Errorf("%d passes without a field, %d whose track enters another circle first", count["unknown field"], count["other pair"])
	}
}

func TestSparseTracks(t *testing.T) {
	s, _ := invent(t, Load(1000), 1)
	for i := range s.Tracks {
		fixes := s.Tracks[i].Points[0].Fixes
		if len(fixes) < 2 || len(fixes) > 4 {
			t.Fatalf("pass %d has %d rows", i, len(fixes))
		}
	}
}

func TestPlansThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*Plan){
		"no pairs":          func(p *Plan) { p.Pairs = nil },
		"no species":        func(p *Plan) { p.Species = nil },
		"no currents":       func(p *Plan) { p.CurrentsA = nil },
		"no trials":         func(p *Plan) { p.Trials = 0 },
		"too silent":        func(p *Plan) { p.SilentTrials = p.Trials + 1 },
		"no frames":         func(p *Plan) { p.FrameS = 0 },
		"blind":             func(p *Plan) { p.ApproachM = 0.1 },
		"three rows":        func(p *Plan) { p.SparseRows = 3 },
		"dry at ebb":        func(p *Plan) { p.TideAmplitude = 5 },
		"no animals":        func(p *Plan) { p.Species[0].Animals = 0 },
		"lapse above one":   func(p *Plan) { p.Species[0].Truth.Lapse = 1.1 },
		"NaN":               func(p *Plan) { p.ReactionTimeS = math.NaN() },
		"a pair in the air": func(p *Plan) { p.Pairs[0].HeightM = 99 },
		"too short":         func(p *Plan) { p.TrialLength = time.Minute },
	} {
		p := Demo()
		change(&p)
		if _, _, err := Season(p, 1); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// From a season back to its truth: the detection median is within four robust
// standard errors of the one that the season was made from. How often its
// interval holds the truth is asked of 200 seasons in the long checks.
func TestASeasonGivesBackItsTruth(t *testing.T) {
	s, truth := invent(t, Coverage(), 42)
	all := exposures(t, s)
	for k, sp := range truth.Species {
		fit, err := inference.Detection(detectionRows(s, all, k))
		if err != nil || fit.CIErr != nil {
			t.Fatal(err, fit.CIErr)
		}
		t.Logf("%s: median %.1f nV/cm, truth %g, standard error of its logarithm %.3f", sp.Name, fit.Median, sp.MedianNVPerCm, fit.SEMu)
		numtest.Check(t, sp.Name+": ln median", fit.Mu, math.Log(sp.MedianNVPerCm), numtest.Tolerance{Abs: 4 * fit.SEMu})
		if fit.SEMu > 0.3 {
			t.Errorf("%s: a standard error of %g says nothing", sp.Name, fit.SEMu)
		}
	}
}
