package inference

import (
	"math"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// For a linear model the correction is exact: (I − H_c H⁻¹)⁻¹ s_c moves the
// estimate by just what leaving cluster c out does, so CR3 is the jackknife
// (m−1)/m Σ (b₍c₎ − b)(b₍c₎ − b)ᵀ. Here both are worked out, the second by
// refitting a straight line without each cluster.
func TestSandwichIsTheJackknifeOfALine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(4, 9).Draw(t, "clusters")
		var xs, ys [][]float64
		for c := range m {
			size := rapid.IntRange(1, 5).Draw(t, "size")
			x, y := make([]float64, size), make([]float64, size)
			for i := range size {
				x[i] = float64(c) + rapid.Float64Range(-2, 2).Draw(t, "x")
				y[i] = rapid.Float64Range(-3, 3).Draw(t, "y")
			}
			xs, ys = append(xs, x), append(ys, y)
		}
		full := fitLine(xs, ys, -1)
		scores := make([][]float64, m)
		informations := make([]*mat.SymDense, m)
		for c := range m {
			scores[c], informations[c] = make([]float64, 2), mat.NewSymDense(2, nil)
			for i, x := range xs[c] {
				e := ys[c][i] - full[0] - full[1]*x
				scores[c][0] += e
				scores[c][1] += e * x
				informations[c].SymRankOne(informations[c], 1, mat.NewVecDense(2, []float64{1, x}))
			}
		}
		got, fragile, err := sandwich(scores, informations)
		if err != nil || fragile != 0 {
			t.Fatalf("%v, %d fragile", err, fragile)
		}
		var want [2][2]float64
		for c := range m {
			without := fitLine(xs, ys, c)
			for i := range 2 {
				for j := range 2 {
					want[i][j] += float64(m-1) / float64(m) * (without[i] - full[i]) * (without[j] - full[j])
				}
			}
		}
		scale := want[0][0] + want[1][1]
		for i := range 2 {
			for j := range 2 {
				numtest.Check(t, "covariance", got.At(i, j), want[i][j], numtest.Tolerance{Rel: 1e-7, Abs: 1e-8 * scale})
			}
		}
	})
}

func fitLine(xs, ys [][]float64, without int) [2]float64 {
	var n, x1, x2, y1, xy float64
	for c := range xs {
		if c == without {
			continue
		}
		for i, x := range xs[c] {
			n, x1, x2, y1, xy = n+1, x1+x, x2+x*x, y1+ys[c][i], xy+x*ys[c][i]
		}
	}
	d := n*x2 - x1*x1
	return [2]float64{(x2*y1 - x1*xy) / d, (n*xy - x1*y1) / d}
}

// Scores and informations of the lognormal model make the published
// cluster-robust covariance of the kidney data (a covariate, no small-sample
// factor: H⁻¹ Σ s sᵀ H⁻¹). Source: survreg with cluster, in c_kidney.json.
func TestClusterScoresOfKidney(t *testing.T) {
	want := readReference(t, "stats/c_kidney.json").at(t, "lognormal")
	fit := want.at(t, "independent_check", "coef_and_log_scale")
	intercept, effect, lnSigma := fit.number(t, "(Intercept)"), fit.number(t, "female"), fit.number(t, "Log(scale)")
	total := mat.NewSymDense(3, nil)
	byPatient := map[string]*mat.VecDense{}
	var order []string
	for _, row := range readTable(t, "stats/c_kidney.csv") {
		x := number(t, row["female"])
		r := logRows([]Interval{censored(t, row["left"], row["right"], row["id"])})[0]
		d := pointLikelihood(r, intercept+effect*x, lnSigma, math.Exp(-lnSigma))
		if byPatient[row["id"]] == nil {
			byPatient[row["id"]] = mat.NewVecDense(3, nil)
			order = append(order, row["id"])
		}
		byPatient[row["id"]].AddVec(byPatient[row["id"]], mat.NewVecDense(3, []float64{d.byMu, x * d.byMu, d.byScale}))
		total.AddSym(total, mat.NewSymDense(3, []float64{
			-d.byMuMu, -x * d.byMuMu, -d.byMuScale,
			0, -x * x * d.byMuMu, -x * d.byMuScale,
			0, 0, -d.byScaleScale,
		}))
	}
	meat := mat.NewSymDense(3, nil)
	for _, id := range order {
		meat.SymRankOne(meat, 1, byPatient[id])
	}
	var inverse, v mat.Dense
	if err := inverse.Inverse(total); err != nil {
		t.Fatal(err)
	}
	v.Mul(&inverse, meat)
	v.Mul(&v, &inverse)
	checkMatrix(t, "cluster-robust", &v, want.at(t, "cluster_robust", "vcov", "values"), numtest.Tolerance{Rel: 1e-6})
}

