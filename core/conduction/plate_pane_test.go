package conduction

import (
	"fmt"
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// A row of a board's matrix out of corners is what its facets make one by one:
// by solid angles of two triangles each, and by Biot and Savart's law round the
// edge. Source: [facet], whose own formulas those are. 1e-9 of the row's largest.
func TestRowsOutOfCornersAreThoseOfFacets(t *testing.T) {
	for name, c := range map[string]struct {
		plate Plate
		depth float64
	}{
		"flush":              {Plate{SizeXM: 0.6, SizeYM: 0.4, ThicknessM: 0.01}, 0.5},
		"proud, turned":      {Plate{SizeXM: 0.5, SizeYM: 0.3, ThicknessM: 0.03, TopM: 0.03, YawDeg: 31, CentreXM: 0.2}, 0.4},
		"across the bottom":  {Plate{SizeXM: 0.4, SizeYM: 0.4, ThicknessM: 0.02, TopM: 0.01}, 2},
		"buried":             {Plate{SizeXM: 0.4, SizeYM: 0.5, ThicknessM: 0.01, TopM: -0.03, YawDeg: -70}, 1},
		"a sheet, flush":     {Plate{SizeXM: 0.4, SizeYM: 0.5}, 1},
		"a sheet, standing":  {Plate{SizeXM: 0.4, SizeYM: 0.5, TopM: 0.05, YawDeg: 10}, 0.3},
		"thick, on the side": {Plate{SizeXM: 0.2, SizeYM: 0.7, ThicknessM: 0.1, TopM: 0.1}, 3},
	} {
		st := newStack(Medium{WaterSPerM: 5, DepthM: c.depth, Layers: []Layer{{0.3, 1.2}, {math.Inf(1), 0.02}}})
		near := newEchoes(st, c.plate.TopM-c.plate.ThicknessM, c.plate.TopM, 1)
		for _, x0 := range []float64{0, 0.3} { // with the plate's symmetry and without
			gx, gy := newGrade(6, c.plate.ThicknessM == 0, x0, 0.3), newGrade(8, c.plate.ThicknessM == 0, 0, 0)
			b := newBoard(st, c.plate, false, gx, gy, 3, near, 0)
			for n := range b.asks {
				row := b.row(n)
				largest, worst := 0.0, 0.0
				for k := range b.facets {
					want := near.asked(&b.asks[n], &b.facets[k], k == n)
					largest, worst = math.Max(largest, math.Abs(want)), math.Max(worst, math.Abs(row[k]-want))
				}
				numtest.Check(t, fmt.Sprintf("%s, crowd at %g, probe %d", name, x0, n), worst/largest, 0, numtest.Tolerance{Abs: 1e-9})
			}
		}
	}
}

// The shares of all levels of a face add up to one at every place, however many
// levels there are.
func TestSharesOfLevelsAddUpToOne(t *testing.T) {
	x := make([]float64, 200)
	for i := range x {
		x[i] = float64(i) * 0.1
	}
	const at, h, levels = 9.7, 1.3, 4
	for i := range x {
		sum := 0.0
		for k := range levels {
			mine, next := 1.0, 0.0
			if k > 0 {
				s := newShares(x, at, math.Ldexp(h, 1-k))
				mine = s.at(i)
			}
			if k < levels-1 {
				s := newShares(x, at, math.Ldexp(h, -k))
				next = s.at(i)
			}
			if next > mine {
				t.Errorf("at %g level %d has less than the one inside it: %g, %g", x[i], k, mine, next)
			}
			sum += mine - next
		}
		numtest.Check(t, fmt.Sprint("shares at ", x[i]), sum, 1, numtest.Tolerance{Abs: 1e-15})
	}
}
