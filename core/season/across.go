package season

import (
	"math"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// timeTolerance is how closely times of tracks are compared, in seconds.
const timeTolerance = 1e-9

// checkAcross looks for what two files say together: onsets outside their
// tracks, positions of old data without a height, and the point of
// `field_at`.
func (r *reader) checkAcross() {
	if r.stopped {
		return
	}
	r.checkFieldAt()
	if r.passTable == nil {
		return
	}
	tracked := make([]*study.Track, len(r.study.Passes))
	for i := range r.study.Tracks {
		tracked[r.study.Tracks[i].Pass] = &r.study.Tracks[i]
	}
	for i := range r.study.Passes {
		if tracked[i] != nil {
			r.checkOnset(&r.study.Passes[i], tracked[i])
		}
	}
	for _, i := range r.unheighted {
		if tracked[i] == nil && r.rangeMissing() {
			column := oldHeightColumn(&r.study.Passes[i])
			r.passFault(&r.study.Passes[i], column, "", "the height is unknown, and nothing says between which bounds",
				"expected "+passColumns[column].name+", or height_range_cm under [analysis]")
		}
	}
}

// passFault tells a fault of a pass that was read before.
func (r *reader) passFault(p *study.Pass, column int, found, wrong, expected string) {
	t := r.passTable
	position := t.at[column]
	if position < 0 {
		position = len(t.heads) + column
	}
	r.faults.add(position, Fault{File: PassesFile, Row: p.Row, Column: passColumns[column].name, Found: found, Wrong: wrong, Expected: expected})
}

func (r *reader) checkOnset(p *study.Pass, track *study.Track) {
	first, last := trackSpan(track)
	if !p.OnsetS.Known || first > last || p.OnsetS.Value >= first-timeTolerance && p.OnsetS.Value <= last+timeTolerance {
		return
	}
	onset := quantity.Second.Format(p.OnsetS.Value)
	r.passFault(p, passOnset, onset, "the onset at "+onset+" s is outside the pass's track",
		"expected a time from "+quantity.Second.Format(first)+" to "+quantity.Second.Format(last)+" s, where tracks.csv has rows")
}

// trackSpan is the first and the last time of a track, over its points.
func trackSpan(track *study.Track) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, p := range track.Points {
		if n := len(p.Fixes); n > 0 {
			first, last = min(first, p.Fixes[0].TimeS), max(last, p.Fixes[n-1].TimeS)
		}
	}
	return first, last
}

// checkFieldAt holds the point that study.toml names against the tracks.
func (r *reader) checkFieldAt() {
	name := r.study.Analysis.FieldAt
	if name == "" || name == "largest" || !r.tracksRead || len(r.study.Tracks) == 0 {
		return
	}
	var names []string
	seen := map[string]bool{}
	for _, track := range r.study.Tracks {
		for _, p := range track.Points {
			if p.Name != "" && !seen[p.Name] {
				seen[p.Name] = true
				names = append(names, p.Name)
			}
		}
	}
	if seen[name] {
		return
	}
	expected := `expected "largest" or a point of tracks.csv`
	if len(names) > 0 {
		expected += " (" + strings.Join(names[:min(len(names), 8)], ", ") + ")"
	}
	r.faults.add(0, Fault{
		File: StudyFile, Row: r.fieldAtLine, Column: "field_at", Found: name,
		Wrong: quoted(name) + " is no point of tracks.csv", Expected: didYouMean(expected, nearest(name, append([]string{"largest"}, names...))),
	})
}
