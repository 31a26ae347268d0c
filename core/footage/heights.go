package footage

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"brinefield/core/optics"
)

// Where the heights of a pass come from, where a fix states none of its own.
const (
	ByClass  = "class"       // in the study's words, as an eye tells it
	ByLimits = "limits"      // stated in centimetres
	ByWidth  = "head width"  // from both edges of the head in one frame
	ByLength = "body length" // from snout and tail in one frame
)

// Heights says where the heights of a pass come from.
type Heights struct {
	How                 string
	LowM, HighM         float64 // of a class and of limits
	LengthM, LengthSDM  float64 // of head or body
	limitsKnown, length bool
}

// StatedHeights are limits, of a class or by themselves, metres over z = 0.
func StatedHeights(how string, lowM, highM float64) Heights {
	return Heights{How: how, LowM: lowM, HighM: highM, limitsKnown: true}
}

// MeasuredHeights are told by a length of the animal, metres, with its standard
// deviation.
func MeasuredHeights(how string, lengthM, sdM float64) Heights {
	return Heights{How: how, LengthM: lengthM, LengthSDM: sdM, length: true}
}

// Height is how high a fix is, metres over z = 0.
type Height struct {
	M, SDM      float64
	LowM, HighM float64
	Measured    bool // M is an estimate of its own, and not the middle of limits
	Why         string
}

// limits: anywhere between them alike, hence the standard deviation of an even
// distribution, (high − low)/√12.
func limits(lowM, highM float64) Height {
	return Height{M: (lowM + highM) / 2, SDM: (highM - lowM) / math.Sqrt(12), LowM: lowM, HighM: highM}
}

// measuredHeight of two points in one frame: limits are two standard deviations
// away, and nothing is below 0.
func measuredHeight(m, sd float64) Height {
	return Height{M: math.Max(m, 0), SDM: sd, LowM: math.Max(m-2*sd, 0), HighM: math.Max(m+2*sd, 0), Measured: true}
}

// heightAt is a height that was measured in one frame.
type heightAt struct {
	clipS float64
	m, sd float64
}

// ends are the two points that a length of the animal lies between.
func (h Heights) ends() (a, b, length string) {
	if h.How == ByLength {
		return Snout, Tail, "body length"
	}
	return HeadLeft, HeadRight, "head width"
}

// measureHeights works out the height in every frame that shows both ends of a
// length. why is empty where there is one at least.
func measureHeights(fixes []Fix, where []Where, poseOf func(frame int) *optics.Posed, h Heights) (list []heightAt, why string) {
	a, b, length := h.ends()
	type both struct {
		at   [2]int
		seen [2]bool
	}
	frames := map[int]*both{}
	for i := range fixes {
		for k, point := range [2]string{a, b} {
			if fixes[i].Point == point && where[i].OK {
				if frames[fixes[i].Frame] == nil {
					frames[fixes[i].Frame] = &both{}
				}
				frames[fixes[i].Frame].at[k], frames[fixes[i].Frame].seen[k] = i, true
			}
		}
	}
	said := ""
	for _, frame := range slices.Sorted(maps.Keys(frames)) {
		f := frames[frame]
		if !f.seen[0] || !f.seen[1] {
			continue
		}
		posed := poseOf(frame)
		if posed == nil {
			continue
		}
		clicked := *posed
		clicked.ClickSDPx = math.Hypot(where[f.at[0]].SDPx, where[f.at[1]].SDPx) / math.Sqrt2
		m, sd, err := clicked.HeightOf(where[f.at[0]].Pixel, where[f.at[1]].Pixel, h.LengthM, h.LengthSDM)
		switch {
		case err != nil:
			said = fmt.Sprintf("in frame %d the %s gives no height: %s", frame, length, err)
		case finite(m) && finite(sd):
			list = append(list, heightAt{fixes[f.at[0]].ClipS, m, sd})
		}
	}
	slices.SortFunc(list, func(a, b heightAt) int { return compare(a.clipS, b.clipS) })
	switch {
	case len(list) > 0:
		return list, ""
	case said != "":
		return nil, said
	}
	return nil, fmt.Sprintf("the height is to come from the %s, and no frame that has a pose shows both the %s and the %s", length, a, b)
}

// heightBetween is the height at a moment: between frames where it was measured
// in a straight line, its standard deviation too; before and after it is held.
func heightBetween(list []heightAt, clipS float64) Height {
	i, exact := slices.BinarySearchFunc(list, clipS, func(h heightAt, t float64) int { return compare(h.clipS, t) })
	switch {
	case exact || i == 0:
		return measuredHeight(list[i].m, list[i].sd)
	case i == len(list):
		return measuredHeight(list[i-1].m, list[i-1].sd)
	}
	a, b := list[i-1], list[i]
	u := (clipS - a.clipS) / (b.clipS - a.clipS)
	return measuredHeight(a.m+u*(b.m-a.m), a.sd+u*(b.sd-a.sd))
}
