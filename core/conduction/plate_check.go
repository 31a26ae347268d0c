package conduction

import (
	"fmt"
	"math"

	"brinefield/core/numeric"
)

// located is electrodes with what they lie on.
type located struct {
	electrodes []Electrode
	on         []int     // the plate whose top face carries it; −1 = none
	room       []float64 // from its centre to that plate's edge
}

// onFace is how far from a face a height still counts as on it: a nanometre.
const onFace = touchM

// apart is the gap that plates must leave between each other.
const apart = 1e-6

func (pl *Plate) validate() error {
	if !finite(pl.SizeXM, pl.SizeYM, pl.DiameterM, pl.ThicknessM, pl.CentreXM, pl.CentreYM, pl.TopM, pl.YawDeg) {
		return ErrNotFinite
	}
	switch {
	case pl.DiameterM != 0 && (pl.SizeXM != 0 || pl.SizeYM != 0):
		return fmt.Errorf("size %g m by %g m and diameter %g m; expected one or the other", pl.SizeXM, pl.SizeYM, pl.DiameterM)
	case pl.DiameterM < 0:
		return fmt.Errorf("diameter %g m; expected above 0", pl.DiameterM)
	case pl.DiameterM == 0 && (pl.SizeXM <= 0 || pl.SizeYM <= 0):
		return fmt.Errorf("size %g m by %g m; expected both above 0", pl.SizeXM, pl.SizeYM)
	case pl.ThicknessM < 0:
		return fmt.Errorf("thickness %g m; expected at least 0 (0 = a thin sheet)", pl.ThicknessM)
	}
	return nil
}

// local takes a place into the plate's own frame, horizontally.
func (pl *Plate) local(x, y float64) (u, v float64) {
	sin, cos := numeric.SinCosDeg(pl.YawDeg)
	dx, dy := x-pl.CentreXM, y-pl.CentreYM
	return cos*dx + sin*dy, cos*dy - sin*dx
}

// room is the distance from a place within the plate's outline to its edge,
// negative beyond it.
func (pl *Plate) room(x, y float64) float64 {
	u, v := pl.local(x, y)
	if pl.DiameterM > 0 {
		return pl.DiameterM/2 - math.Hypot(u, v)
	}
	return math.Min(pl.SizeXM/2-math.Abs(u), pl.SizeYM/2-math.Abs(v))
}

// holds reports whether a place lies inside the plate or on its sides or
// bottom.
func (pl *Plate) holds(p Point) bool {
	return pl.ThicknessM > 0 && pl.room(p.X, p.Y) >= 0 && p.Z < pl.TopM-onFace && p.Z >= pl.TopM-pl.ThicknessM
}

// checkPlates says what is wrong with the plates, or nil.
func checkPlates(m Medium, st *stack, plates []Plate) error {
	for i := range plates {
		pl := &plates[i]
		if err := pl.validate(); err != nil {
			return fmt.Errorf("%w %d: %w", ErrPlate, i+1, err)
		}
		if pl.TopM >= m.DepthM {
			return fmt.Errorf("%w %d: its top at %g m reaches the surface at %g m; expected it under water", ErrPlate, i+1, pl.TopM, m.DepthM)
		}
		if e := m.Enclosure; e != nil && !pl.fits(e) {
			return fmt.Errorf("%w %d does not fit between the walls of the tank (%v)", ErrPlate, i+1, e)
		}
		for j := range plates[:i] {
			if near(pl, &plates[j]) {
				return fmt.Errorf("%w %d and %d overlap or touch; expected a gap, or one plate", ErrPlate, j+1, i+1)
			}
		}
	}
	return nil
}

// corners are those of the rectangle, or of the square round the disc.
func (pl *Plate) corners() [4][2]float64 {
	sin, cos := numeric.SinCosDeg(pl.YawDeg)
	a, b := pl.SizeXM/2, pl.SizeYM/2
	if pl.DiameterM > 0 {
		a, b, sin, cos = pl.DiameterM/2, pl.DiameterM/2, 0, 1
	}
	var out [4][2]float64
	for k, s := range [4][2]float64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}} {
		x, y := s[0]*a, s[1]*b
		out[k] = [2]float64{pl.CentreXM + cos*x - sin*y, pl.CentreYM + sin*x + cos*y}
	}
	return out
}

