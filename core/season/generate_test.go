package season_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/season"
	"brinefield/core/study"
)

// generator draws studies that are valid in every part that a season can hold,
// with awkward texts, numbers of full length and times round the changes of
// the clock.
type generator struct {
	t    *rapid.T
	zone *time.Location
	ids  map[string]bool
}

var zones = []string{"Europe/Dublin", "UTC", "Australia/Lord_Howe", "Pacific/Apia", "America/St_Johns", "Africa/Monrovia", "Asia/Kathmandu"}

func drawStudy(t *rapid.T) *study.Study {
	name := rapid.SampledFrom(zones).Draw(t, "zone")
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	g := &generator{t: t, zone: zone, ids: map[string]bool{}}
	s := &study.Study{Title: g.text(true), Question: g.text(false)}
	s.Site = study.Site{
		Name: g.text(true), Timezone: name, Zone: zone, DepthM: g.positive(),
		LatitudeDeg: g.optIn(-90, 90), LongitudeDeg: g.optIn(-180, 180), XAxisBearingDeg: g.opt(g.number),
	}
	g.surroundings(s)
	g.rig(s)
	g.tables(s)
	return s
}

func (g *generator) bool() bool { return rapid.Bool().Draw(g.t, "bool") }

func (g *generator) count(most int) int { return rapid.IntRange(0, most).Draw(g.t, "count") }

var words = []string{"squid", "calm, 2 m", `5" hook`, "first\nsecond", "a;b", "Ð µ 鰩", "#1", "=1+1", "'x", "yes", "none", "12,5", "\ttab inside\tit", "𝄞"}

func (g *generator) text(needed bool) string {
	if !needed && g.bool() {
		return ""
	}
	if g.bool() {
		return strings.TrimSpace(rapid.SampledFrom(words).Draw(g.t, "word"))
	}
	s := rapid.StringMatching(`[A-Za-z0-9"',;\\ éß±#]{1,12}`).Draw(g.t, "text")
	if s = strings.TrimSpace(s); s == "" || strings.Trim(s, "#") == "" || strings.EqualFold(s, "#NV") {
		return "x"
	}
	return s
}

// id draws a name that was not drawn before.
func (g *generator) id(pattern string) string {
	for {
		s := strings.TrimSpace(rapid.StringMatching(pattern).Draw(g.t, "id"))
		if s != "" && !g.ids[s] && strings.Trim(s, "#") != "" && !strings.EqualFold(s, "none") && !strings.EqualFold(s, "sealed") {
			g.ids[s] = true
			return s
		}
	}
}

// number draws any size that a season can meet, with few or with all digits.
func (g *generator) number() float64 {
	if g.bool() {
		return float64(rapid.IntRange(-100000, 100000).Draw(g.t, "digits")) / 1000
	}
	return rapid.Float64Range(-1e12, 1e12).Draw(g.t, "number")
}

func (g *generator) notNegative() float64 { return math.Abs(g.number()) }

func (g *generator) positive() float64 {
	v := g.notNegative()
	if v == 0 {
		return 1
	}
	return v
}

func (g *generator) opt(draw func() float64) study.Opt[float64] {
	if g.bool() {
		return study.Opt[float64]{}
	}
	return study.Some(draw())
}

func (g *generator) optIn(low, high float64) study.Opt[float64] {
	return g.opt(func() float64 { return rapid.Float64Range(low, high).Draw(g.t, "angle") })
}

// time draws a time near a change of the clock or anywhere.
func (g *generator) time() time.Time {
	seconds := rapid.Int64Range(-1_500_000_000, 6_000_000_000).Draw(g.t, "seconds")
	t := time.Unix(seconds, 0).In(g.zone)
	if start, _ := t.ZoneBounds(); g.bool() && !start.IsZero() && start.Year() > 1901 {
		t = start.Add(time.Duration(rapid.IntRange(-7300, 7300).Draw(g.t, "near")) * time.Second)
	}
	if g.bool() {
		t = t.Add(time.Duration(rapid.IntRange(0, 999_999_999).Draw(g.t, "ns")))
	}
	return t.In(g.zone)
}

