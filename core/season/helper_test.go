package season_test

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/core/season"
)

var options = season.Options{Zone: time.LoadLocation}

// folder reads a season of the repository.
func folder(t testing.TB, path string) season.Files {
	t.Helper()
	entries, err := os.ReadDir(path)
	if err != nil {
		t.Fatal(err)
	}
	files := season.Files{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(path, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[e.Name()] = data
	}
	return files
}

// with is the folder with one file changed.
func with(files season.Files, name, content string) season.Files {
	out := maps.Clone(files)
	out[name] = []byte(content)
	return out
}

// without is the folder without some files.
func without(files season.Files, names ...string) season.Files {
	out := maps.Clone(files)
	for _, n := range names {
		delete(out, n)
	}
	return out
}

func lines(faults []season.Fault) string {
	var out []string
	for _, f := range faults {
		out = append(out, f.String())
	}
	return strings.Join(out, "\n")
}

func noFaults(t testing.TB, faults []season.Fault) {
	t.Helper()
	if len(faults) > 0 {
		t.Fatalf("%d faults:\n%s", len(faults), lines(faults[:min(len(faults), 20)]))
	}
}

func sameFiles(t testing.TB, what string, got, want season.Files) {
	t.Helper()
	names := slices.Sorted(maps.Keys(want))
	if !slices.Equal(slices.Sorted(maps.Keys(got)), names) {
		t.Fatalf("%s: files %v, want %v", what, slices.Sorted(maps.Keys(got)), names)
	}
	for _, n := range names {
		if string(got[n]) != string(want[n]) {
			t.Errorf("%s: %s differs\ngot:\n%s\nwant:\n%s", what, n, got[n], want[n])
		}
	}
}
