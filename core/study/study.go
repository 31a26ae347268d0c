// Package study holds the words that every other room uses: site, water,
// bottom, rig, trial, pass, individual and track, as plain values.
//
// Lengths are in metres, times in seconds, currents in amperes, conductivities
// in S/m, all in the season frame: x and y in the plane of the bottom, z up,
// z = 0 the plate's top face, or the bottom where there is no plate. Angles
// are in degrees anticlockwise from +x, temperatures in °C (ITS-90), as the
// trade records them; a name that differs from SI says its unit.
package study

import "time"

// Opt is a value that may not have been recorded.
type Opt[T any] struct {
	Value T
	Known bool
}

// Some is a recorded value.
func Some[T any](v T) Opt[T] { return Opt[T]{Value: v, Known: true} }

// Or is the recorded value, or fallback where there is none.
func (o Opt[T]) Or(fallback T) T {
	if o.Known {
		return o.Value
	}
	return fallback
}

// Study is everything that belongs to one question.
type Study struct {
	Title    string
	Question string

	Site        Site
	Water       Water
	Bottom      Bottom
	Enclosure   *Enclosure
	Plates      []Plate
	Pairs       []Pair
	Species     []Species
	Schedule    ScheduleRule
	Analysis    Analysis
	Uncertainty Uncertainty

	Cast        []CastRow // rows of the water casts: those of one time together, times in order of first appearance
	Trials      []Trial
	Passes      []Pass
	Individuals []Individual
	Clips       []Clip
	Tracks      []Track // in order of first appearance of the pass
}

// Site is where the study was done.
type Site struct {
	Name         string
	Timezone     string // IANA name
	Zone         *time.Location
	DepthM       float64
	LatitudeDeg  Opt[float64]
	LongitudeDeg Opt[float64]
	// XAxisBearingDeg is the bearing of +x, clockwise from true north.
	XAxisBearingDeg Opt[float64]
}

// WaterKind is the way in which a season states its water.
type WaterKind int

// The four ways to state water.
const (
	WaterConductivity WaterKind = iota // ConductivitySPerM
	WaterCompensated                   // ConductivityAt25CSPerM, TemperatureC, PercentPerC
	WaterSalinity                      // TemperatureC, Salinity, PressureDbar
	WaterCast                          // CastFile
)

// Water is the study's water where a trial says nothing of its own.
type Water struct {
	Kind                   WaterKind
	ConductivitySPerM      float64
	ConductivityAt25CSPerM float64
	PercentPerC            Opt[float64] // 1.91 where not stated
	TemperatureC           float64
	Salinity               float64
	PressureDbar           Opt[float64]
	CastFile               string
}

// CastRow is one reading of a water cast.
type CastRow struct {
	Time              time.Time
	DepthM            float64
	TemperatureC      Opt[float64]
	Salinity          Opt[float64]
	ConductivitySPerM Opt[float64]
}

// BottomKind says what lies under the water.
type BottomKind int

// The kinds of bottom.
const (
	BottomInsulating BottomKind = iota // a tank floor
	BottomSediment
)

// Bottom is what lies under the water.
type Bottom struct {
	Kind                BottomKind
	ConductivitySPerM   Opt[float64]
	Porosity            Opt[float64] // with CementationExponent: Archie, a = 1
	CementationExponent Opt[float64]
	ThicknessM          Opt[float64]
	BasementSPerM       Opt[float64]
}

// Enclosure is a tank with vertical insulating walls: a rectangle, or a
// circle where DiameterM is known.
type Enclosure struct {
	SizeXM, SizeYM     float64
	DiameterM          Opt[float64]
	CentreXM, CentreYM float64
}

// Plate is an insulating board that carries electrodes.
type Plate struct {
	Label              string
	Disc               bool // else a rectangle
	SizeXM, SizeYM     float64
	DiameterM          float64
	ThicknessM         float64
	TopAboveBottomM    float64
	CentreXM, CentreYM float64
	YawDeg             float64
}

// Pair is two electrodes that can be driven. Its axis points from its
// negative to its positive electrode.
type Pair struct {
	Label              string
	CentreXM, CentreYM float64
	AzimuthDeg         float64
	SeparationM        float64
	ElectrodeDiameterM float64 // 0 = a point
	HeightM            float64 // above z = 0
}

// Species is an accepted scientific name with the names that people write.
type Species struct {
	Name    string
	Aliases []string
}

// ScheduleKind is the rule by which the active pair of each trial was drawn.
type ScheduleKind int

// The rules of a schedule.
const (
	ScheduleUnstated ScheduleKind = iota
	ScheduleUniform
	ScheduleBlocks
)

// ScheduleRule is how the active pairs were drawn; Block is the length of a
// permuted block in trials, MostAlike how many driven trials running may have
// the same pair, 0 where there is no limit. Both go with [ScheduleBlocks].
type ScheduleRule struct {
	Kind      ScheduleKind
	Block     int
	MostAlike int
}

// Analysis holds the choices that turn tracks into exposures.
type Analysis struct {
	PassRadiusM     float64
	ReactionTimeS   Opt[float64]
	ReactionTimeSDS Opt[float64]
	FixSDM          Opt[float64] // > 0: tracks are smoothed
	HeightLowM      Opt[float64] // range for unknown heights; both or neither
	HeightHighM     Opt[float64]
	FieldAt         string // a point's name; "largest" (the default) over the points
}

// Uncertainty is what the study says of its own inputs.
type Uncertainty struct {
	BottomSPerMSD    Opt[float64]
	PositionSDM      Opt[float64]
	HeightSDM        Opt[float64]
	CurrentSDPercent Opt[float64]
}

