package app

import (
	"testing"

	"brinefield/core/journal"
	"brinefield/core/study"
)

func TestSizesOfAnAnimal(t *testing.T) {
	animal := func(fields map[string]string) *journal.State {
		return &journal.State{Record: study.Record{Kind: study.KindIndividual, Fields: fields}}
	}
	known := animal(map[string]string{"head_width_cm": "5.5", "total_length_cm": "42"})
	for _, c := range []struct {
		name          string
		pass          map[string]string
		individual    *journal.State
		width, length float64 // 0: none
	}{
		{"nobody", nil, nil, 0, 0},
		{"its individual", nil, known, 5.5, 42},
		{"measured on the day", map[string]string{"total_length_cm": "44"}, known, 5.5, 44},
		{"no length", map[string]string{"total_length_cm": "-1"}, animal(map[string]string{"head_width_cm": "wide"}), 0, 0},
	} {
		var p FootagePass
		p.sizes(c.pass, c.individual)
		if got := statedOr(p.HeadWidthCm, 0); got != c.width {
			t.Errorf("%s: head %g cm wide, want %g", c.name, got, c.width)
		}
		if got := statedOr(p.TotalLengthCm, 0); got != c.length {
			t.Errorf("%s: %g cm long, want %g", c.name, got, c.length)
		}
	}
}