func (g *generator) surroundings(s *study.Study) {
	switch w := &s.Water; rapid.IntRange(0, 3).Draw(g.t, "water") {
	case 0:
		w.Kind, w.ConductivitySPerM = study.WaterConductivity, g.positive()
	case 1:
		w.Kind, w.ConductivityAt25CSPerM, w.TemperatureC = study.WaterCompensated, g.positive(), 14.5
		w.PercentPerC = g.optIn(1.8, 2.2)
	case 2:
		w.Kind, w.TemperatureC, w.Salinity, w.PressureDbar = study.WaterSalinity, g.number(), g.positive(), g.opt(g.notNegative)
	default:
		w.Kind, w.CastFile = study.WaterCast, season.WaterFile
	}
	for i := range g.count(2) + 1 {
		if s.Water.Kind != study.WaterCast {
			break
		}
		row := study.CastRow{Time: g.time(), DepthM: float64(i), ConductivitySPerM: g.opt(g.positive)}
		if !row.ConductivitySPerM.Known {
			row.TemperatureC, row.Salinity = study.Some(g.number()), study.Some(g.positive())
		}
		// The readings of one time are one cast, and stand together.
		at := len(s.Cast)
		for at > 0 && slices.ContainsFunc(s.Cast[:at], func(r study.CastRow) bool { return r.Time.Equal(row.Time) }) && !s.Cast[at-1].Time.Equal(row.Time) {
			at--
		}
		s.Cast = slices.Insert(s.Cast, at, row)
	}
	if g.bool() {
		s.Bottom = study.Bottom{Kind: study.BottomSediment, ConductivitySPerM: study.Some(g.positive())}
		if g.bool() {
			s.Bottom.ConductivitySPerM = study.Opt[float64]{}
			s.Bottom.Porosity, s.Bottom.CementationExponent = study.Some(0.41), study.Some(g.positive())
		}
		if g.bool() {
			s.Bottom.ThicknessM, s.Bottom.BasementSPerM = study.Some(g.positive()), study.Some(g.notNegative())
		}
	}
	if g.bool() {
		s.Enclosure = &study.Enclosure{CentreXM: g.number(), CentreYM: g.number()}
		if g.bool() {
			s.Enclosure.DiameterM = study.Some(g.positive())
		} else {
			s.Enclosure.SizeXM, s.Enclosure.SizeYM = g.positive(), g.positive()
		}
	}
}

func (g *generator) rig(s *study.Study) {
	top := g.number()
	for range g.count(2) {
		p := study.Plate{ThicknessM: g.notNegative(), TopAboveBottomM: top, CentreXM: g.number(), CentreYM: g.number(), YawDeg: g.number()}
		if g.bool() {
			p.Label = g.id(`[A-Za-z0-9,"]{1,4}`)
		}
		if p.Disc = g.bool(); p.Disc {
			p.DiameterM = g.positive()
		} else {
			p.SizeXM, p.SizeYM = g.positive(), g.positive()
		}
		s.Plates = append(s.Plates, p)
	}
	for range g.count(3) + 1 {
		s.Pairs = append(s.Pairs, study.Pair{
			Label: g.id(`[A-Za-z0-9 ,"]{1,4}`), CentreXM: g.number(), CentreYM: g.number(), AzimuthDeg: g.number(),
			SeparationM: g.positive(), ElectrodeDiameterM: g.notNegative(), HeightM: g.notNegative(),
		})
	}
	for range g.count(2) + 1 {
		sp := study.Species{Name: g.id(`[A-Z][a-zé]{0,5} [a-z]{1,5}`)}
		for range g.count(2) {
			sp.Aliases = append(sp.Aliases, g.id(`[A-Za-z.", ]{1,6}`))
		}
		s.Species = append(s.Species, sp)
	}
	switch rapid.IntRange(0, 2).Draw(g.t, "rule") {
	case 1:
		s.Schedule.Kind = study.ScheduleUniform
	case 2:
		s.Schedule = study.ScheduleRule{Kind: study.ScheduleBlocks, Block: g.count(20) + 1, MostAlike: g.count(3)}
	}
	s.Analysis = study.Analysis{
		PassRadiusM: g.positive(), ReactionTimeS: g.opt(g.notNegative), ReactionTimeSDS: g.opt(g.notNegative), FixSDM: g.opt(g.notNegative),
		HeightLowM: study.Some(0.01), HeightHighM: study.Some(0.01 + g.notNegative()),
	}
	s.Uncertainty = study.Uncertainty{
		BottomSPerMSD: g.opt(g.notNegative), PositionSDM: g.opt(g.notNegative), HeightSDM: g.opt(g.notNegative), CurrentSDPercent: g.opt(g.notNegative),
	}
}

func (g *generator) pick(n int) int { return rapid.IntRange(0, n-1).Draw(g.t, "index") }

func (g *generator) answer() study.Answer {
	return study.Answer(rapid.IntRange(int(study.NotScored), int(study.Yes)).Draw(g.t, "answer"))
}

