package app_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// A stranger has the package and a reader of CSV: from the columns of passes.csv they
// count the turns of the preference and work out the median of the descriptive table,
// and come to what stands there (docs/formats/package.md says how).
func TestStrangerComesToTheSameNumbers(t *testing.T) {
	long(t)
	files := map[string][]byte{}
	for _, f := range must(dossier.DataFiles(dossierOf(t, must(app.DemoSeason())))) {
		files[f.Name] = f.Bytes
	}
	table := func(name string) []map[string]string {
		rows := must(csv.NewReader(bytes.NewReader(files[name])).ReadAll())
		var out []map[string]string
		for _, r := range rows[1:] {
			m := map[string]string{}
			for i, c := range r {
				m[rows[0][i]] = c
			}
			out = append(out, m)
		}
		return out
	}
	onset := map[string]bool{}
	for _, p := range table("season/passes.csv") {
		onset[p["pass"]] = p["onset_s"] != ""
	}
	turns, passes, fields := map[string]int{}, map[string]int{}, map[string][]float64{}
	for _, p := range table("tables/passes.csv") {
		if p["used"] != "yes" {
			continue
		}
		for _, of := range []string{"all", p["species"]} {
			passes[of+p["role"]]++
			if p["responded"] == "yes" {
				turns[of+p["role"]]++
			}
		}
		if p["role"] == "active" && p["turned"] == "yes" && onset[p["pass"]] && p["falling_field"] == "no" {
			fields[p["species"]] = append(fields[p["species"]], must(strconv.ParseFloat(p["field_high_nV_per_cm"], 64)))
		}
	}
	found := 0
	for _, r := range table("tables/preference.csv") {
		for column, want := range map[string]int{
			"passes_active": passes[r["species"]+"active"], "turns_active": turns[r["species"]+"active"],
			"passes_control": passes[r["species"]+"control"], "turns_control": turns[r["species"]+"control"],
		} {
			if got := must(strconv.Atoi(r[column])); got != want || want == 0 {
				t.Errorf("%s, %s: %d stand there, a stranger counts %d", r["species"], column, got, want)
			}
			found++
		}
	}
	for _, r := range table("tables/descriptive.csv") {
		x := fields[r["species"]]
		slices.Sort(x)
		if n := must(strconv.Atoi(r["n"])); n != len(x) || n == 0 {
			t.Errorf("%s: n is %d, a stranger counts %d", r["species"], n, len(x))
			continue
		}
		// The median of type 7: the middle one, or the mean of the two in the middle
		// (Hyndman and Fan 1996). The same numbers in, so equal to rounding.
		want := (x[(len(x)-1)/2] + x[len(x)/2]) / 2
		if got := must(strconv.ParseFloat(r["median_nV_per_cm"], 64)); math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s: the median is %v, a stranger finds %v", r["species"], got, want)
		}
		found++
	}
	if found < 10 {
		t.Errorf("only %d numbers were compared", found)
	}
}
