package inference

import (
	"testing"

	"brinefield/core/numeric/numtest"
)

// readSeason reads the invented season A as both kinds of rows.
func readSeason(t testing.TB, species string) (thresholds []Interval, passes []DetectionRow) {
	t.Helper()
	for _, row := range readTable(t, "season-a-intervals.csv") {
		if row["species"] != species {
			continue
		}
		cluster, identified := row["individual"], row["individual"] != ""
		if !identified {
			cluster = row["trial"] + " " + species
		}
		turned := row["turned"] == "yes"
		i := censored(t, row["field_low_nV_per_cm"], row["field_high_nV_per_cm"], cluster)
		i.Identified = identified
		d := DetectionRow{
			Cluster: cluster, Identified: identified, Low: i.Low, High: i.High,
			Turned: turned, Onset: row["onset_s"] != "", WatchedS: number(t, row["watched_s"]),
		}
		if d.Onset {
			d.OnsetBeforeS, d.OnsetS = number(t, row["onset_before_s"]), number(t, row["onset_s"])
		}
		passes = append(passes, d)
		if row["pair"] == "active" {
			thresholds = append(thresholds, i)
		}
	}
	return thresholds, passes
}

// The invented season A against R: optim on the same likelihood, and the CR3
// sandwich worked out there. R's optimum is good to about 4e-7 of each parameter
// (its log-likelihood is the lower one).
func TestDetectionSeasonA(t *testing.T) {
	for _, species := range []string{"Raja clavata", "Scyliorhinus canicula"} {
		t.Run(species, func(t *testing.T) {
			_, passes := readSeason(t, species)
			want := readReference(t, "season-a-thresholds.json").at(t, "detection", species)
			fit, err := Detection(passes)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "mu", fit.Mu, want.number(t, "mu"), numtest.Tolerance{Rel: 1e-7})
			numtest.Check(t, "sigma", fit.Sigma, want.number(t, "sigma"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "lapse", fit.Lapse, want.number(t, "lapse"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "h", fit.SpontaneousPerS, want.number(t, "spontaneous_per_s"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "log_likelihood"), numtest.Tolerance{Rel: 1e-12})
			numtest.Check(t, "se model", fit.SEModel, want.number(t, "se_naive"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "se", fit.SEMu, want.number(t, "se_robust"), numtest.Tolerance{Rel: 1e-6})
			ci := want.numbers(t, "ci95")
			numtest.Check(t, "ci low", fit.CI.Low, ci[0], numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "ci high", fit.CI.High, ci[1], numtest.Tolerance{Rel: 1e-6})
		})
	}
}
