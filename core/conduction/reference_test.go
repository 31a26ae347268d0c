package conduction

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"brinefield/core/numeric/numtest"
)

// refCase is a case of testdata/check/field_layered.json (source named there).
type refCase struct {
	Case   string
	Params struct {
		SigmaW float64  `json:"sigma_w"`
		SigmaS *float64 `json:"sigma_s"`
		SigmaB float64  `json:"sigma_b"`
		Z0     float64  `json:"z0"`
		D, I   float64
		H, T   float64
		A      float64
	}
	Points []struct{ X, Y, Z, Phi, Ex, Ey, Ez float64 }
}

func referenceCases(t testing.TB) []refCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/check/field_layered.json")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct{ Cases []refCase }
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	return doc.Cases
}

func (c refCase) solve(t testing.TB) *Solution {
	t.Helper()
	p := c.Params
	m := Medium{WaterSPerM: p.SigmaW, DepthM: math.Inf(1)}
	if p.H > 0 {
		m.DepthM = p.H
	}
	switch c.Case[:2] {
	case "A1":
		m.WaterBelow = true
	case "A3", "A4":
		if p.SigmaS != nil {
			m.Layers = []Layer{{math.Inf(1), *p.SigmaS}}
		}
	case "A5":
		m.Layers = []Layer{{p.T, *p.SigmaS}, {math.Inf(1), p.SigmaB}}
	}
	electrodes := []Electrode{{At: Point{p.D / 2, 0, p.Z0}, CurrentA: p.I, DiameterM: 2 * p.A}}
	if p.D > 0 {
		electrodes = Pair{Centre: Point{Z: p.Z0}, SeparationM: p.D, DiameterM: 2 * p.A}.Electrodes(p.I)
	}
	s, err := Solve(m, electrodes, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Source: testdata/check/field_layered.json, cases A1 to A6; their two
// methods agree to 4e-13.
func TestReferenceCases(t *testing.T) {
	for _, c := range referenceCases(t) {
		t.Run(c.Case, func(t *testing.T) {
			s := c.solve(t)
			worst := 0.0
			for _, q := range c.Points {
				p := Point{q.X, q.Y, q.Z}
				e, err := s.FieldAt(p)
				if err != nil {
					t.Fatal(err)
				}
				phi, err := s.PotentialAt(p)
				if err != nil {
					t.Fatal(err)
				}
				want := Vector{q.Ex, q.Ey, q.Ez}
				diff := e.Add(want.Scale(-1)).Norm() / want.Norm()
				worst = math.Max(worst, diff)
				numtest.Check(t, "|δE|/|E|", diff, 0, numtest.Tolerance{Abs: 1e-9})
				numtest.Check(t, "potential", phi, q.Phi, numtest.Tolerance{Rel: 1e-9, Abs: 1e-9 * want.Norm() * 0.01})
			}
			t.Logf("%s: largest |δE|/|E| %.2g (own estimate %.2g)", s.Method(), worst, s.RelativeError())
		})
	}
}
