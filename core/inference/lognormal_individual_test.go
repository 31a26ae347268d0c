package inference

import (
	"math"
	"slices"
	"testing"

	"brinefield/core/numeric/numtest"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// Estimates to 1e-4 of a standard error is what the reference allows; they are
// held to 1e-6 here. Source: testdata/check/stats, adaptive quadrature with 51
// nodes in R, witnessed by integrate().
func checkIndividual(t *testing.T, fit LognormalIndividualFit, want reference) {
	t.Helper()
	numtest.Check(t, "mu", fit.Mu, want.number(t, "coef", "(Intercept)"), numtest.Tolerance{Abs: 1e-6})
	numtest.Check(t, "sigma within", fit.SigmaWithin, want.number(t, "sigma_within"), numtest.Tolerance{Rel: 1e-6})
	numtest.Check(t, "sigma individual", fit.SigmaIndividual, want.number(t, "tau_between"), numtest.Tolerance{Rel: 1e-6})
}

func TestLognormalIndividualProjectShape(t *testing.T) {
	p1 := readReference(t, "stats/p1_two_species.json")
	cases := []struct {
		name string
		rows []Interval
		want reference
	}{
		{"both species", readPasses(t, "stats/p1_two_species.csv", nil), p1.at(t, "threshold_lognormal_all")},
		{"A alone", readPasses(t, "stats/p1_two_species.csv", ofValue("species", "sp_A")), p1.at(t, "threshold_lognormal_each_species_alone", "sp_A")},
		{"B alone", readPasses(t, "stats/p1_two_species.csv", ofValue("species", "sp_B")), p1.at(t, "threshold_lognormal_each_species_alone", "sp_B")},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			fit, err := LognormalIndividual(c.rows)
			if err != nil {
				t.Fatal(err)
			}
			want := c.want.at(t, "random_intercept", "nodes_51")
			checkIndividual(t, fit, want)
			numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "logLik_T"), numtest.Tolerance{Abs: 1e-8})
			numtest.Check(t, "se", fit.SEMu, want.number(t, "se_coef", "(Intercept)"), numtest.Tolerance{Rel: 1e-6})
			ci := c.want.numbers(t, "median_random_intercept", "all", "ci95")
			numtest.Check(t, "ci low", fit.CI.Low, ci[0], numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "ci high", fit.CI.High, ci[1], numtest.Tolerance{Rel: 1e-6})
			if len(fit.Boundary) > 0 {
				t.Errorf("boundary %v", fit.Boundary)
			}
		})
	}
}

// The small invented set has its maximum at no spread between individuals
// (score there −2.28): the estimates are those of the plain model.
func TestLognormalIndividualBoundary(t *testing.T) {
	rows := readPasses(t, "stats/p2_small.csv", nil)
	fit, err := LognormalIndividual(rows)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := Lognormal(rows)
	if err != nil {
		t.Fatal(err)
	}
	if fit.SigmaIndividual != 0 || len(fit.Boundary) != 1 || fit.Boundary[0] != "sigma_individual" {
		t.Errorf("sigma individual %g, boundary %v", fit.SigmaIndividual, fit.Boundary)
	}
	if fit.Mu != plain.Mu || fit.SigmaWithin != plain.Sigma || fit.LogLikelihood != plain.LogLikelihood || fit.SEMu != plain.SEModel {
		t.Errorf("%+v is not the plain fit %+v", fit, plain)
	}
}

// Sets with a covariate, its effect taken out of the fields (see
// TestLognormalWithKnownEffect).
func TestLognormalIndividualWithKnownEffect(t *testing.T) {
	h := readReference(t, "stats/h_lnre.json")
	kidney := h.at(t, "kidney", "random_intercept_nodes_51")
	rows, jacobian := withoutEffect(t, "c_kidney", "female", "id", kidney.number(t, "coef", "female"))
	fit, err := LognormalIndividual(rows)
	if err != nil {
		t.Fatal(err)
	}
	checkIndividual(t, fit, kidney)
	numtest.Check(t, "log-likelihood", fit.LogLikelihood+jacobian, kidney.number(t, "logLik_T"), numtest.Tolerance{Abs: 1e-7})

	invented := h.at(t, "invented", "random_intercept_nodes_51")
	effect := invented.number(t, "coef", "speciessp_B")
	rows = nil
	for _, row := range readTable(t, "stats/h_invented_lnre.csv") {
		r := censored(t, row["low"], row["high"], row["individual"])
		if row["species"] == "sp_B" {
			r.Low *= math.Exp(-effect)
			r.High *= math.Exp(-effect)
		}
		rows = append(rows, r)
	}
	fit, err = LognormalIndividual(rows)
	if err != nil {
		t.Fatal(err)
	}
	checkIndividual(t, fit, invented)
	numtest.Check(t, "log-likelihood", fit.LogLikelihood, invented.number(t, "logLik_T"), numtest.Tolerance{Abs: 1e-7})
}