// Trial is one period with one set of active pairs, or none, and one current.
type Trial struct {
	ID         string
	Start, End time.Time
	// ActivePairs are indices into Study.Pairs; empty in a silent or sealed trial.
	ActivePairs []int
	Sealed      bool
	// CurrentA is the current through each active pair; in a silent trial the
	// current that would have flowed; unknown only in a sealed trial.
	CurrentA Opt[float64]
	// Block is the number of the permuted block in which the trial was drawn, from
	// 1 in the order of the schedule; 0 where it is not stated.
	Block           int
	CurrentBeforeA  Opt[float64]
	CurrentAfterA   Opt[float64]
	Plate           string
	Waveform        string
	FrequencyHz     Opt[float64]
	WaterSPerM      Opt[float64]
	TemperatureC    Opt[float64]
	Salinity        Opt[float64]
	TideM           Opt[float64]
	FlowMPerS       Opt[float64]
	FlowBearingDeg  Opt[float64]
	SandOverPlateM  Opt[float64]
	Bait, Odour     string
	VisibilityM     Opt[float64]
	Observers, Note string
	Row             int // row in trials.csv, 1 is the header; 0 where it was not read
}

// Silent reports whether no pair was driven.
func (t *Trial) Silent() bool { return !t.Sealed && len(t.ActivePairs) == 0 }

// DrivenCurrentA is the current of the trial in amperes: the mean of the
// measured currents where both are known, one alone where one is, else the
// stated one. It is not known in a sealed trial without a measurement.
func (t *Trial) DrivenCurrentA() (float64, bool) {
	switch {
	case t.CurrentBeforeA.Known && t.CurrentAfterA.Known:
		return (t.CurrentBeforeA.Value + t.CurrentAfterA.Value) / 2, true
	case t.CurrentBeforeA.Known:
		return t.CurrentBeforeA.Value, true
	case t.CurrentAfterA.Known:
		return t.CurrentAfterA.Value, true
	}
	return t.CurrentA.Value, t.CurrentA.Known
}

// Role is what a pass's pair was in its trial.
type Role int

// The roles; RoleSealed has no name in any output.
const (
	RoleSealed Role = iota
	RoleActive
	RoleControl
	RoleSilent
)

func (r Role) String() string {
	return [...]string{"", "active", "control", "silent"}[r]
}

// RoleOf is the role of a pair (an index into Study.Pairs) in the trial.
func (t *Trial) RoleOf(pair int) Role {
	if t.Sealed {
		return RoleSealed
	}
	if len(t.ActivePairs) == 0 {
		return RoleSilent
	}
	for _, p := range t.ActivePairs {
		if p == pair {
			return RoleActive
		}
	}
	return RoleControl
}

// Answer is a yes, a no, or nothing scored.
type Answer int

// The answers.
const (
	NotScored Answer = iota
	No
	Yes
)

// Pass is one animal coming by one pair once.
type Pass struct {
	ID         string
	Trial      int // index into Study.Trials
	Time       time.Time
	Individual string // "" = not identified
	Species    int    // index into Study.Species
	Pair       int    // index into Study.Pairs
	Turned     Answer
	Bit        Answer

	Visit         string
	TurnPair      Opt[int] // index into Study.Pairs
	OnsetS        Opt[float64]
	WatchedS      Opt[float64]
	BiteElectrode string
	Response      string
	HeightClass   string // as an eye tells it, in the words of the study
	Sex           string
	TotalLengthM  Opt[float64]
	DiscWidthM    Opt[float64]
	AnimalsInView Opt[float64]
	Clip          string
	Scorer        string
	SecondScorer  string
	Note          string

	// Old data without tracks: where the head was at the onset, and closest.
	Onset, Closest OldFix

	Row int // row in passes.csv, 1 is the header; 0 where it was not read
}

// OldFix is a position known only as distance from the pair's centre (in
// three dimensions), angle to the pair's axis and height.
type OldFix struct {
	DistanceM Opt[float64]
	AngleDeg  Opt[float64]
	HeightM   Opt[float64]
}

// Responded reports whether the pass counts as a turn: turned, or bit without
// a recorded turn.
func (p *Pass) Responded() bool { return p.Turned == Yes || p.Bit == Yes }

// Scored reports whether the pass says anything about turning.
func (p *Pass) Scored() bool { return p.Turned != NotScored || p.Bit == Yes }

// Individual is an animal recognised on sight.
type Individual struct {
	ID           string
	Species      int // index into Study.Species
	Sex          string
	TotalLengthM Opt[float64]
	DiscWidthM   Opt[float64]
	HeadWidthM   Opt[float64]
	Mark         string
	Experience   string
}

// Clip is one file of footage.
type Clip struct {
	ID           string
	File         string
	Start        time.Time
	ClockOffsetS Opt[float64]
	DriftPPM     Opt[float64]
	FrameRateHz  Opt[float64]
}

// Track is the fixes of one pass, by point of the head.
type Track struct {
	Pass   int // index into Study.Passes
	Points []PointTrack
}

// PointTrack is the path of one point of the head: rows in time order.
type PointTrack struct {
	Name  string // "" = the study's reference point
	Fixes []Fix
}

// Fix is a measured position of a point of the head.
type Fix struct {
	TimeS       float64 // since the pass began to be watched
	XM, YM      float64
	HeightM     Opt[float64]
	HeightLowM  Opt[float64]
	HeightHighM Opt[float64]
	Row         int // row in tracks.csv, 1 is the header; 0 where it was not read
}
