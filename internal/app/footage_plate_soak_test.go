//go:build soak

package app_test

import (
	"math"
	"testing"

	"brinefield/internal/app"
)

// On a plate the field along the track is the one that the whole season's analysis
// draws, to the 0.001 of itself to which plates are solved (twice, for two
// solutions whose error is judged at other places).
func TestFieldAlongFixesOnAPlate(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	plate := "[[plate]]\nshape = \"rectangle\"\nsize_m = [1.3, 0.9]\nthickness_m = 0.01\ntop_above_bottom_m = 0.01\n\n[[species]]\n"
	importInto(t, s, shelf, "bay", with(t, smallSeason(), "study.toml", "[[species]]\n", plate), app.ImportRequest{})
	b, m := openStudy(t, s, "bay"), shelf.studies["bay"]
	posedBay(t, b, m)
	in := p1(t, b, straightDown)
	in.Save, in.Replace = true, true
	v, err := b.FootageFixes(t.Context(), in)
	for err == nil && v.FieldPending {
		if v.TrackWhy == "" || len(v.Track) != 31 || v.Fixes[0].XCm == nil {
			t.Fatalf("while the field is worked out: %q, %d points", v.TrackWhy, len(v.Track))
		}
		v, err = b.FootagePass(t.Context(), "P1")
	}
	if err != nil || v.TrackWhy != "" {
		t.Fatal(v.TrackWhy, err)
	}
	row, high := analysed(t, withoutFootage(exported(t, b)), "P1"), 0.0
	const until = 1 - 0.08 // the turn less the reaction time; the field rises up to it
	for i := 1; i < len(v.Track); i++ {
		if p, q := v.Track[i-1], v.Track[i]; p.TimeS <= until && q.TimeS > until {
			high = *p.Field + (until-p.TimeS)/(q.TimeS-p.TimeS)*(*q.Field-*p.Field)
		}
	}
	if row.FieldHigh == nil || math.Abs(high / *row.FieldHigh - 1) > 0.003 {
		t.Errorf("largest field up to the turn %v nV/cm along the fixes, %v in Exposures", high, deref(row.FieldHigh))
	}
}
