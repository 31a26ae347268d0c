package app_test

import (
	"testing"
	"time"

	"brinefield/internal/app"
)

// benchKnobs is a pair of 1 cm on a flush square plate of 0.6 m, in the water
// and over the sediment of the worked examples of the plates.
func benchKnobs(plate bool) app.StimulusKnobs {
	k := app.StimulusKnobs{
		Water: app.KnobWater{ConductivitySPerM: number(4)}, DepthM: number(8),
		Bottom:    app.KnobBottom{Kind: "sediment", ConductivitySPerM: number(1)},
		CurrentUA: 6, ElectrodeShape: "disc", Waveform: app.KnobWaveform{Kind: "direct"},
		Pairs: []app.KnobPair{{Label: "A", CentreM: []float64{0, 0}, SeparationM: 0.01, ElectrodeDiameterM: 0.002, Share: 1}},
	}
	if plate {
		k.Plates = []app.KnobPlate{{Shape: "rectangle", SizeM: []float64{0.6, 0.6}, ThicknessM: 0.01, CentreM: []float64{0, 0}}}
	}
	return k
}

func number(v float64) *float64 { return &v }

func benchSection() app.SectionPlane {
	return app.SectionPlane{Plane: "vertical", HalfWidthM: 0.6, HighestM: 0.6, Columns: 200, Rows: 120}
}

// BenchmarkStimulus measures the pictures of the page Stimulus: "first" with
// nothing kept, "turned" with the current and the plane turned.
func BenchmarkStimulus(b *testing.B) {
	for _, k := range []struct {
		name, form string
		plate      bool
		kept       bool
	}{
		{"layers/first", "no_plate", false, false},
		{"layers/turned", "no_plate", false, true},
		{"endless/first", "endless_plate", true, false},
		{"plate/first", "real", true, false},
		{"plate/turned", "real", true, true},
	} {
		b.Run(k.name, func(b *testing.B) {
			stimulus := app.NewStimulus(time.Now)
			in := app.SectionRequest{StimulusAsk: app.StimulusAsk{Knobs: benchKnobs(k.plate), Form: k.form}, Section: benchSection()}
			if k.kept {
				if _, err := stimulus.Section(b.Context(), in); err != nil {
					b.Fatal(err)
				}
			}
			for b.Loop() {
				if !k.kept {
					stimulus = app.NewStimulus(time.Now)
				}
				in.Knobs.CurrentUA++
				in.Section.AzimuthDeg += 10
				if _, err := stimulus.Section(b.Context(), in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
