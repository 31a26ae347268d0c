package inference

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

func indicator(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// binary makes a cell of one row.
func binary(cluster, y string, x ...float64) Cell {
	turns := 0
	if y == "1" {
		turns = 1
	}
	return Cell{Cluster: cluster, X: x, Passes: 1, Turns: turns}
}

// openData are the published data sets with their designs, as named in
// testdata/check/stats/README.md, and the node count of the reference fit.
var openData = []struct {
	name    string
	nodes   string
	columns []string
	row     func(t *testing.T, r map[string]string) Cell
}{
	{
		"a_cbpp", "nAGQ_25",
		[]string{"(Intercept)", "period2", "period3", "period4"},
		func(t *testing.T, r map[string]string) Cell {
			p := r["period"]
			return Cell{
				Cluster: r["herd"], Passes: int(number(t, r["size"])), Turns: int(number(t, r["incidence"])),
				X: []float64{1, indicator(p == "2"), indicator(p == "3"), indicator(p == "4")},
			}
		},
	},
	{
		"b_bacteria", "nAGQ_25",
		[]string{"(Intercept)", "trtdrug", "trtdrug+", "late"},
		func(t *testing.T, r map[string]string) Cell {
			return binary(r["ID"], r["y01"], 1, indicator(r["trt"] == "drug"), indicator(r["trt"] == "drug+"), number(t, r["late"]))
		},
	},
	{
		"b_toenail", "nAGQ_151",
		[]string{"(Intercept)", "terbinafine", "time", "terbinafine:time"},
		func(t *testing.T, r map[string]string) Cell {
			drug, time := number(t, r["terbinafine"]), number(t, r["time"])
			return binary(r["patientID"], r["y01"], 1, drug, time, drug*time)
		},
	},
	{
		"b_contraception", "nAGQ_15",
		[]string{"(Intercept)", "age", "urban", "livch1", "livch2", "livch3plus"},
		func(t *testing.T, r map[string]string) Cell {
			l := r["livch"]
			return binary(r["district"], r["use01"], 1, number(t, r["age"]), number(t, r["urban"]),
				indicator(l == "1"), indicator(l == "2"), indicator(l == "3plus"))
		},
	},
}

// Source: open data sets (named in the check files), fitted by an independent
// adaptive Gauss–Hermite fit polished to a gradient below 1e-6. Tolerances:
// estimates to 1e-4 of a standard error, the log-likelihood to 1e-5.
func TestMixedLogitOpenData(t *testing.T) {
	for _, c := range openData {
		t.Run(c.name, func(t *testing.T) {
			var cells []Cell
			for _, r := range readTable(t, "stats/"+c.name+".csv") {
				cells = append(cells, c.row(t, r))
			}
			fit, err := MixedLogit(cells)
			if err != nil {
				t.Fatal(err)
			}
			results := readReference(t, "stats/"+c.name+".json")
			want := results.at(t, c.nodes, "own_quadrature")
			for k, column := range c.columns {
				se := want.number(t, "se_fixed", column)
				numtest.Check(t, column, fit.Coefficients[k], want.number(t, "fixed", column), numtest.Tolerance{Abs: 1e-4 * se})
				numtest.Check(t, "SE of "+column, fit.SE[k], se, numtest.Tolerance{Rel: 1e-4})
			}
			numtest.Check(t, "SD", fit.SD, want.number(t, "sd_id"), numtest.Tolerance{Abs: 1e-4 * want.number(t, "se_sd_id")})
			numtest.Check(t, "SE of SD", fit.SDSE, want.number(t, "se_sd_id"), numtest.Tolerance{Rel: 1e-4})
			numtest.Check(t, "log-likelihood", fit.LogLikelihood,
				results.number(t, "highest_order_check", "logLik_without_binomial_coefficients"), numtest.Tolerance{Abs: 1e-5})
			numtest.Check(t, "log-likelihood without individuals", fit.LogLikelihoodPlain,
				results.number(t, "glm_no_random_effect", "logLik")-results.number(t, "highest_order_check", "sum_log_binomial_coefficients"),
				numtest.Tolerance{Abs: 1e-8})
			if fit.Nodes < 25 || fit.Gradient > 1e-6 || len(fit.Boundary)+len(fit.Warnings) > 0 {
				t.Errorf("nodes %d, gradient %g, boundary %v, warnings %v", fit.Nodes, fit.Gradient, fit.Boundary, fit.Warnings)
			}
			t.Logf("%d nodes, gradient %.2g, log-likelihood %.12g", fit.Nodes, fit.Gradient, fit.LogLikelihood)
		})
	}
}

// The derivatives that the fit climbs by, against central differences of the
// likelihood and of the gradient.
func TestMarginalDerivatives(t *testing.T) {
	var cells []Cell
	for _, r := range readTable(t, "stats/b_bacteria.csv") {
		cells = append(cells, openData[1].row(t, r))
	}
	d, err := newDesign(cells)
	if err != nil {
		t.Fatal(err)
	}
	m := newMarginal(d, 3) // 101 nodes
	for _, theta := range [][]float64{
		{3.5, -1.4, -0.8, -1.6, 1.3},
		{0.1, 0.4, -0.2, 0.7, 0.05},
		{-1, 2, 0.5, -3, 2.5},
		{2, -1, -1, -1, 0},
	} {
		_, gradient, hessian := m.value(theta)
		const h = 1e-5
		for i := range theta {
			up, down := append([]float64(nil), theta...), append([]float64(nil), theta...)
			up[i] += h
			down[i] -= h
			upValue, upGradient, _ := m.value(up)
			downValue, downGradient, _ := m.value(down)
			numtest.Check(t, "gradient", gradient[i], (upValue-downValue)/(2*h), numtest.Tolerance{Rel: 1e-6, Abs: 2e-6})
			for j := range theta {
				numtest.Check(t, "Hessian", hessian.At(i, j), (upGradient[j]-downGradient[j])/(2*h), numtest.Tolerance{Rel: 1e-6, Abs: 2e-6})
			}
		}
	}
}

// A spread of zero is no random effect at all: the marginal likelihood must
// equal the plain one, and its curvature in s there is twice the score in s².
func TestMarginalAtZeroSpread(t *testing.T) {
	var cells []Cell
	for _, r := range readTable(t, "stats/a_cbpp.csv") {
		cells = append(cells, openData[0].row(t, r))
	}
	d, err := newDesign(cells)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := fitPlainLogit(d.pooled(), d.columns)
	if err != nil {
		t.Fatal(err)
	}
	value, _, hessian := newMarginal(d, 0).value(append(append([]float64(nil), plain.beta...), 0))
	numtest.Check(t, "likelihood at zero spread", value, plain.logLikelihood, numtest.Tolerance{Rel: 1e-13})
	numtest.Check(t, "curvature at zero spread", hessian.At(4, 4), 2*scoreAtZero(d, plain.beta), numtest.Tolerance{Rel: 1e-9})
	results := readReference(t, "stats/a_cbpp.json")
	for k, column := range openData[0].columns {
		numtest.Check(t, column, plain.beta[k], results.number(t, "glm_no_random_effect", "fixed", column), numtest.Tolerance{Rel: 1e-8})
	}
}

// Both project-shape sets and season A's rays have their maximum at zero
// spread; the estimates are then those of the plain model.
func TestMixedProjectShape(t *testing.T) {
	for _, name := range []string{"p1_two_species", "p2_small", "p3_psychometric"} {
		t.Run(name, func(t *testing.T) {
			var rows []MixedRow
			for _, r := range readTable(t, "stats/"+name+".csv") {
				rows = append(rows, MixedRow{Cluster: r["individual"], Active: r["pair"] == "active", Turned: r["responded"] == "1"})
			}
			fit, err := Mixed(rows)
			if err != nil {
				t.Fatal(err)
			}
			checkMixed(t, fit, readReference(t, "stats/"+name+".json").at(t, "glmm_response_by_pair"))
		})
	}
}

func checkMixed(t *testing.T, fit MixedFit, want reference) {
	t.Helper()
	model := "glm_no_random_effect"
	se := "se"
	sd := 0.0
	if len(fit.Boundary) == 0 {
		model, se = "nAGQ_25", "se_fixed"
		sd = want.number(t, model, "sd_id")
	} else if score := want.number(t, "score_sd2_at_0"); score > 0 {
		t.Errorf("on the boundary, but the score there is %g", score)
	}
	seOdds := want.number(t, model, se, "pair:active")
	numtest.Check(t, "log odds ratio", fit.LogOddsRatio, want.number(t, model, "fixed", "pair:active"), numtest.Tolerance{Abs: 1e-4 * seOdds})
	numtest.Check(t, "SE", fit.SE, seOdds, numtest.Tolerance{Rel: 1e-4})
	numtest.Check(t, "intercept", fit.Intercept, want.number(t, model, "fixed", "(Intercept)"), numtest.Tolerance{Abs: 1e-4 * fit.InterceptSE})
	numtest.Check(t, "individual SD", fit.IndividualSD, sd, numtest.Tolerance{Abs: 1e-4})
	numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, model, "logLik"), numtest.Tolerance{Abs: 1e-5})
	t.Logf("log odds ratio %.9g, SE %.9g, SD %.9g, nodes %d, boundary %v", fit.LogOddsRatio, fit.SE, fit.IndividualSD, fit.Nodes, fit.Boundary)
}