// CR3 approximates refitting the lognormal without each animal. The two
// species of season A: 8 and 1.5 per cent above the refits.
func TestLognormalSandwichNearJackknife(t *testing.T) {
	for _, species := range []string{"Raja clavata", "Scyliorhinus canicula"} {
		rows, _ := readSeason(t, species)
		fit, err := Lognormal(rows)
		if err != nil {
			t.Fatal(err)
		}
		sorted := canonical(rows)
		ranges, _ := intervalClusters(sorted)
		sum := 0.0
		for _, c := range ranges {
			without, err := Lognormal(append(append([]Interval(nil), sorted[:c.from]...), sorted[c.to:]...))
			if err != nil {
				t.Fatal(err)
			}
			sum += (without.Mu - fit.Mu) * (without.Mu - fit.Mu)
		}
		m := float64(len(ranges))
		numtest.Check(t, species, fit.SEMu, math.Sqrt((m-1)/m*sum), numtest.Tolerance{Rel: 0.1})
	}
}

func TestSandwichNotEstimable(t *testing.T) {
	one := func(v float64) *mat.SymDense { return mat.NewSymDense(1, []float64{v}) }
	if _, _, err := sandwich([][]float64{{0.1}}, []*mat.SymDense{one(2)}); err == nil {
		t.Error("one cluster")
	}
	// The second parameter is known from the first cluster alone.
	a := mat.NewSymDense(2, []float64{2, 0.3, 0.3, 1})
	b := mat.NewSymDense(2, []float64{2, 0, 0, 0})
	_, _, err := sandwich([][]float64{{0.1, 0}, {-0.1, 0}}, []*mat.SymDense{a, b})
	checkNotEstimable(t, "all in one", err, "holds all that is known")
	// Without the first cluster the information would be negative.
	_, fragile, err := sandwich([][]float64{{0.1}, {0.2}, {-0.3}}, []*mat.SymDense{one(5), one(-1), one(-1)})
	if err != nil || fragile != 1 {
		t.Errorf("fragile %d, %v", fragile, err)
	}
	few := medianInterval(1, 0, 4, nil, nil)
	checkNotEstimable(t, "four animals", few.CIErr, "4 identified animals")
}

func TestLognormalFewAnimals(t *testing.T) {
	rows := readPasses(t, "stats/p2_small.csv", nil) // six animals
	fit, err := Lognormal(rows)
	if err != nil || fit.CIErr != nil || !(fit.CI.Low < fit.Median && fit.Median < fit.CI.High) {
		t.Fatalf("%+v, %v", fit, err)
	}
	for i := range rows {
		if strings.HasSuffix(rows[i].Cluster, "5") || strings.HasSuffix(rows[i].Cluster, "6") {
			rows[i].Identified = false
		}
	}
	fit, err = Lognormal(rows)
	if err != nil {
		t.Fatal(err)
	}
	checkNotEstimable(t, "four animals and two clusters", fit.CIErr, "4 identified animals")
	if fit.SEMu != 0 || fit.CI != (Span{}) || fit.Clusters != 6 || fit.IdentifiedAnimals != 4 {
		t.Errorf("%+v", fit)
	}
}
