package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// plainPrinter prints what it is given as text: the same values, the same bytes.
type plainPrinter struct{}

func (plainPrinter) Figure(f dossier.Figure, p app.FigurePrint) ([]byte, error) {
	return fmt.Appendf(nil, "%s %+v %d", f.Name, p, len(f.Panels)), nil
}

func (plainPrinter) HTML(d dossier.Document, _ []app.PrintedFigure) ([]byte, error) {
	return json.Marshal(d)
}

func (plainPrinter) Markdown(d dossier.Document, _ []dossier.Figure) ([]byte, error) {
	return json.Marshal(d)
}

func (plainPrinter) DOCX(d dossier.Document, _ []app.PrintedFigure) ([]byte, error) {
	return json.Marshal(d)
}

func (plainPrinter) PDF(context.Context, dossier.Document, []byte, []app.PrintedFigure) ([]byte, string, error) {
	return []byte("%PDF no two are alike"), "a test", nil
}

func (plainPrinter) Browser() string { return "" }

var testProgram = app.Program{Version: "1", Commit: "abc", OSArch: "linux/amd64"}

// tankSeason is the season of example 3 without its walls, which cost time.
func tankSeason(t testing.TB) app.Input {
	in := readFolder(t, "../../examples/03-round-tank")
	delete(in, "README.md")
	in["study.toml"] = bytes.Replace(in["study.toml"], []byte("[enclosure]\ndiameter_m = 3.2\n"), nil, 1)
	return in
}

func packageOf(t testing.TB, in app.Input, program app.Program) map[string][]byte {
	t.Helper()
	made, _, err := app.MakeSeasonPackage(t.Context(), in, "tank", time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC),
		app.AnalyseOptions{Seed: 1, Program: program}, dossier.Choices{Licence: "CC-BY-4.0"}, plainPrinter{})
	if err != nil {
		t.Fatal(err)
	}
	return made.Below("")
}

var tankOnce struct {
	sync.Once
	files map[string][]byte
}

// tankPackage are the files of one package; every test gets its own map.
func tankPackage(t testing.TB) map[string][]byte {
	tankOnce.Do(func() { tankOnce.files = packageOf(t, tankSeason(t), testProgram) })
	if tankOnce.files == nil {
		t.Fatal("the package was not made")
	}
	return maps.Clone(tankOnce.files)
}

// packed is a package that was unpacked: zips cost time.
func packed(t testing.TB, files map[string][]byte) *app.Package {
	t.Helper()
	var list []app.PackageFile
	for name, data := range files {
		list = append(list, app.PackageFile{Name: name, Bytes: int64(len(data)), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }})
	}
	p, err := app.NewPackage("tank", list, app.UsualLimits)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// replaced is a file with the first text in the place of which another stands.
func replaced(t testing.TB, files map[string][]byte, name, was, now string) map[string][]byte {
	t.Helper()
	if !bytes.Contains(files[name], []byte(was)) {
		t.Fatalf("%s does not hold %q", name, was)
	}
	files[name] = bytes.Replace(files[name], []byte(was), []byte(now), 1)
	return files
}

// resealed writes descriptor and checksums anew, as somebody would who wants a change
// not to be seen.
func resealed(t testing.TB, files map[string][]byte) map[string][]byte {
	t.Helper()
	var d map[string]any
	if err := json.Unmarshal(files["datapackage.json"], &d); err != nil {
		t.Fatal(err)
	}
	described := map[string]bool{}
	var resources []any
	for _, r := range d["resources"].([]any) {
		r := r.(map[string]any)
		data, there := files[r["path"].(string)]
		if !there {
			continue
		}
		described[r["path"].(string)] = true
		sum := sha256.Sum256(data)
		r["hash"], r["bytes"] = "sha256:"+hex.EncodeToString(sum[:]), len(data)
		resources = append(resources, r)
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if !described[name] && name != "datapackage.json" && name != "checksums.sha256" {
			resources = append(resources, map[string]any{"name": strings.ToLower(strings.NewReplacer("/", "-", ".", "-").Replace(name)) + "-new", "path": name})
		}
	}
	d["resources"] = resources
	files["datapackage.json"] = must(json.Marshal(d))
	var lines bytes.Buffer
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if name != "checksums.sha256" {
			fmt.Fprintf(&lines, "%x  %s\n", sha256.Sum256(files[name]), name)
		}
	}
	files["checksums.sha256"] = lines.Bytes()
	return files
}