func (g *generator) tables(s *study.Study) {
	for range g.count(3) {
		s.Trials = append(s.Trials, g.trial(s))
	}
	for range g.count(2) {
		s.Individuals = append(s.Individuals, study.Individual{
			ID: g.id(`[A-Za-z0-9 ,]{1,4}`), Species: g.pick(len(s.Species)), Sex: g.text(false), TotalLengthM: g.opt(g.positive),
			DiscWidthM: g.opt(g.positive), HeadWidthM: g.opt(g.positive), Mark: g.text(false), Experience: g.text(false),
		})
	}
	for range g.count(2) {
		s.Clips = append(s.Clips, study.Clip{
			ID: g.id(`[A-Za-z0-9 ,]{1,4}`), File: g.text(true), Start: g.time(), ClockOffsetS: g.opt(g.number), DriftPPM: g.opt(g.number), FrameRateHz: g.opt(g.positive),
		})
	}
	for i := range g.count(4) {
		if len(s.Trials) == 0 {
			break
		}
		s.Passes = append(s.Passes, g.pass(s))
		if g.bool() {
			s.Tracks = append(s.Tracks, g.track(i))
		}
	}
}

func (g *generator) trial(s *study.Study) study.Trial {
	start := g.time()
	t := study.Trial{
		ID: g.id(`[A-Za-z0-9 ,]{1,4}`), Start: start, End: start.Add(time.Duration(1 + g.count(100000))).Add(time.Duration(g.count(9000)) * time.Second),
		CurrentA: study.Some(g.number() * 1e-6), Block: g.count(3), CurrentBeforeA: g.opt(g.number), CurrentAfterA: g.opt(g.number),
		Waveform: g.text(false), FrequencyHz: g.opt(g.notNegative), WaterSPerM: g.opt(g.positive), TemperatureC: g.opt(g.number),
		Salinity: g.opt(g.positive), TideM: g.opt(g.notNegative), FlowMPerS: g.opt(g.notNegative), FlowBearingDeg: g.opt(g.number),
		SandOverPlateM: g.opt(g.notNegative), Bait: g.text(false), Odour: g.text(false), VisibilityM: g.opt(g.notNegative),
		Observers: g.text(false), Note: g.text(false),
	}
	if len(s.Plates) > 0 && g.bool() {
		t.Plate = s.Plates[0].Label
	}
	switch rapid.IntRange(0, 3).Draw(g.t, "driven") {
	case 0:
		t.Sealed, t.CurrentA = true, g.opt(g.number)
	case 1:
		t.ActivePairs = []int{g.pick(len(s.Pairs))}
	case 2:
		for i := range s.Pairs {
			t.ActivePairs = append(t.ActivePairs, len(s.Pairs)-1-i)
		}
	}
	return t
}

func (g *generator) pass(s *study.Study) study.Pass {
	p := study.Pass{
		ID: g.id(`[A-Za-z0-9 ,]{1,5}`), Trial: g.pick(len(s.Trials)), Time: g.time(), Species: g.pick(len(s.Species)), Pair: g.pick(len(s.Pairs)),
		Turned: g.answer(), Bit: g.answer(), Visit: g.text(false), WatchedS: g.opt(g.notNegative), BiteElectrode: g.text(false),
		Response: g.text(false), HeightClass: g.text(false), Sex: g.text(false), TotalLengthM: g.opt(g.positive), DiscWidthM: g.opt(g.positive),
		AnimalsInView: g.opt(g.notNegative), Scorer: g.text(false), SecondScorer: g.text(false), Note: g.text(false),
		Onset:   study.OldFix{DistanceM: g.opt(g.notNegative), AngleDeg: g.optIn(0, 180), HeightM: g.opt(g.notNegative)},
		Closest: study.OldFix{DistanceM: g.opt(g.notNegative), AngleDeg: g.optIn(0, 180), HeightM: g.opt(g.notNegative)},
	}
	p.Visit = strings.NewReplacer("\n", " ", "\t", " ").Replace(p.Visit)
	if len(s.Individuals) > 0 && g.bool() {
		p.Individual = s.Individuals[g.pick(len(s.Individuals))].ID
	}
	if len(s.Clips) > 0 && g.bool() {
		p.Clip = s.Clips[g.pick(len(s.Clips))].ID
	}
	if g.bool() {
		p.TurnPair = study.Some(g.pick(len(s.Pairs)))
	}
	if p.Turned == study.Yes && g.bool() {
		p.OnsetS = study.Some(0.25)
	}
	return p
}

func (g *generator) track(pass int) study.Track {
	track := study.Track{Pass: pass}
	for k := range g.count(2) + 1 {
		p := study.PointTrack{Name: []string{"", "snout", "left eye, or so"}[k]}
		for i := range g.count(3) + 2 {
			f := study.Fix{TimeS: float64(i) / 4, XM: g.number(), YM: g.number(), HeightM: g.opt(g.notNegative)}
			if g.bool() {
				f.HeightLowM = study.Some(g.notNegative())
				f.HeightHighM = study.Some(f.HeightLowM.Value * 1.5)
			}
			p.Fixes = append(p.Fixes, f)
		}
		track.Points = append(track.Points, p)
	}
	return track
}

func describe(s *study.Study) string {
	return fmt.Sprintf("%d trials, %d passes, %d tracks", len(s.Trials), len(s.Passes), len(s.Tracks))
}