func (pl *Plate) fits(e *Enclosure) bool {
	return pl.wallRoom(e) >= apart
}

// wallRoom is the distance from the plate's outline to the nearest wall.
func (pl *Plate) wallRoom(e *Enclosure) float64 {
	if e.DiameterM > 0 && pl.DiameterM > 0 {
		return e.room(pl.CentreXM, pl.CentreYM) - pl.DiameterM/2
	}
	room := math.Inf(1)
	for _, c := range pl.corners() {
		room = math.Min(room, e.room(c[0], c[1]))
	}
	return room
}

// near reports whether two plates overlap or touch.
func near(p, q *Plate) bool {
	if p.TopM-p.ThicknessM > q.TopM+apart || q.TopM-q.ThicknessM > p.TopM+apart {
		return false
	}
	switch {
	case p.DiameterM > 0 && q.DiameterM > 0:
		return math.Hypot(p.CentreXM-q.CentreXM, p.CentreYM-q.CentreYM) < (p.DiameterM+q.DiameterM)/2+apart
	case p.DiameterM > 0:
		return near(q, p)
	case q.DiameterM > 0:
		u, v := p.local(q.CentreXM, q.CentreYM)
		u, v = math.Max(math.Abs(u)-p.SizeXM/2, 0), math.Max(math.Abs(v)-p.SizeYM/2, 0)
		return math.Hypot(u, v) < q.DiameterM/2+apart
	}
	// Rectangles are apart where a side of one of them lies between them.
	return !separates(p, q) && !separates(q, p)
}

func separates(p, q *Plate) bool {
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, c := range q.corners() {
		u, v := p.local(c[0], c[1])
		for k, x := range [2]float64{u, v} {
			lo[k], hi[k] = math.Min(lo[k], x), math.Max(hi[k], x)
		}
	}
	return lo[0] > p.SizeXM/2+apart || hi[0] < -p.SizeXM/2-apart || lo[1] > p.SizeYM/2+apart || hi[1] < -p.SizeYM/2-apart
}

// locate finds the plate under each electrode.
func locate(plates []Plate, electrodes []Electrode) (*located, error) {
	out := &located{electrodes: electrodes}
	for i, e := range electrodes {
		on, room, level := -1, 0.0, -1
		for k := range plates {
			pl := &plates[k]
			if pl.holds(e.At) {
				return nil, fmt.Errorf("%w %d at (%g, %g, %g) m: %w (plate %d, whose top is at %g m)", ErrElectrode, i+1, e.At.X, e.At.Y, e.At.Z, ErrInPlate, k+1, pl.TopM)
			}
			if math.Abs(e.At.Z-pl.TopM) > onFace {
				continue
			}
			level = k
			if r := pl.room(e.At.X, e.At.Y); r > 0 {
				on, room = k, r
			}
		}
		switch {
		case on < 0 && level >= 0:
			return nil, fmt.Errorf("%w %d at (%g, %g) m lies off the plate: it is as high as the top of plate %d, but on no plate", ErrElectrode, i+1, e.At.X, e.At.Y, level+1)
		case on >= 0 && room <= e.DiameterM/2:
			return nil, fmt.Errorf("%w %d at (%g, %g) m hangs over the edge of plate %d: %g m from it, with a diameter of %g m", ErrElectrode, i+1, e.At.X, e.At.Y, on+1, room, e.DiameterM)
		}
		out.on, out.room = append(out.on, on), append(out.room, room)
	}
	return out, nil
}

// effective drops plates that lie in what insulates, and cuts off what of a
// plate does. floor[k]: plate k stands on an insulator.
func effective(st *stack, plates []Plate) (out []Plate, floor []bool) {
	lowest := st.slabs[len(st.slabs)-1].bottomM
	for _, pl := range plates {
		if st.floor && pl.TopM <= lowest+onFace {
			continue
		}
		stands := st.floor && pl.TopM-pl.ThicknessM <= lowest+onFace
		if stands {
			pl.ThicknessM = pl.TopM - lowest
		}
		out, floor = append(out, pl), append(floor, stands)
	}
	return out, floor
}
