package reach_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/core/reach"
)

// The flounder's line (Oceanus 20:45–52, 1977, by a textbook's companion page): 3e-7 A·m
// in 0.23 Ω·m and 2e-5 V/m at 10 cm in front. Worked by hand p·ρ/(πr³) = 2.1963e-5 over an
// insulating bottom, which is that figure to its one digit, and half of it, 1.0982e-5, without a bottom,
// which is not.
func TestFlounder(t *testing.T) {
	f, err := reach.FindPrey("Flounder")
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "moment", f.DipoleMomentAM, 3e-7, numtest.Tolerance{})
	numtest.Check(t, "field", f.FieldVPerM, 2e-5, numtest.Tolerance{})
	over, err := reach.DipoleField(f.DipoleMomentAM, f.WaterSPerM, 0, f.AtM, 0)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "over an insulating bottom", over, 2.1963e-5, numtest.Tolerance{Rel: 3e-5})
	free, err := reach.DipoleField(f.DipoleMomentAM, f.WaterSPerM, f.WaterSPerM, f.AtM, 0)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "in open water", free, 1.0982e-5, numtest.Tolerance{Rel: 5e-5})
	if math.Round(over*1e5) != 2 || math.Round(free*1e5) == 2 {
		t.Errorf("to one digit %.1g and %.1g V/m; expected the source's 2e-5 over a bottom alone", over, free)
	}
	// Back: the field as quoted gives the moment to the same digit.
	p, err := reach.DipoleMoment(f.FieldVPerM, f.WaterSPerM, 0, f.AtM, 0)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "moment of the quoted field", p, 2.7318e-7, numtest.Tolerance{Rel: 2e-5})
	// The dogfish's line of the same source: 4e-7 A·m at 0.4 m makes 4.5757e-7 V/m.
	dogfish, err := reach.DipoleField(4e-7, 1/0.23, 0, 0.4, 0)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "8 µA × 5 cm", dogfish, 4.5757e-7, numtest.Tolerance{Rel: 2e-5})
}

// A dipole of two close electrodes, by another package: in open water, over an
// insulator and on sediment.
func TestDipoleFieldIsThatOfAShortPair(t *testing.T) {
	const length, moment = 1e-4, 3e-7
	inf := math.Inf(1)
	for _, below := range []float64{0, 1.2, 4.3} {
		m := conduction.Medium{WaterSPerM: 4.3, DepthM: inf, Layers: []conduction.Layer{{ThicknessM: inf, SPerM: below}}}
		s, err := conduction.Solve(m, conduction.Pair{SeparationM: length}.Electrodes(moment/length), conduction.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, angle := range []float64{0, 30, 60, 90, 200, -45} {
			sin, cos := math.Sincos(angle * math.Pi / 180)
			e, err := s.FieldAt(conduction.Point{X: 0.2 * cos, Y: 0.2 * sin})
			if err != nil {
				t.Fatal(err)
			}
			got, err := reach.DipoleField(moment, 4.3, below, 0.2, angle)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "field", got, e.Norm(), numtest.Tolerance{Rel: 1e-6}) // (length/r)² = 2.5e-7
			back, err := reach.DipoleMoment(got, 4.3, below, 0.2, angle)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "moment", back, moment, numtest.Tolerance{Rel: 1e-14})
		}
	}
}

// Every entry says where it comes from and how it is known, and gives at least one figure; nothing
// but the flounder has a moment or a field in the sources.
func TestPreysAreCited(t *testing.T) {
	names := map[string]bool{}
	for _, p := range reach.Preys() {
		if p.Name == "" || names[p.Name] || p.Source == "" || p.How == "" || p.Note == "" {
			t.Errorf("incomplete or doubled: %+v", p)
		}
		names[p.Name] = true
		cited := p.Cited()
		if !strings.Contains(cited, p.Source) || !strings.Contains(cited, "from memory") && !strings.Contains(cited, "as seen") {
			t.Errorf("%s: %q does not say how it is known", p.Name, cited)
		}
		if !p.Seen && !strings.Contains(cited, "from memory") {
			t.Errorf("%s was not seen, but %q does not say that it is from memory", p.Name, cited)
		}
		if p.DipoleMomentAM == 0 && p.VoltageV == [2]float64{} && len(p.ModulationHz) == 0 {
			t.Errorf("%s: no figure", p.Name)
		}
		if p.VoltageV[0] > p.VoltageV[1] || p.VoltageV[1] > 1e-3 || len(p.ModulationHz) == 2 && (p.ModulationHz[0] > p.ModulationHz[1] || p.ModulationHz[1] >= 16) {
			t.Errorf("%s: %v V, %v Hz; expected low before high, below 1 mV and 16 Hz", p.Name, p.VoltageV, p.ModulationHz)
		}
		if (p.DipoleMomentAM != 0 || p.FieldVPerM != 0) && p.Name != "flounder" {
			t.Errorf("%s: a moment or a field that no source gives", p.Name)
		}
		found, err := reach.FindPrey(" " + strings.ToUpper(p.Name))
		if err != nil || found.Name != p.Name {
			t.Errorf("%s: found %q, %v", p.Name, found.Name, err)
		}
	}
	// The list is the caller's own.
	reach.Preys()[0].DipoleMomentAM = 1
	if reach.Preys()[0].DipoleMomentAM != 3e-7 {
		t.Error("the list was changed from outside")
	}
	if _, err := reach.FindPrey("herring"); !errors.Is(err, reach.ErrSearch) || !strings.Contains(err.Error(), `"herring"`) || !strings.Contains(err.Error(), "flounder") {
		t.Errorf("unknown prey: %v", err)
	}
}

func TestBadDipoles(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name                            string
		moment, water, below, at, angle float64
		says                            string
	}{
		{"no water", 1, 0, 0, 1, 0, "water of 0 S/m"},
		{"NaN water", 1, nan, 0, 1, 0, "water of NaN"},
		{"negative bottom", 1, 4, -1, 1, 0, "-1 S/m below"},
		{"endless bottom", 1, 4, inf, 1, 0, "+Inf S/m below"},
		{"at the dipole", 1, 4, 0, 0, 0, "0 m"},
		{"too near", 1, 4, 0, 1e-200, 0, "too large"},
		{"too far", 1, 4, 0, 1e200, 0, "too small"},
		{"NaN angle", 1, 4, 0, 1, nan, "NaN degrees"},
		{"NaN moment", nan, 4, 0, 1, 0, "of NaN"},
		{"endless moment", inf, 4, 0, 1, 0, "of +Inf"},
	} {
		_, err := reach.DipoleField(c.moment, c.water, c.below, c.at, c.angle)
		_, back := reach.DipoleMoment(c.moment, c.water, c.below, c.at, c.angle)
		for _, err := range []error{err, back} {
			if !errors.Is(err, reach.ErrSearch) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v; expected %q", c.name, err, c.says)
			}
		}
	}
}
