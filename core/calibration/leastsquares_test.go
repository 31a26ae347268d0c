package calibration_test

import (
	"fmt"
	"math"
	"testing"

	"brinefield/core/calibration"
	"brinefield/core/numeric/numtest"
)

// Certified values of NIST's reference sets for nonlinear regression (StRD):
// Misra1a (lower difficulty), DanWood (lower), Rat42 (higher), from both
// certified starts each. The standard deviation of Misra1a's b2 is
// 7.2668688436E-06; a copy that goes round has 1.2889360290E-05, which is wrong.
// Certified to 11 digits; the search stops at a step of 1e-11 and takes central
// differences, so 1e-8 of a parameter and 1e-6 of its standard deviation are
// asked for.
func TestNISTReferenceSets(t *testing.T) {
	for _, set := range []struct {
		name         string
		x, y         []float64
		f            func(b []float64, x float64) float64
		starts       [][]float64
		b, sd        []float64
		sumOfSquares float64
	}{
		{
			"Misra1a",
			[]float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0},
			[]float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78},
			func(b []float64, x float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) },
			[][]float64{{500, 1e-4}, {250, 5e-4}},
			[]float64{2.3894212918e+02, 5.5015643181e-04},
			[]float64{2.7070075241e+00, 7.2668688436e-06},
			1.2455138894e-01,
		},
		{
			"DanWood",
			[]float64{1.309, 1.471, 1.490, 1.565, 1.611, 1.680},
			[]float64{2.138, 3.421, 3.597, 4.340, 4.882, 5.660},
			func(b []float64, x float64) float64 { return b[0] * math.Pow(x, b[1]) },
			[][]float64{{1, 5}, {0.7, 4}},
			[]float64{7.6886226176e-01, 3.8604055871e+00},
			[]float64{1.8281973860e-02, 5.1726610913e-02},
			4.3173084083e-03,
		},
		{
			"Rat42",
			[]float64{9, 14, 21, 28, 42, 57, 63, 70, 79},
			[]float64{8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08},
			func(b []float64, x float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x)) },
			[][]float64{{100, 1, 0.1}, {75, 2.5, 0.07}},
			[]float64{7.2462237576e+01, 2.6180768402e+00, 6.7359200066e-02},
			[]float64{1.7340283401e+00, math.NaN(), 3.4465663377e-03},
			8.0565229338e+00,
		},
	} {
		for _, start := range set.starts {
			t.Run(fmt.Sprint(set.name, start), func(t *testing.T) {
				got, err := calibration.LeastSquares(len(set.x), func(dst, b []float64) {
					for i, x := range set.x {
						dst[i] = set.y[i] - set.f(b, x)
					}
				}, start, start)
				if err != nil {
					t.Fatal(err)
				}
				covariance, ok := got.Covariance()
				if !ok {
					t.Fatal("no covariance")
				}
				numtest.Check(t, "sum of squares", got.SumOfSquares, set.sumOfSquares, numtest.Tolerance{Rel: 1e-9})
				variance := got.SumOfSquares / float64(len(set.x)-len(start))
				for i, b := range set.b {
					numtest.Check(t, fmt.Sprintf("b%d", i+1), got.X[i], b, numtest.Tolerance{Rel: 1e-8})
					if !math.IsNaN(set.sd[i]) {
						numtest.Check(t, fmt.Sprintf("sd of b%d", i+1), math.Sqrt(variance*covariance.At(i, i)), set.sd[i], numtest.Tolerance{Rel: 1e-6})
					}
				}
			})
		}
	}
}

// A start outside the function's domain is an error, and no endless search.
func TestLeastSquaresRefusesWhatIsNoNumber(t *testing.T) {
	_, err := calibration.LeastSquares(2, func(dst, x []float64) { dst[0], dst[1] = math.NaN(), x[0] }, []float64{1}, []float64{1})
	if err == nil {
		t.Error("no error for residuals that are not numbers")
	}
}
