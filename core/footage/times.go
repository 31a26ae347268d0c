// Package footage is what a frame of a clip is in time and what was measured in
// it: the times of its frames, the clip's clock against the trial's, the fixes
// that people place, and the track that they make.
package footage

// Times are the presentation times of every frame of one file, in its own units.
type Times struct {
	TimeBase [2]int64 // seconds per unit, as a fraction
	PTS      []int64  // increasing
}
