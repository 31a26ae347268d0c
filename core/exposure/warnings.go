package exposure

import (
	"fmt"

	"brinefield/core/study"
)

// seasonWarnings says what is to be known of the passes as a whole.
func seasonWarnings(s *study.Study, all []Exposure) []string {
	var elsewhere, lost, old []string
	for i := range all {
		e, p := &all[i], &s.Passes[i]
		if e.ComputedPair.Known && e.ComputedPair.Value != p.Pair {
			elsewhere = append(elsewhere, fmt.Sprintf("%s (recorded %s, track %s)", p.ID, s.Pairs[p.Pair].Label, s.Pairs[e.ComputedPair.Value].Label))
		}
		if !e.Known && e.Role != study.RoleSealed {
			lost = append(lost, p.ID)
		}
		if e.Exact {
			old = append(old, p.ID)
		}
	}
	var out []string
	if len(elsewhere) > 0 {
		out = append(out, fmt.Sprintf("In %s the track entered the circle of another pair first; the recorded pair was kept: %s.",
			plural(len(elsewhere), "pass", "passes"), listed(elsewhere)))
	}
	if len(lost) > 0 {
		out = append(out, fmt.Sprintf("The field of %s could not be worked out, and the estimates leave them out: %s.",
			plural(len(lost), "pass", "passes"), listed(lost)))
	}
	if len(old) > 0 {
		out = append(out, fmt.Sprintf("%s without a track: the field at the onset is taken as the threshold itself, as was asked for. This is an assumption, not a measurement.",
			plural(len(old), "turn", "turns")))
	}
	return out
}
