package inference

import (
	"math"
	"strconv"
	"testing"
)

// censored reads a row of the published sets: a blank or 0 left end is
// left-censored, a blank right end right-censored, equal ends are exact.
func censored(t testing.TB, left, right, cluster string) Interval {
	t.Helper()
	r := Interval{Cluster: cluster, Identified: true, High: math.Inf(1)}
	if left != "" {
		r.Low = number(t, left)
	}
	if right != "" {
		r.High = number(t, right)
	}
	r.Exact = r.Low == r.High
	return r
}

// readCensored reads a published set; keep chooses rows (nil: all), cluster
// names the column of the clusters ("": every row its own).
func readCensored(t testing.TB, file, cluster string, keep func(map[string]string) bool) []Interval {
	t.Helper()
	var rows []Interval
	for i, row := range readTable(t, file) {
		if keep != nil && !keep(row) {
			continue
		}
		name := "row " + strconv.Itoa(i)
		if cluster != "" {
			name = row[cluster]
		}
		rows = append(rows, censored(t, row["left"], row["right"], name))
	}
	return rows
}

// readPasses reads the active passes of an invented project-shape set.
func readPasses(t testing.TB, file string, keep func(map[string]string) bool) []Interval {
	t.Helper()
	var rows []Interval
	for _, row := range readTable(t, file) {
		if row["pair"] != "active" || keep != nil && !keep(row) {
			continue
		}
		rows = append(rows, censored(t, row["field_low_nV_cm"], row["field_high_nV_cm"], row["individual"]))
	}
	return rows
}

func ofValue(column, value string) func(map[string]string) bool {
	return func(row map[string]string) bool { return row[column] == value }
}

// extended reads a list of numbers that may hold the text "Inf".
func (r reference) extended(t testing.TB, path ...string) []float64 {
	t.Helper()
	list, ok := r.at(t, path...).value.([]any)
	if !ok {
		t.Fatalf("%v is not a list", path)
	}
	values := make([]float64, len(list))
	for k, v := range list {
		switch v := v.(type) {
		case float64:
			values[k] = v
		case string:
			values[k] = number(t, v)
		}
	}
	return values
}