// All rows exact: a balanced one-way layout of ln yield, whose maximum
// likelihood has a closed form in the sums of squares (and agrees with lmer).
func TestLognormalIndividualDyestuff(t *testing.T) {
	var rows []Interval
	groups := map[string][]float64{}
	var sum, lnSum float64
	for _, row := range readTable(t, "stats/h_dyestuff.csv") {
		y := number(t, row["Yield"])
		rows = append(rows, Interval{Cluster: row["Batch"], Identified: true, Low: y, High: y, Exact: true})
		groups[row["Batch"]] = append(groups[row["Batch"]], math.Log(y))
		sum += math.Log(y)
	}
	n, k := float64(len(rows)), float64(len(groups))
	mean, size := sum/n, n/k
	var within, between float64
	for _, g := range []string{"A", "B", "C", "D", "E", "F"} {
		m := 0.0
		for _, y := range groups[g] {
			m += y / size
		}
		for _, y := range groups[g] {
			within += (y - m) * (y - m)
		}
		between += size * (m - mean) * (m - mean)
	}
	lnSum = sum
	sigma2 := within / (n - k)
	lambda := between / k // sigma2 + size·tau2
	tau2 := (lambda - sigma2) / size
	loglik := -n/2*math.Log(2*math.Pi) - (n-k)/2*math.Log(sigma2) - k/2*math.Log(lambda) - n/2 - lnSum
	fit, err := LognormalIndividual(rows)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "mu", fit.Mu, mean, numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "sigma within", fit.SigmaWithin, math.Sqrt(sigma2), numtest.Tolerance{Rel: 1e-7})
	numtest.Check(t, "sigma individual", fit.SigmaIndividual, math.Sqrt(tau2), numtest.Tolerance{Rel: 1e-7})
	numtest.Check(t, "log-likelihood", fit.LogLikelihood, loglik, numtest.Tolerance{Abs: 1e-8})
	numtest.Check(t, "se", fit.SEMu, math.Sqrt(lambda/n), numtest.Tolerance{Rel: 1e-7})
	own := readReference(t, "stats/h_lnre.json").at(t, "dyestuff_all_exact", "own")
	checkIndividual(t, fit, own)
}

// Derivatives of the marginal likelihood against central differences; even in
// the spread between clusters; equal to the plain model at 0.
func TestIndividualDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := informative(canonical(drawIntervals(t)))
		if len(rows) == 0 {
			return
		}
		ranges, _ := intervalClusters(rows)
		m := newIndividualModel(logRows(rows), ranges)
		m.setNodes(201) // the formulas are tested, not how many nodes are enough
		x := []float64{rapid.Float64Range(-1, 4).Draw(t, "mu"), rapid.Float64Range(-0.7, 1).Draw(t, "ln sigma"), rapid.Float64Range(0, 1.5).Draw(t, "tau")}
		at := func(x []float64) (float64, []float64, *mat.SymDense) {
			g, h := make([]float64, 3), mat.NewSymDense(3, nil)
			return m.at(x, g, h), g, h
		}
		value, gradient, hessian := at(x)
		const step = 1e-4
		differences := func(i int, step float64) (score float64, second [3]float64) {
			up, down := append([]float64(nil), x...), append([]float64(nil), x...)
			up[i] += step
			down[i] -= step
			valueUp, gradientUp, _ := at(up)
			valueDown, gradientDown, _ := at(down)
			for j := range 3 {
				second[j] = (gradientUp[j] - gradientDown[j]) / (2 * step)
			}
			return (valueUp - valueDown) / (2 * step), second
		}
		for i := range 3 {
			// Richardson: the error of a central difference goes with the square of
			// its step.
			score, second := differences(i, step)
			scoreHalf, secondHalf := differences(i, step/2)
			tol := numtest.Tolerance{Abs: 1e-6 * (1 + math.Abs(value)), Rel: 1e-5}
			numtest.Check(t, "score", gradient[i], (4*scoreHalf-score)/3, tol)
			for j := range 3 {
				numtest.Check(t, "second derivative", hessian.At(i, j), (4*secondHalf[j]-second[j])/3, tol)
			}
		}
		mirrored, _, _ := at([]float64{x[0], x[1], -x[2]})
		numtest.Check(t, "mirrored", mirrored, value, numtest.Tolerance{Rel: 1e-12, Abs: 1e-10})
		var sum [6]float64
		addLognormal(m.rows, x[0], x[1], sum[:])
		flat, _, _ := at([]float64{x[0], x[1], 0})
		numtest.Check(t, "no spread", flat, sum[0], numtest.Tolerance{Rel: 1e-12, Abs: 1e-11})
	})
}

