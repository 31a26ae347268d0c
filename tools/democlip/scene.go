package main

import (
	"fmt"
	"math"
	"slices"
	"time"

	"brinefield/core/simulate"
	"brinefield/core/study"
	"brinefield/internal/cliptest"
)

const (
	firstPass, secondPass = "P017", "P018" // a ray turns to pair N, then a catshark
	rateHz                = 30
	beforeS               = 1.0 // the clip begins so long before the first pass
	frames                = 375
	flashFrame            = 9
)

// swum is a pass of the demo season as it really was: its exact track, and the
// season's row.
type swum struct {
	pass study.Pass
	path cliptest.Path // in seconds of the clip
}

// passes are the two passes without the errors of measuring. Their visits begin
// with them, so that they draw the same chance as in the season that is measured.
func passes(seed uint64) (first, second swum, pair study.Pair, err error) {
	plan := simulate.Demo()
	season, _, err := simulate.Season(plan, seed)
	if err != nil {
		return first, second, pair, err
	}
	plan.FixSDM = 0
	exact, _, err := simulate.Season(plan, seed)
	if err != nil {
		return first, second, pair, err
	}
	begin := time.Time{}
	for _, p := range []struct {
		id  string
		out *swum
	}{{firstPass, &first}, {secondPass, &second}} {
		i := slices.IndexFunc(season.Passes, func(q study.Pass) bool { return q.ID == p.id })
		if i < 0 || !exact.Passes[i].Time.Equal(season.Passes[i].Time) || len(exact.Tracks[i].Points[0].Fixes) != len(season.Tracks[i].Points[0].Fixes) {
			return first, second, pair, fmt.Errorf("pass %s is not the same with and without errors of measuring: choose another that begins its visit", p.id)
		}
		if begin.IsZero() {
			begin = season.Passes[i].Time
		}
		p.out.pass = season.Passes[i]
		from := beforeS + season.Passes[i].Time.Sub(begin).Seconds()
		for _, f := range exact.Tracks[i].Points[0].Fixes {
			p.out.path.T = append(p.out.path.T, from+f.TimeS)
			p.out.path.P = append(p.out.path.P, cliptest.V{f.XM, f.YM, f.HeightM.Value})
		}
		pair = season.Pairs[season.Passes[i].Pair]
	}
	return first, second, pair, nil
}

// then goes on after a track: places and how long it takes to each.
func then(p *cliptest.Path, legs ...[4]float64) {
	for _, l := range legs {
		p.T = append(p.T, p.T[len(p.T)-1]+l[3])
		p.P = append(p.P, cliptest.V{l[0], l[1], l[2]})
	}
}

// scene is the sand round pair N, seen from a frame 1.6 m above it.
func scene(first, second swum, pair study.Pair) *cliptest.Scene {
	lens := cliptest.Lens{
		WidthPx: 640, HeightPx: 360, FxPx: 432, FyPx: 432.6, CxPx: 317.4, CyPx: 182.1, K1: -0.094, K2: 0.021, P1: 0.0007, P2: -0.0005,
		Port: &cliptest.Port{AirGapM: 0.014, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: 1.34},
	}
	s := &cliptest.Scene{
		Name: "north-pair", Note: "Invented: no animal was filmed. Rendered for Brinefield's demo study.", Seed: 2026, Lens: lens, Times: cliptest.Constant(frames, rateHz),
		Poses:   []cliptest.Posed{{Stand: cliptest.Stand{Centre: cliptest.V{-0.24, 0.93, 1.62}, HeadingDeg: 86, TiltDeg: 3.4, RollDeg: -1.1}}},
		ShadowM: [2]float64{0.5, -0.3}, Texture: 1, MurkPerM: 0.16, Veil: 0.44, NoiseSD: 1.1, Flash: [2]int{flashFrame, flashFrame + 6},
	}
	for i, at := range [][2]float64{{-0.93, 0.66}, {-0.98, 1.34}, {-0.42, 1.43}, {0.2, 1.37}, {0.55, 0.98}, {0.31, 0.58}, {-0.36, 0.62}, {-0.52, 1.06}} {
		s.Marks = append(s.Marks, cliptest.Disc{Name: fmt.Sprintf("peg %d", i+1), At: cliptest.V{at[0], at[1], 0}, RadiusM: 0.011, Light: 0.93})
	}
	for _, half := range []float64{0.5, -0.5} { // holders of electrodes, each with its tip
		x, y := electrode(pair, half)
		s.Marks = append(s.Marks, cliptest.Disc{At: cliptest.V{x, y, 0}, RadiusM: 0.0055, Light: 0.1},
			cliptest.Disc{Name: fmt.Sprintf("pair %s, %s electrode", pair.Label, map[bool]string{true: "positive", false: "negative"}[half > 0]), At: cliptest.V{x, y, 0}, RadiusM: 0.0016, Light: 0.9})
	}
	s.Cables = []cliptest.Cable{{Along: [][2]float64{{pair.CentreXM, pair.CentreYM}, {0.12, 0.71}, {0.2, 0.64}, {0.24, 0.52}, {0.36, 0.4}}, RadiusM: 0.004}}

	ray := cliptest.Animal{Name: firstPass, Ray: true, LengthM: 0.567, HeadWidthM: 0.07, DiscWidthM: 0.385, Path: first.path, Light: 0.27}
	// It bites, stays, and swims on over the pair; nobody measures that.
	then(&ray.Path, [4]float64{-0.010, 0.757, 0.013, 0.25}, [4]float64{-0.008, 0.756, 0.013, 0.8}, [4]float64{0.05, 0.725, 0.02, 0.4}, [4]float64{0.14, 0.66, 0.035, 0.45},
		[4]float64{0.26, 0.56, 0.05, 0.5}, [4]float64{0.42, 0.45, 0.06, 0.55}, [4]float64{0.8, 0.25, 0.07, 1.2})
	shark := cliptest.Animal{Name: secondPass, LengthM: 0.54, HeadWidthM: 0.062, Path: second.path, Light: 0.3}
	then(&shark.Path, [4]float64{-0.010, 0.753, 0.02, 0.15}, [4]float64{-0.006, 0.751, 0.018, 0.5}, [4]float64{-0.004, 0.75, 0.018, 0.6})
	s.Animals = []cliptest.Animal{ray, shark}
	return s
}

// electrode is the place of one end of a pair: 0.5 the positive, −0.5 the negative.
func electrode(p study.Pair, half float64) (x, y float64) {
	sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
	return p.CentreXM + half*p.SeparationM*cos, p.CentreYM + half*p.SeparationM*sin
}
