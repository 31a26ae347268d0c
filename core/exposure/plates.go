package exposure

import (
	"fmt"
	"math"
	"slices"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// The frames of a study with plates. In the season frame z = 0 is the top face
// of the plates, which all share one; in the field frame z = 0 is the bottom.
// So z of the field is z of the season plus the top's height over the bottom,
// and the surface lies at the depth less that height in the season frame.

// topOf is the height of the season's z = 0 over the bottom, in metres, as the
// study states it: that of the plates' top face, 0 without plates. With sand over
// the plates it is another: see [topInTrial].
func topOf(s *study.Study) float64 {
	if len(s.Plates) == 0 {
		return 0
	}
	return s.Plates[0].TopAboveBottomM
}

// surfaceOf is the height of the surface in the season frame, in metres. Sand
// over the plates moves neither the plates nor the surface.
func surfaceOf(s *study.Study, w TrialWater) float64 { return w.DepthM - topOf(s) }

// layout is the plates that lie there in some of the trials, under one depth of
// sand ([TopUnderSand]). A trial that names
// a plate was run on that plate, and the others are taken not to have been laid
// out; a trial that names none is solved with all of them there. (A season whose
// plates all lay there all the time leaves the column blank: the electrodes say
// by themselves on which plate they lie.)
type layout struct {
	name   string             // what the trials call it; empty: all plates
	plates []conduction.Plate // in the field frame
	trials []int              // in order
	there  []bool             // by pair: whether it lies on these plates
	topM   float64            // of the plates, over the bottom of these trials: z of the field is z of the season plus this
	risenM float64            // by how much sand put the bottom higher than the study states
	reps   []alike            // by pair, where it is there
}

// platesOf are a study's plates in the field frame, as the study states them.
func platesOf(s *study.Study) []conduction.Plate {
	out := make([]conduction.Plate, len(s.Plates))
	for i := range s.Plates {
		p := &s.Plates[i]
		out[i] = conduction.Plate{
			ThicknessM: p.ThicknessM, CentreXM: p.CentreXM, CentreYM: p.CentreYM, TopM: p.TopAboveBottomM, YawDeg: p.YawDeg,
		}
		if p.Disc {
			out[i].DiameterM = p.DiameterM
		} else {
			out[i].SizeXM, out[i].SizeYM = p.SizeXM, p.SizeYM
		}
	}
	return out
}

// layoutsOf sorts the trials by the plates that lie there and the sand over
// them, in order of first appearance, and says which pairs lie on them.
func layoutsOf(s *study.Study) ([]*layout, error) {
	all := platesOf(s)
	for i := range all {
		if all[i].TopM != all[0].TopM {
			return nil, fmt.Errorf("exposure: the tops of plates 1 and %d lie %g m and %g m over the bottom; expected one top, which is z = 0", i+1, all[0].TopM, all[i].TopM)
		}
	}
	type lie struct {
		name string
		top  float64
	}
	found := make(map[lie]*layout)
	var out []*layout
	for i := range s.Trials {
		name, top := s.Trials[i].Plate, topInTrial(s, i)
		l := found[lie{name, top}]
		if l == nil {
			l = &layout{name: name, plates: all, topM: top, risenM: topOf(s) - top}
			if name != "" {
				if l.plates = named(s, all, name); l.plates == nil {
					return nil, fmt.Errorf("exposure: trial %s names the plate %q, which the study does not have", s.Trials[i].ID, name)
				}
			}
			l.plates = slices.Clone(l.plates)
			for k := range l.plates {
				l.plates[k].TopM = top
			}
			found[lie{name, top}] = l
			out = append(out, l)
		}
		l.trials = append(l.trials, i)
	}
	for _, l := range out {
		l.there = make([]bool, len(s.Pairs))
		for k := range s.Pairs {
			l.there[k] = s.Pairs[k].HeightM > 0 || onOne(&s.Pairs[k], l.plates)
			if !l.there[k] && !onOne(&s.Pairs[k], all) {
				return nil, fmt.Errorf("exposure: pair %s lies on no plate: its height is 0, the top of the plates, but no plate reaches under both electrodes", s.Pairs[k].Label)
			}
		}
		if err := l.checkAsked(s); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func named(s *study.Study, all []conduction.Plate, name string) []conduction.Plate {
	for i := range s.Plates {
		if s.Plates[i].Label == name {
			return all[i : i+1]
		}
	}
	return nil
}

// checkAsked says where a trial needs the field of a pair that lies on another
// plate than the one that the trial names.
func (l *layout) checkAsked(s *study.Study) error {
	off := func(trial, pair int, why string) error {
		return fmt.Errorf("exposure: trial %s was run on the plate %q, but %s, which lies on another plate; expected a pair of that plate, or a blank plate, which means that all lie there", s.Trials[trial].ID, l.name, why)
	}
	mine := make(map[int]bool, len(l.trials))
	for _, t := range l.trials {
		mine[t] = true
		for _, pair := range s.Trials[t].ActivePairs {
			if !l.there[pair] {
				return off(t, pair, "drove pair "+s.Pairs[pair].Label)
			}
		}
	}
	for i := range s.Passes {
		if p := &s.Passes[i]; mine[p.Trial] && !l.there[p.Pair] {
			return off(p.Trial, p.Pair, "its pass "+p.ID+" is at pair "+s.Pairs[p.Pair].Label)
		}
	}
	return nil
}

// onOne reports whether one of the plates reaches under both electrodes.
func onOne(p *study.Pair, plates []conduction.Plate) bool {
	ends := electrodesOf(p)
	for i := range plates {
		if outlineGap(&plates[i], ends[0].at) == 0 && outlineGap(&plates[i], ends[1].at) == 0 {
			return true
		}
	}
	return false
}

// outlineGap is how far beyond a plate's outline a place lies, horizontally; 0
// within it.
func outlineGap(pl *conduction.Plate, p vec) float64 {
	dx, dy := p.x-pl.CentreXM, p.y-pl.CentreYM
	if pl.DiameterM > 0 {
		return math.Max(math.Hypot(dx, dy)-pl.DiameterM/2, 0)
	}
	a := direction(pl.YawDeg)
	u, v := math.Abs(dx*a.x+dy*a.y)-pl.SizeXM/2, math.Abs(dy*a.x-dx*a.y)-pl.SizeYM/2
	return math.Hypot(math.Max(u, 0), math.Max(v, 0))
}

// plateGap is the distance from a place of the field frame to a plate.
func plateGap(pl *conduction.Plate, p vec) float64 {
	z := math.Max(math.Max(p.z-pl.TopM, pl.TopM-pl.ThicknessM-p.z), 0)
	return math.Hypot(outlineGap(pl, p), z)
}

// platedEnds are a pair's electrodes in the field frame of plates whose top
// lies at a height over the bottom, for one ampere.
func platedEnds(s *study.Study, pair int, top float64) []conduction.Electrode {
	p := &s.Pairs[pair]
	return conduction.Pair{
		Centre:     conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM + top},
		AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
	}.Electrodes(1)
}

// bareEnds are the same without the plates. An electrode that lay on a plate
// becomes a point: a disc on bare sediment would have an insulating back, which
// is the plate's part to play.
func bareEnds(s *study.Study, pair int, top float64) []conduction.Electrode {
	ends := platedEnds(s, pair, top)
	for k := range ends {
		if s.Pairs[pair].HeightM == 0 {
			ends[k].DiameterM = 0
		}
	}
	return ends
}
