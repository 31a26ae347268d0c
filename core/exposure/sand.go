package exposure

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// Sand over a plate (sand_over_plate_mm of a trial). The plates stay where they
// are, and so does the season frame; the bottom lies higher than the study
// states, so that the plates are buried, with the electrodes on them. The sand
// is taken to be the study's sediment and to lie as far as the field reaches.

// muchSandM is more sand than a plate that is looked after has over it: beyond
// it the unit is asked for.
const muchSandM = 0.05

// TopUnderSand is the height of a plate's top face over the bottom, in metres,
// negative where it is buried, when so much sand lies over the face: minus the
// sand. Without sand (0 or less) it is what is stated. A plate that is stated to
// stand out of the bottom is buried by sand over its top like any other.
func TopUnderSand(statedM, sandM float64) float64 {
	if sandM > 0 {
		return -sandM
	}
	return statedM
}

// topInTrial is the height of the season's z = 0 over the bottom in one trial,
// in metres.
func topInTrial(s *study.Study, trial int) float64 {
	if !sandCounts(s) {
		return topOf(s)
	}
	return TopUnderSand(topOf(s), s.Trials[trial].SandOverPlateM.Or(0))
}

// sandCounts reports whether sand over plates can be worked out: there must be
// plates, and a sediment that says what the sand conducts.
func sandCounts(s *study.Study) bool {
	return len(s.Plates) > 0 && s.Bottom.Kind == study.BottomSediment
}

// mediumIn is what lies under, over and round the pairs in a trial of the
// layout: with the sand the sediment is thicker and the water less deep.
func (l *layout) mediumIn(s *study.Study, w TrialWater) conduction.Medium {
	m := mediumOf(s, w)
	m.DepthM -= l.risenM
	if l.risenM != 0 && len(m.Layers) > 1 {
		m.Layers[0].ThicknessM += l.risenM
	}
	return m
}

// checkSand says where the sand would reach the surface, or leave no sediment.
func checkSand(s *study.Study, water []TrialWater) error {
	for i := range s.Trials {
		sand, risen := s.Trials[i].SandOverPlateM.Or(0), topOf(s)-topInTrial(s, i)
		switch {
		case !isFinite(sand) || sand < 0:
			return fmt.Errorf("exposure: trial %s: %g mm of sand over the plate; expected 0 or more", s.Trials[i].ID, sand*1000)
		case risen >= water[i].DepthM:
			return fmt.Errorf("exposure: trial %s: %g mm of sand over the plate reach the surface, %g m over the plate; sand_over_plate_mm is in millimetres", s.Trials[i].ID, sand*1000, surfaceOf(s, water[i]))
		case s.Bottom.ThicknessM.Known && s.Bottom.ThicknessM.Value+risen <= 0:
			return fmt.Errorf("exposure: trial %s: %g mm of sand over a plate that the study buries by %g mm leave nothing of a sediment of %g m", s.Trials[i].ID, sand*1000, -topOf(s)*1000, s.Bottom.ThicknessM.Value)
		}
	}
	return nil
}

// sandWarnings says what was made of the sand over the plates.
func sandWarnings(s *study.Study) []string {
	var all, much, against, bare []string
	for i := range s.Trials {
		t := &s.Trials[i]
		if !t.SandOverPlateM.Known {
			continue
		}
		sand, top := t.SandOverPlateM.Value, topOf(s)
		if sand > 0 {
			all = append(all, t.ID)
		}
		switch {
		case !sandCounts(s):
		case sand == 0 && top < 0:
			bare = append(bare, t.ID)
		case sand > 0 && top < 0 && math.Abs(sand+top) > 0.0005:
			against = append(against, fmt.Sprintf("%s (%.3g mm)", t.ID, sand*1000))
		}
		if sandCounts(s) && sand > muchSandM {
			much = append(much, fmt.Sprintf("%s (%.3g mm)", t.ID, sand*1000))
		}
	}
	var out []string
	switch {
	case len(all) == 0:
	case len(s.Plates) == 0:
		out = append(out, fmt.Sprintf("%s sand over the plate (sand_over_plate_mm), but the season has no plate: the column is not used.", recorded(len(all))))
	case !sandCounts(s):
		out = append(out, fmt.Sprintf("%s sand over the plate (sand_over_plate_mm), but under the plate lies an insulating bottom, so that nothing says what the sand conducts: the sand is left out.", recorded(len(all))))
	}
	if len(much) > 0 {
		out = append(out, fmt.Sprintf("More than %g mm of sand over the plate: %s. It was taken as written; check that it is in millimetres, and that electrodes so deep still were what the animals met.", muchSandM*1000, listed(much)))
	}
	if len(against) > 0 {
		out = append(out, fmt.Sprintf("The study buries its plates by %.3g mm, but the sand over them was measured otherwise; the measured one was taken: %s.", -topOf(s)*1000, listed(against)))
	}
	if len(bare) > 0 {
		out = append(out, fmt.Sprintf("The study buries its plates by %.3g mm, and 0 mm of sand over them are recorded; the study's depth was kept: %s.", -topOf(s)*1000, listed(bare)))
	}
	if n := inSand(s); n > 0 {
		out = append(out, fmt.Sprintf("In %s a height is less than the sand over the plate: heights count from the plate's top, so the head would be in the sand. The field was taken there, in the sediment.", plural(n, "pass", "passes")))
	}
	return out
}

func recorded(n int) string {
	if n == 1 {
		return "1 trial records"
	}
	return fmt.Sprintf("%d trials record", n)
}

// inSand counts the passes with a measured height within the sand of their trial.
func inSand(s *study.Study) int {
	if !sandCounts(s) {
		return 0
	}
	n := 0
	for i := range s.Tracks {
		sand := s.Trials[s.Passes[s.Tracks[i].Pass].Trial].SandOverPlateM.Or(0)
		if sand > 0 && lowest(&s.Tracks[i]) < sand {
			n++
		}
	}
	return n
}

// lowest is the least measured height of a track, in metres; +Inf where none was.
func lowest(t *study.Track) float64 {
	least := math.Inf(1)
	for i := range t.Points {
		for k := range t.Points[i].Fixes {
			if h := t.Points[i].Fixes[k].HeightM; h.Known {
				least = math.Min(least, h.Value)
			}
		}
	}
	return least
}