func checked(t testing.TB, files map[string][]byte) app.DossierCheck {
	t.Helper()
	doc, err := app.CheckPackage(t.Context(), packed(t, files), testProgram, nil)
	if err != nil {
		t.Fatal(err)
	}
	if doc.Same != (len(doc.Differences) == 0) || len(doc.Checked) != 8 {
		t.Errorf("same %v, %d differences, %v", doc.Same, len(doc.Differences), doc.Checked)
	}
	return doc
}

func workedOut(t testing.TB, files map[string][]byte, program app.Program) app.DossierAgain {
	t.Helper()
	doc, err := app.WorkOutAgain(t.Context(), packed(t, files), program, plainPrinter{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if doc.Same != (len(doc.Differences) == 0) {
		t.Errorf("same %v, %d differences", doc.Same, len(doc.Differences))
	}
	return doc
}

// A package that was just made is what it says, and comes out the same to the bit;
// by another version its numbers do.
func TestPackageIsWhatItSays(t *testing.T) {
	files := tankPackage(t)
	if doc := checked(t, files); !doc.Same || doc.Made != "2026-11-29T13:00:00+01:00" && doc.Made != "2026-11-29T12:00:00Z" {
		t.Errorf("made %s; %q", doc.Made, doc.Differences)
	}
	doc := workedOut(t, files, testProgram)
	if !doc.Same || !doc.Exact || doc.Numbers < 5000 || doc.Files < len(files)-2 || doc.Within != 0 || len(doc.Left) != 2 {
		t.Errorf("%+v", doc)
	}
	other := testProgram
	other.Version = "2"
	doc = workedOut(t, files, other)
	if !doc.Same || doc.Exact || doc.Numbers < 5000 || len(doc.Limits) != 3 || doc.Limit != 1e-5 || len(doc.Left) < 3 {
		t.Errorf("%+v", doc)
	}
}

// What was changed afterwards is named with its place; with checksums and descriptor
// made good again it is still found by working out.
func TestTamperedPackages(t *testing.T) {
	long(t)
	_, median, _ := strings.Cut(string(tankPackage(t)["results/findings.json"]), `"detection": [`)
	_, median, _ = strings.Cut(median, `"median_nV_per_cm": `)
	median, _, _ = strings.Cut(median, ",")
	row := strings.SplitN(string(tankPackage(t)["tables/passes.csv"]), "\n", 3)[1]
	header := strings.Split(strings.SplitN(string(tankPackage(t)["tables/passes.csv"]), "\n", 2)[0], ",")
	column := slices.Index(header, "field_low_nV_per_cm")
	if column < 0 || median == "" {
		t.Fatalf("%v, median %q", header, median)
	}
	cells := strings.Split(row, ",")
	cells[column] = "1" + cells[column]
	for name, c := range map[string]struct {
		file, was, now string
		again          string // file and place that working out names
	}{
		"a table":     {"tables/passes.csv", row, strings.Join(cells, ","), "tables/passes.csv: row 2 (P001), field_low_nV_per_cm"},
		"the results": {"results/findings.json", `"median_nV_per_cm": ` + median, `"median_nV_per_cm": 1` + median, "results/findings.json: detection["},
		"the season":  {"season/passes.csv", "P001,T01,2025-09-03T09:02:25,SC06,Scyliorhinus canicula,A,no,no", "P001,T01,2025-09-03T09:02:25,SC06,Scyliorhinus canicula,A,yes,no", "results/findings.json: preference["},
		"a report":    {"report/report.html", "tank", "bank", "report/report.html: line 1"},
		"the licence": {"LICENCE.txt", "CC", "DD", "LICENCE.txt: line"},
	} {
		t.Run(name, func(t *testing.T) {
			files := replaced(t, tankPackage(t), c.file, c.was, c.now)
			doc := checked(t, files)
			if !strings.Contains(strings.Join(doc.Differences, "\n"), c.file+" was changed after the package was made") {
				t.Errorf("%q", doc.Differences)
			}
			again := workedOut(t, resealed(t, files), testProgram)
			var told []string
			for _, d := range again.Differences {
				told = append(told, d.File+": "+d.Where+": "+d.Was+" → "+d.Now)
			}
			if !strings.Contains(strings.Join(told, "\n"), c.again) {
				t.Errorf("working out says\n%s", strings.Join(told, "\n"))
			}
		})
	}
}

// Across machines numbers may differ in their last digits, and no more.
func TestNumbersWithinTheirLimits(t *testing.T) {
	other := testProgram
	other.OSArch = "linux/arm64"
	text := string(tankPackage(t)["results/findings.json"])
	_, value, _ := strings.Cut(text, `"detection": [`)
	_, value, _ = strings.Cut(value, `"mu": `)
	value, _, _ = strings.Cut(value, ",")
	var mu float64
	if _, err := fmt.Sscan(value, &mu); err != nil {
		t.Fatal(err)
	}
	for shift, same := range map[float64]bool{1e-8: true, 1e-4: false} {
		files := replaced(t, tankPackage(t), "results/findings.json", `"mu": `+value, fmt.Sprintf(`"mu": %.17g`, mu*(1+shift)))
		doc := workedOut(t, files, other)
		if doc.Same != same || same && doc.Within != 1 || !same && (len(doc.Differences) != 1 || doc.Differences[0].Relative == nil || *doc.Differences[0].Relative < 0.9e-4 || *doc.Differences[0].Relative > 1.1e-4) {
			t.Errorf("by %g: %+v", shift, doc)
		}
	}
}

// Each part of the check finds what is wrong in it, with its place, although
// checksums and descriptor were made good.
func TestPartsOfThePackageCheck(t *testing.T) {
	long(t)
	for name, c := range map[string]struct {
		change func(files map[string][]byte)
		part   string
		want   string
	}{
		"a file less":        {func(f map[string][]byte) { delete(f, "CITATION.cff") }, "layout", "CITATION.cff is missing"},
		"a strange file":     {func(f map[string][]byte) { f["virus.exe"] = []byte("MZ") }, "layout", "virus.exe has no place in a package"},
		"no number":          {func(f map[string][]byte) { replaced(t, f, "season/tracks.csv", "8.28", "8,28") }, "tables", "season/tracks.csv:2: the row has not as many cells"},
		"a text":             {func(f map[string][]byte) { replaced(t, f, "season/tracks.csv", "8.28", "near") }, "tables", `season/tracks.csv:2:x_cm: "near" is no number`},
		"twice":              {func(f map[string][]byte) { replaced(t, f, "tables/passes.csv", "P002,", "P001,") }, "tables", `tables/passes.csv:3:pass: "P001" is there already, in row 2`},
		"no such pass":       {func(f map[string][]byte) { replaced(t, f, "season/tracks.csv", "P001,", "P999,") }, "tables", `season/tracks.csv:2:pass: "P999" is not in the table`},
		"fault of season":    {func(f map[string][]byte) { replaced(t, f, "season/study.toml", "pass_radius_cm", "pass_radios_cm") }, "season", "season/study.toml:"},
		"other column":       {func(f map[string][]byte) { replaced(t, f, "tables/passes.csv", "field_low_nV_per_cm", "field_low") }, "descriptor", "tables/passes.csv:1: column"},
		"results of another": {func(f map[string][]byte) { replaced(t, f, "season/study.toml", "Tank", "Pond") }, "results", "results/findings.json was made of another study.toml"},
		"unknown key":        {func(f map[string][]byte) { replaced(t, f, "results/findings.json", `"detection": [`, `"detected": [`) }, "results", `results/findings.json is not as it should be: unknown field "detected"`},
		"no such event": {func(f map[string][]byte) {
			lines := bytes.SplitN(f["darwin-core/occurrence.csv"], []byte("\n"), 3)
			at := slices.Index(strings.Split(string(lines[0]), ","), "eventID")
			cells := strings.Split(string(lines[1]), ",")
			cells[at] = "nowhere"
			lines[1] = []byte(strings.Join(cells, ","))
			f["darwin-core/occurrence.csv"] = bytes.Join(lines, []byte("\n"))
		}, "darwin-core", `darwin-core/occurrence.csv:2:eventID: "nowhere" is no event`},
		"no XML": {func(f map[string][]byte) { replaced(t, f, "darwin-core/eml.xml", "</", "<") }, "darwin-core", "darwin-core/eml.xml cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			files := tankPackage(t)
			c.change(files)
			doc := checked(t, resealed(t, files))
			if !strings.Contains(strings.Join(doc.Differences, "\n"), c.want) {
				t.Errorf("%q", doc.Differences)
			}
			for _, part := range doc.Checked {
				if part.Part == c.part && part.Differences == 0 || part.Part == "checksums" && part.Differences > 0 {
					t.Errorf("%v", doc.Checked)
				}
			}
		})
	}
	files := tankPackage(t)
	delete(files, "figures/captions.md")
	files["photos/a.jpg"] = []byte("x")
	files["checksums.sha256"] = append(files["checksums.sha256"], "nonsense\n"...)
	told := strings.Join(checked(t, files).Differences, "\n")
	for _, want := range []string{"figures/captions.md is listed in checksums.sha256 and missing", "photos/a.jpg is not in checksums.sha256", `"nonsense" is no line of a checksum`, "datapackage.json does not describe photos/a.jpg"} {
		if !strings.Contains(told, want) {
			t.Errorf("nothing says %q:\n%s", want, told)
		}
	}
}
