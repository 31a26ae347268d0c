package background

import (
	"math"
	"slices"

	"brinefield/core/numeric"
)

// Flow is level motion of water: how fast, and the bearing that it runs to, in
// degrees clockwise from true north.
type Flow struct{ SpeedMPerS, BearingDeg float64 }

// Velocity is the flow in north, east and down, m/s.
func (f Flow) Velocity() Vector {
	sin, cos := numeric.SinCosDeg(f.BearingDeg)
	return Vector{North: f.SpeedMPerS * cos, East: f.SpeedMPerS * sin}
}

// flowOf is the flow of two components; without motion it has the bearing 0.
func flowOf(north, east float64) Flow {
	bearing := degrees(math.Atan2(east, north))
	if bearing < 0 {
		bearing += 360
	}
	return Flow{SpeedMPerS: math.Hypot(north, east), BearingDeg: bearing}
}

// Motional returns E = v × B in nV/cm, in north, east and down: the field that
// whatever moves with velocityMPerS through the magnetic field fieldNT drives.
//
// It is an upper bound of the field in the water. Currents that close through
// the bottom and through slower water short-circuit part of it: how much depends
// on the depth, the width of the stream and the bottom, which nobody knows.
func Motional(velocityMPerS, fieldNT Vector) Vector {
	const scale = 1e-9 * nVPerCmPerVPerM
	v, b := velocityMPerS, fieldNT
	return Vector{
		North: scale * (v.East*b.Down - v.Down*b.East),
		East:  scale * (v.Down*b.North - v.North*b.Down),
		Down:  scale * (v.North*b.East - v.East*b.North),
	}
}

// InSeason turns a vector into the season frame, x, y, z with z up, whose +x has
// the bearing xAxisBearingDeg from true north.
func (v Vector) InSeason(xAxisBearingDeg float64) [3]float64 {
	sin, cos := numeric.SinCosDeg(xAxisBearingDeg)
	return [3]float64{v.North*cos + v.East*sin, v.North*sin - v.East*cos, -v.Down}
}

// SwimmingNV returns the largest and the smallest magnitude of v × B, nV/cm, of
// an animal that swims level at a speed, over the directions that it may take:
// speed times the total field towards magnetic east and west, times the vertical
// part towards magnetic north and south.
func SwimmingNV(speedMPerS float64, fieldNT Vector) (largest, smallest float64) {
	const scale = 1e-9 * nVPerCmPerVPerM
	return scale * speedMPerS * fieldNT.Length(), scale * speedMPerS * math.Abs(fieldNT.Down)
}

// Stream is the motion of the water in the course of a day.
type Stream interface {
	// At is the flow at an hour of the day; ok is false where it is not known.
	At(hour float64) (f Flow, ok bool)
	// Peaks are the hours, from 0 to 24, among which the fastest of the day is.
	Peaks() []float64
}

// Tide is a stream that runs to and fro as a sine.
type Tide struct {
	FloodMPerS, EbbMPerS float64 // at their peaks
	FloodBearingDeg      float64
	SlackHour            float64 // when the flood begins
	PeriodHours          float64
}

// At is the flow at an hour.
func (t Tide) At(hour float64) (Flow, bool) {
	phase := (hour - t.SlackHour) / t.PeriodHours
	phase -= math.Floor(phase)
	sin, _ := numeric.SinCosDeg(360 * phase)
	if sin >= 0 {
		return Flow{SpeedMPerS: t.FloodMPerS * sin, BearingDeg: t.FloodBearingDeg}, true
	}
	opposite := math.Mod(t.FloodBearingDeg+180, 360)
	return Flow{SpeedMPerS: -t.EbbMPerS * sin, BearingDeg: opposite}, true
}

// Peaks are the day's ends and every peak of flood and ebb between them.
func (t Tide) Peaks() []float64 {
	hours := []float64{0, 24}
	half := t.PeriodHours / 2
	first := t.SlackHour + half/2
	for k := math.Ceil(-first / half); first+k*half <= 24; k++ {
		hours = append(hours, first+k*half)
	}
	slices.Sort(hours)
	return hours
}

// Atlas is a stream as a table, its hours rising. Between two lines the
// components north and east run straight; before the first and after the last
// nothing is known.
type Atlas []AtlasLine

// AtlasLine is one line of it.
type AtlasLine struct {
	Hour float64
	Flow Flow
}

// At is the flow at an hour.
func (a Atlas) At(hour float64) (Flow, bool) {
	if len(a) == 0 || !(hour >= a[0].Hour && hour <= a[len(a)-1].Hour) {
		return Flow{}, false
	}
	i := slices.IndexFunc(a, func(l AtlasLine) bool { return l.Hour >= hour })
	if a[i].Hour == hour {
		return a[i].Flow, true
	}
	share := (hour - a[i-1].Hour) / (a[i].Hour - a[i-1].Hour)
	from, to := a[i-1].Flow.Velocity(), a[i].Flow.Velocity()
	return flowOf(from.North+share*(to.North-from.North), from.East+share*(to.East-from.East)), true
}

// Peaks are the hours of the lines: between them the speed is nowhere above
// that at both ends, and neither is v × B, which is linear in v.
func (a Atlas) Peaks() []float64 {
	hours := make([]float64, len(a))
	for i := range a {
		hours[i] = a[i].Hour
	}
	return hours
}
