package conduction

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// volumes solves ∇·(σ∇φ) = −I δ on rings of square cross-section, n to a radius of 0.5 m and
// 1.6n to the height: the currents through their faces sum to what is put in. It knows
// nothing of series. sigma is by the height of a ring's middle; in are the currents of cells
// on the axis.
func volumes(n int, sigma func(z float64) float64, in map[int]float64) func(rho, z float64) float64 {
	rows := 8 * n / 5
	h := 0.5 / float64(n)
	phi := make([]float64, n*rows)
	s := make([]float64, rows)
	for k := range s {
		s[k] = sigma((float64(k) + 0.5) * h)
	}
	relax := 2 / (1 + 2/float64(rows))
	for range 30 * rows {
		for k := range rows {
			for i := range n {
				var sum, weight float64
				add := func(c int, w float64) { sum, weight = sum+w*phi[c], weight+w }
				inner, outer := 2*math.Pi*float64(i)*h*h, 2*math.Pi*float64(i+1)*h*h
				if i > 0 {
					add(k*n+i-1, s[k]*inner/h)
				}
				if i+1 < n {
					add(k*n+i+1, s[k]*outer/h)
				}
				flat := math.Pi * h * h * float64(2*i+1)
				if k > 0 {
					add((k-1)*n+i, flat/h*2*s[k]*s[k-1]/(s[k]+s[k-1]))
				}
				if k+1 < rows {
					add((k+1)*n+i, flat/h*2*s[k]*s[k+1]/(s[k]+s[k+1]))
				}
				if i == 0 {
					sum += in[k]
				}
				c := k*n + i
				phi[c] += relax * (sum/weight - phi[c])
			}
		}
	}
	return func(rho, z float64) float64 { // between the four middles
		x, y := rho/h-0.5, z/h-0.5
		i, k := int(x), int(y)
		u, v := x-float64(i), y-float64(k)
		at := func(i, k int) float64 { return phi[k*n+i] }
		return (1-v)*((1-u)*at(i, k)+u*at(i+1, k)) + v*((1-u)*at(i, k+1)+u*at(i+1, k+1))
	}
}

// Electrodes on the axis of a round tank with water over sand, against finite volumes on two
// grids, of which the finer is a quarter as wrong. Closeness: what the grids leave.
func TestRoundTankAgainstFiniteVolumes(t *testing.T) {
	const water, sand, depth = 4.0, 0.8, 0.5 // 0.3 m of sand under 0.5 m of water
	m := Medium{WaterSPerM: water, DepthM: depth, Layers: []Layer{{0.3, sand}, {math.Inf(1), 0}}, Enclosure: &Enclosure{DiameterM: 1}}
	sigma := func(z float64) float64 {
		if z < 0.3 {
			return sand
		}
		return water
	}
	// Cells of 1/40 and 1/80 m: an electrode in the middle of a cell of the coarse grid lies
	// between two of the fine one.
	low, high := 0.4125, 0.7125 // over the floor
	coarse := volumes(20, sigma, map[int]float64{16: 1, 28: -1})
	fine := volumes(40, sigma, map[int]float64{32: 0.5, 33: 0.5, 56: -0.5, 57: -0.5})
	s := mustSolve(t, m, Electrode{At: Point{Z: low - 0.3}, CurrentA: 1}, Electrode{At: Point{Z: high - 0.3}, CurrentA: -1})
	phi := func(rho, z float64) float64 {
		v, err := s.PotentialAt(Point{rho, 0, z - 0.3})
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	between := [][4]float64{{0.3, 0.15, 0.3, 0.7}, {0.45, 0.45, 0.45, 0.65}, {0.2, 0.1, 0.45, 0.1}, {0.25, 0.4, 0.45, 0.75}}
	for _, c := range between {
		a, b := coarse(c[0], c[1])-coarse(c[2], c[3]), fine(c[0], c[1])-fine(c[2], c[3])
		numtest.Check(t, "voltage", phi(c[0], c[1])-phi(c[2], c[3]), b+(b-a)/3, numtest.Tolerance{Rel: 4e-3})
	}
}
