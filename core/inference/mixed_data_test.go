package inference

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// checkFolder holds the published check values; its README names the sources.
const checkFolder = "../../testdata/check"

// readTable reads a comma separated check file as rows by column name.
func readTable(t testing.TB, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join(checkFolder, name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, record := range records[1:] {
		row := make(map[string]string, len(record))
		for k, column := range records[0] {
			row[column] = record[k]
		}
		rows = append(rows, row)
	}
	return rows
}

// number reads a number of a check table.
func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// reference is a parsed check file; at walks down its keys.
type reference struct{ value any }

func readReference(t testing.TB, name string) reference {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(checkFolder, name))
	if err != nil {
		t.Fatal(err)
	}
	var root struct {
		Results any `json:"results"`
	}
	if err := json.Unmarshal(text, &root); err != nil {
		t.Fatal(err)
	}
	return reference{root.Results}
}

func (r reference) at(t testing.TB, path ...string) reference {
	t.Helper()
	for _, key := range path {
		object, ok := r.value.(map[string]any)
		if !ok {
			t.Fatalf("no object to look for %q in", key)
		}
		value, ok := object[key]
		if !ok {
			t.Fatalf("no key %q", key)
		}
		r.value = value
	}
	return r
}

func (r reference) number(t testing.TB, path ...string) float64 {
	t.Helper()
	v, ok := r.at(t, path...).value.(float64)
	if !ok {
		t.Fatalf("%v is not a number", path)
	}
	return v
}

func (r reference) numbers(t testing.TB, path ...string) []float64 {
	t.Helper()
	list, ok := r.at(t, path...).value.([]any)
	if !ok {
		t.Fatalf("%v is not a list", path)
	}
	values := make([]float64, len(list))
	for k, v := range list {
		values[k] = v.(float64)
	}
	return values
}