// An intercept-only fit with a small but interior spread, poorly determined:
// the bites of p1_two_species, active against control.
func TestMixedLogitNearBoundary(t *testing.T) {
	var cells []Cell
	for _, r := range readTable(t, "stats/p1_two_species.csv") {
		if r["bit_active"] != r["bit_control"] {
			cells = append(cells, binary(r["individual"], r["bit_active"], 1))
		}
	}
	fit, err := MixedLogit(cells)
	if err != nil {
		t.Fatal(err)
	}
	want := readReference(t, "stats/p1_two_species.json").at(t, "preference", "glmm_intercept_only", "nAGQ_25")
	numtest.Check(t, "intercept", fit.Coefficients[0], want.number(t, "fixed", "(Intercept)"), numtest.Tolerance{Abs: 1e-4 * fit.SE[0]})
	numtest.Check(t, "SE", fit.SE[0], want.number(t, "se_fixed", "(Intercept)"), numtest.Tolerance{Rel: 1e-4})
	numtest.Check(t, "SD", fit.SD, want.number(t, "sd_id"), numtest.Tolerance{Abs: 1e-4 * fit.SDSE})
	numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "logLik"), numtest.Tolerance{Abs: 1e-5})
	if math.Abs(fit.LogLikelihood-fit.LogLikelihoodPlain-0.0023554845120656864/2) > 1e-5 {
		t.Errorf("gain over no spread %g, want 0.00117774", fit.LogLikelihood-fit.LogLikelihoodPlain)
	}
}
