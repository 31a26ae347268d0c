package conduction

import (
	"errors"
	"fmt"
	"math"
)

// Errors that callers may tell apart with [errors.Is]. Each is wrapped in a
// sentence that names the item and its value.
var (
	ErrMedium      = errors.New("medium")
	ErrElectrode   = errors.New("electrode")
	ErrCurrents    = errors.New("currents do not sum to zero")
	ErrOutside     = errors.New("outside the conducting medium")
	ErrInElectrode = errors.New("inside an electrode")
	ErrNotFinite   = errors.New("not a finite number")
	ErrNotYet      = errors.New("not yet available")
)

// touchM is the distance within which a point counts as inside a point
// electrode or on a disc: a nanometre, where no electrode is a point any more.
const touchM = 1e-9

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// Validate says what is wrong with the medium, or nil.
func (m Medium) Validate() error {
	if !finite(m.WaterSPerM) || m.WaterSPerM <= 0 {
		return fmt.Errorf("%w: water conductivity %g S/m; expected a finite number above 0", ErrMedium, m.WaterSPerM)
	}
	if math.IsNaN(m.DepthM) || m.DepthM <= 0 {
		return fmt.Errorf("%w: water depth %g m; expected a number above 0, or +Inf for unbounded water", ErrMedium, m.DepthM)
	}
	if m.WaterBelow && len(m.Layers) > 0 {
		return fmt.Errorf("%w: water on both sides of z = 0 and %d layers; expected one or the other", ErrMedium, len(m.Layers))
	}
	for i, l := range m.Layers {
		if !finite(l.SPerM) || l.SPerM < 0 {
			return fmt.Errorf("%w: layer %d: conductivity %g S/m; expected a finite number of at least 0", ErrMedium, i+1, l.SPerM)
		}
		if i == len(m.Layers)-1 {
			if !math.IsInf(l.ThicknessM, 1) {
				return fmt.Errorf("%w: layer %d is the last: thickness %g m; expected none (+Inf)", ErrMedium, i+1, l.ThicknessM)
			}
		} else if !finite(l.ThicknessM) || l.ThicknessM <= 0 {
			return fmt.Errorf("%w: layer %d: thickness %g m; expected a finite number above 0", ErrMedium, i+1, l.ThicknessM)
		}
	}
	return m.Enclosure.validate()
}

func (e *Enclosure) validate() error {
	if e == nil {
		return nil
	}
	if !finite(e.SizeXM, e.SizeYM, e.DiameterM, e.CentreXM, e.CentreYM) {
		return fmt.Errorf("%w: enclosure: %w", ErrMedium, ErrNotFinite)
	}
	if e.DiameterM != 0 {
		if e.DiameterM < 0 {
			return fmt.Errorf("%w: enclosure diameter %g m; expected above 0", ErrMedium, e.DiameterM)
		}
		if e.SizeXM != 0 || e.SizeYM != 0 {
			return fmt.Errorf("%w: enclosure %g m by %g m and diameter %g m; expected one or the other", ErrMedium, e.SizeXM, e.SizeYM, e.DiameterM)
		}
		return nil
	}
	if e.SizeXM <= 0 || e.SizeYM <= 0 {
		return fmt.Errorf("%w: enclosure %g m by %g m; expected both above 0", ErrMedium, e.SizeXM, e.SizeYM)
	}
	return nil
}

// contains reports whether a point lies between the walls (or on them).
func (e *Enclosure) contains(x, y float64) bool {
	return e == nil || e.room(x, y) >= 0
}

// room is the distance from a place to the nearest wall, negative beyond it. On a
// round wall, which most places miss by a rounding, it is 0.
func (e *Enclosure) room(x, y float64) float64 {
	if e.DiameterM > 0 {
		room := e.DiameterM/2 - math.Hypot(x-e.CentreXM, y-e.CentreYM)
		if room < 0 && room > -1e-14*(e.DiameterM+math.Abs(x)+math.Abs(y)) {
			return 0
		}
		return room
	}
	return math.Min(e.SizeXM/2-math.Abs(x-e.CentreXM), e.SizeYM/2-math.Abs(y-e.CentreYM))
}

func (e *Enclosure) String() string {
	if e.DiameterM > 0 {
		return fmt.Sprintf("round, %g m across", e.DiameterM)
	}
	return fmt.Sprintf("%g m by %g m", e.SizeXM, e.SizeYM)
}

func validateElectrodes(m Medium, st *stack, electrodes []Electrode) error {
	if len(electrodes) == 0 {
		return fmt.Errorf("%w: none given; expected at least one", ErrElectrode)
	}
	var sum, largest float64
	for i, e := range electrodes {
		if !finite(e.At.X, e.At.Y, e.At.Z, e.CurrentA, e.DiameterM) {
			return fmt.Errorf("%w %d at %v: %w", ErrElectrode, i+1, e.At, ErrNotFinite)
		}
		if e.DiameterM < 0 {
			return fmt.Errorf("%w %d: diameter %g m; expected at least 0 (0 = a point)", ErrElectrode, i+1, e.DiameterM)
		}
		if e.Hemisphere && e.DiameterM == 0 {
			return fmt.Errorf("%w %d: a hemisphere of diameter 0 m; expected above 0", ErrElectrode, i+1)
		}
		if _, ok := st.slabAt(e.At.Z); !ok {
			return fmt.Errorf("%w %d at height %g m: %w (%s)", ErrElectrode, i+1, e.At.Z, ErrOutside, st.extent())
		}
		if err := withinWalls(m.Enclosure, e); err != nil {
			return fmt.Errorf("%w %d: %w", ErrElectrode, i+1, err)
		}
		for j, f := range electrodes[:i] {
			if overlap(e, f) {
				return fmt.Errorf("%w %d and %d overlap at %v; expected places apart", ErrElectrode, j+1, i+1, e.At)
			}
		}
		sum += e.CurrentA
		largest += math.Abs(e.CurrentA)
	}
	if math.Abs(sum) > 1e-12*largest && (!st.open() || m.Enclosure != nil) {
		return fmt.Errorf("%w: %g A are left over; air, insulating layers or walls leave them no way out", ErrCurrents, sum)
	}
	return nil
}

func withinWalls(e *Enclosure, el Electrode) error {
	if e == nil {
		return nil
	}
	if room := e.room(el.At.X, el.At.Y); room < el.DiameterM/2 {
		return fmt.Errorf("at (%g, %g) m it does not fit between the walls of the tank (%v): %w", el.At.X, el.At.Y, e, ErrOutside)
	}
	return nil
}

// checkPoint returns the slab of a point that may be asked for.
func (s *Solution) checkPoint(p Point) (slab int, err error) {
	if !finite(p.X, p.Y, p.Z) {
		return 0, fmt.Errorf("point %v: %w", p, ErrNotFinite)
	}
	slab, ok := s.stack.slabAt(p.Z)
	if !ok {
		return 0, fmt.Errorf("point (%g, %g, %g) m: %w (%s)", p.X, p.Y, p.Z, ErrOutside, s.stack.extent())
	}
	if !s.medium.Enclosure.contains(p.X, p.Y) {
		return 0, fmt.Errorf("point (%g, %g, %g) m: %w (beyond a wall of the tank)", p.X, p.Y, p.Z, ErrOutside)
	}
	for i, e := range s.electrodes {
		if inElectrode(p, e) {
			return 0, fmt.Errorf("point (%g, %g, %g) m: %w (electrode %d)", p.X, p.Y, p.Z, ErrInElectrode, i+1)
		}
	}
	return slab, nil
}
