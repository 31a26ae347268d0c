package app_test

import (
	"errors"
	"testing"

	"brinefield/internal/app"
)

// A body of the water's own conductivity changes nothing; one that insulates does,
// there is no field in it, and the knobs' heights are of the season: over a plate
// that stands proud a body moved with the plate changes the same.
func TestStimulusBodies(t *testing.T) {
	long(t)
	k := openWater()
	k.Pairs[0].HeightM = 0.5
	body := app.KnobBody{Shape: "spheroid", CentreM: []float64{0.3, 0, 0.5}, SizeM: []float64{0.2, 0.1, 0.1}, YawDeg: 30, PitchDeg: 10, SPerM: number(4)}
	at := [][]float64{{0.15, 0.05, 0.55}, {0.3, 0, 0.6}}
	alone := fieldsAt(t, newStimulus(), k, "real", at...)
	k.Bodies = []app.KnobBody{body}
	for i, e := range fieldsAt(t, newStimulus(), k, "real", at...) {
		closeTo(t, "beside a body of water", e, alone[i], 2*digits)
	}
	k.Bodies[0].SPerM = number(0)
	s := newStimulus()
	beside := fieldsAt(t, s, k, "real", at...)
	if d := beside[1]/alone[1] - 1; d < 0.02 {
		t.Errorf("over an insulating body the field is %g of itself more; want more than 2 %%", d)
	}
	got, err := s.Points(t.Context(), app.PointsRequest{StimulusAsk: asked(k, "real"), PointsM: [][]float64{{0.3, 0, 0.5}}})
	if err != nil || got.Points[0].Inside != "body" || got.Points[0].MagnitudeNVPerCm != nil {
		t.Errorf("in a body: %+v, %v", got, err)
	}
	if s.Solved() != 1 {
		t.Errorf("solved %d times; want once", s.Solved())
	}
	k.Bodies[0].CentreM = []float64{0, 0, 0.5} // over the electrodes
	var fault *app.KnobsError
	if _, err := s.Points(t.Context(), app.PointsRequest{StimulusAsk: asked(k, "real"), PointsM: at}); !errors.As(err, &fault) {
		t.Errorf("a body over the electrodes: %v", err)
	}
}