// Every animal agrees with itself, animals differ: no spread within.
func TestLognormalIndividualNoSpreadWithin(t *testing.T) {
	var rows []Interval
	for i, animal := range []string{"a", "b", "c", "d", "e", "f"} {
		x := math.Pow(2, float64(i))
		rows = append(rows,
			Interval{Cluster: animal, Identified: true, Low: x, High: 1.6 * x},
			Interval{Cluster: animal, Identified: true, Low: 1.1 * x, High: 1.9 * x},
			Interval{Cluster: animal, Identified: true, Low: 1.2 * x, High: math.Inf(1)})
	}
	fit, err := LognormalIndividual(rows)
	if err != nil {
		t.Fatal(err)
	}
	if fit.SigmaWithin != 0 || len(fit.Boundary) != 1 || fit.Boundary[0] != "sigma_within" {
		t.Fatalf("sigma within %g, boundary %v", fit.SigmaWithin, fit.Boundary)
	}
	var common []Interval
	for i, animal := range []string{"a", "b", "c", "d", "e", "f"} {
		x := math.Pow(2, float64(i))
		common = append(common, Interval{Cluster: animal, Identified: true, Low: 1.2 * x, High: 1.6 * x})
	}
	plain, err := Lognormal(common)
	if err != nil {
		t.Fatal(err)
	}
	if fit.Mu != plain.Mu || fit.SigmaIndividual != plain.Sigma || fit.LogLikelihood != plain.LogLikelihood {
		t.Errorf("%+v is not the fit of what the passes have in common, %+v", fit, plain)
	}
}

func TestLognormalIndividualNotEstimable(t *testing.T) {
	_, err := LognormalIndividual(fromEnds([][2]float64{{1, 2}, {3, 4}, {2, 5}, {4, 9}}))
	checkNotEstimable(t, "one pass an animal", err, "no animal has two passes")
	_, err = LognormalIndividual(nil)
	checkNotEstimable(t, "no rows", err, "no passes")
	same := fromEnds([][2]float64{{4, 4}, {4, 4}, {9, 9}, {9, 9}})
	same[1].Cluster, same[3].Cluster = "a", "c"
	_, err = LognormalIndividual(same)
	checkNotEstimable(t, "twice the same", err, "the same exact threshold twice")
}

// Whatever the table: numbers or a reason, never below the plain model, which
// is one of its cases, and the same bits in any order.
func TestLognormalIndividualOnAnyTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawIntervals(t)
		fit, err := LognormalIndividual(rows)
		if err != nil {
			checkNotEstimable(t, "any table", err, "")
			return
		}
		for _, v := range []float64{fit.Mu, fit.SigmaWithin, fit.SigmaIndividual, fit.LogLikelihood, fit.Median, fit.SEMu, fit.CI.Low, fit.CI.High} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v", fit)
			}
		}
		plain, err := Lognormal(rows)
		if err != nil || fit.LogLikelihood < plain.LogLikelihood {
			t.Fatalf("%+v\n%+v, %v", fit, plain, err)
		}
		slices.Reverse(rows)
		again, err := LognormalIndividual(rows)
		if err != nil || again.Mu != fit.Mu || again.LogLikelihood != fit.LogLikelihood {
			t.Fatalf("reversed: %v\n%+v\n%+v", err, again, fit)
		}
	})
}
