package simulate

import (
	"math"
	"math/rand/v2"

	"brinefield/core/study"
)

// place is a position in metres, season frame.
type place struct{ x, y, z float64 }

// swimPath is a path of constant curvature past a pair: at arc length 0 it is
// nearest to where it was aimed, and it is followed from −approach to
// +approach. The head rises and sinks a little on the way.
type swimPath struct {
	x0, y0, heading float64
	bend            float64 // 1/m
	speed, approach float64
	height          float64
	swell, wave     float64 // share of the height; radians per metre
	phase           float64
}

// duration from the first sight of the animal to the last, in seconds.
func (p *swimPath) duration() float64 { return 2 * p.approach / p.speed }

// at is where the head is t seconds after it came into sight.
func (p *swimPath) at(t float64) place {
	s := p.speed*t - p.approach
	// ∫ (cos, sin)(heading + bend·s) ds, as a chord and its half angle.
	half := p.bend * s / 2
	chord := s
	if half != 0 {
		chord *= math.Sin(half) / half
	}
	sin, cos := math.Sincos(p.heading + half)
	z := p.height * (1 + p.swell*math.Sin(p.wave*s+p.phase))
	return place{p.x0 + chord*cos, p.y0 + chord*sin, z}
}

// drift is the heading at time t.
func (p *swimPath) drift(t float64) float64 { return p.heading + p.bend*(p.speed*t-p.approach) }

// Heads neither touch the bottom nor leave the neighbourhood of it.
const (
	lowestHeadM  = 0.012
	highestHeadM = 0.25
)

// drawPath aims a path at a pair, at a random bearing, missing its centre by
// less than the pass radius.
func drawPath(rng *rand.Rand, plan *Plan, sp *SpeciesPlan, pair *study.Pair) swimPath {
	p := swimPath{
		heading:  2 * math.Pi * rng.Float64(),
		bend:     plan.BendPerM * rng.NormFloat64(),
		speed:    sp.SpeedMPerS * math.Exp(0.25*rng.NormFloat64()),
		approach: plan.ApproachM * (0.9 + 0.2*rng.Float64()),
		height:   sp.HeadHeightM * math.Exp(0.35*rng.NormFloat64()),
		swell:    0.12 * rng.Float64(),
		wave:     4 + 4*rng.Float64(),
		phase:    2 * math.Pi * rng.Float64(),
	}
	p.height = math.Min(math.Max(p.height, lowestHeadM/0.85), highestHeadM)
	miss := plan.MissSDM * rng.NormFloat64()
	for math.Abs(miss) > 0.95*plan.PassRadiusM {
		miss = plan.MissSDM * rng.NormFloat64()
	}
	sin, cos := math.Sincos(p.heading)
	p.x0, p.y0 = pair.CentreXM-miss*sin, pair.CentreYM+miss*cos
	return p
}

// homing is what an animal does after a turn: it swings towards a pair and
// swims to it, slower and lower, until its head is there.
type homing struct {
	x, y, z, heading float64
	speed            float64
	goalX, goalY     float64
}

const (
	swingRadPerS = 3.5
	arrivedM     = 0.03
	homingStepS  = 0.01
	longestHunt  = 3.0 // seconds
)

func newHoming(p *swimPath, t float64, goal *study.Pair) *homing {
	at := p.at(t)
	return &homing{at.x, at.y, at.z, p.drift(t), 0.7 * p.speed, goal.CentreXM, goal.CentreYM}
}

func (h *homing) step(dt float64) {
	want := math.Atan2(h.goalY-h.y, h.goalX-h.x)
	swing := math.Remainder(want-h.heading, 2*math.Pi)
	h.heading += math.Min(math.Max(swing, -swingRadPerS*dt), swingRadPerS*dt)
	sin, cos := math.Sincos(h.heading)
	h.x += h.speed * dt * cos
	h.y += h.speed * dt * sin
	h.z += (lowestHeadM - h.z) * math.Min(1.5*dt, 1)
}

func (h *homing) arrived() bool { return math.Hypot(h.goalX-h.x, h.goalY-h.y) < arrivedM }
