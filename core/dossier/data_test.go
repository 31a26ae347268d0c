package dossier_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// packageTo names a folder into which the small package is written, for readers that
// are not written in Go: web/tests/package.
const packageTo = "BRINEFIELD_PACKAGE_TO"

func TestPackageForOtherReaders(t *testing.T) {
	made := map[string]dossier.Input{"small": smallInput(t), "hostile": hostileInput(t), "bare": bareInput(t)}
	for name, in := range made {
		files := filesOf(t, in, smallHeading(in))
		if len(files) < 25 && name != "bare" {
			t.Errorf("%s: only %d files", name, len(files))
		}
		to := os.Getenv(packageTo)
		if to == "" {
			continue
		}
		for n, b := range files {
			at := filepath.Join(to, name, filepath.FromSlash(n))
			if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(at, b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// bareInput is a study of which next to nothing was recorded.
func bareInput(t *testing.T) dossier.Input {
	t.Helper()
	small := smallInput(t)
	s := small.Study
	bare := &study.Study{Title: s.Title, Site: study.Site{Timezone: s.Site.Timezone, Zone: s.Site.Zone, DepthM: 1}, Pairs: s.Pairs}
	return dossier.Input{
		Name: "bare", Study: bare, Made: small.Made,
		Season: map[string][]byte{"study.toml": []byte("format = 1\n"), "trials.csv": []byte("trial,start,end,active_pair,current_uA\n"), "passes.csv": []byte("pass,trial,time,individual,species,pair,turned,bit\n")},
	}
}

func TestEveryFileIsWellFormed(t *testing.T) {
	for name, in := range map[string]dossier.Input{"small": smallInput(t), "hostile": hostileInput(t), "bare": bareInput(t)} {
		t.Run(name, func(t *testing.T) {
			for file, b := range filesOf(t, in, smallHeading(in)) {
				wellFormed(t, file, b)
			}
		})
	}
}

// wellFormed reads a file with the standard library's readers, which know nothing of
// who wrote it.
func wellFormed(t *testing.T, file string, b []byte) {
	t.Helper()
	if strings.HasSuffix(file, ".jpg") || strings.HasSuffix(file, ".nc") {
		return
	}
	if !utf8.Valid(b) {
		t.Errorf("%s is not UTF-8", file)
	}
	ours := !strings.HasPrefix(file, dossier.SeasonFolder) && !strings.HasPrefix(file, "study/")
	if i := bytes.IndexFunc(b, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' }); ours && i >= 0 {
		t.Errorf("%s holds the control character %q", file, b[i])
	}
	switch filepath.Ext(file) {
	case ".csv":
		rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
		if err != nil {
			t.Errorf("%s: %v", file, err)
		}
		for _, r := range rows {
			for _, c := range r {
				if slices.Contains([]string{"NaN", "nan", "+Inf", "-Inf", "Inf", "inf"}, c) {
					t.Errorf("%s holds %s", file, c)
				}
			}
		}
	case ".json", ".geojson":
		if !json.Valid(b) {
			t.Errorf("%s is no JSON", file)
		}
	case ".xml":
		d := xml.NewDecoder(bytes.NewReader(b))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
		}
	case ".cff":
		for line := range strings.SplitSeq(strings.TrimSuffix(string(b), "\n"), "\n") {
			if !regexp.MustCompile(`^( *(- )?[a-z-]+: ("(\\.|[^"\\])*"|dataset|1\.2\.0)|[a-z]+:|  - "(\\.|[^"\\])*")$`).MatchString(line) {
				t.Errorf("%s: %q is no line of the form that is written", file, line)
			}
		}
	}
}

func TestSameInputSameBytes(t *testing.T) {
	a, b := smallInput(t), smallInput(t)
	first, second := filesOf(t, a, smallHeading(a)), filesOf(t, b, smallHeading(b))
	for n := range first {
		if !bytes.Equal(first[n], second[n]) {
			t.Errorf("%s differs", n)
		}
	}
}

// The printed report has no part in what the descriptor and README say, so that a
// package made again without it differs in its checksums alone.
func TestPrintedReportChangesChecksumsAlone(t *testing.T) {
	in := smallInput(t)
	data, err := dossier.DataFiles(in)
	if err != nil {
		t.Fatal(err)
	}
	withPDF := func(printed ...string) map[string]string {
		all := slices.Clone(data)
		for _, b := range printed {
			all = append(all, dossier.File{Name: dossier.ReportPDF, Bytes: []byte(b), Media: "application/pdf", What: "The report, for paper."})
		}
		files, err := dossier.Wrap(in, smallHeading(in), all)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]string{}
		for _, f := range files {
			out[f.Name] = string(f.Bytes)
		}
		return out
	}
	a := withPDF("one")
	for _, b := range []map[string]string{withPDF("two"), withPDF()} {
		for n := range a {
			if same := a[n] == b[n]; same == (n == dossier.ReportPDF || n == dossier.ChecksumsFile) {
				t.Errorf("%s: same = %t", n, same)
			}
		}
	}
}

// Checksums are read as sha256sum reads them (GNU coreutils, "sha256sum -c").
func TestChecksumsNameEveryFile(t *testing.T) {
	in := smallInput(t)
	files := filesOf(t, in, smallHeading(in))
	lines := strings.Split(strings.TrimSuffix(string(files[dossier.ChecksumsFile]), "\n"), "\n")
	if len(lines) != len(files)-1 {
		t.Errorf("%d lines for %d files", len(lines), len(files))
	}
	for _, l := range lines {
		sum, name, ok := strings.Cut(l, "  ")
		if !ok || fmt.Sprintf("%x", sha256.Sum256(files[name])) != sum {
			t.Errorf("wrong line %q", l)
		}
	}
}

func TestNumbersReadBack(t *testing.T) {
	in := smallInput(t)
	rows := rowsOf(t, "passes", filesOf(t, in, smallHeading(in))["tables/passes.csv"])
	for i, r := range rows {
		for column, want := range map[string]*float64{
			"field_low_nV_per_cm": in.Passes[i].LowNVPerCm, "field_high_nV_per_cm": in.Passes[i].HighNVPerCm,
			"textbook_nV_per_cm": in.Passes[i].TextbookNVPerCm, "distance_cm": in.Passes[i].DistanceCm,
		} {
			if want == nil {
				if r[column] != "" {
					t.Errorf("%s %s: %q where nothing is known", r["pass"], column, r[column])
				}
				continue
			}
			got, err := strconv.ParseFloat(r[column], 64)
			if err != nil || math.Float64bits(got) != math.Float64bits(*want) {
				t.Errorf("%s %s: %q is not %v", r["pass"], column, r[column], *want)
			}
		}
	}
	if r := rows[0]; r["current_uA"] != "8" || r["sex"] != "female" || r["time"] != "2025-07-01T09:01:00+01:00" {
		t.Errorf("unexpected row %v", r)
	}
}

// What is sealed tells no role, no field and no pair, anywhere but as "sealed".
func TestSealedTrialTellsNothing(t *testing.T) {
	in := smallInput(t)
	files := filesOf(t, in, smallHeading(in))
	trial := rowsOf(t, "trials", files["tables/trials.csv"])[3]
	if trial["active_pair"] != "sealed" || trial["silent"] != "" || trial["sealed"] != "yes" || trial["passes"] != "1" || trial["passes_active"] != "" || trial["turns_control"] != "" {
		t.Errorf("sealed trial: %v", trial)
	}
	for _, m := range rowsOf(t, "measurements", files["darwin-core/extended-measurement-or-fact.csv"]) {
		if !strings.Contains(m["eventID"], ":T4") && !strings.Contains(m["eventID"], ":P4") {
			continue
		}
		if what := m["measurementType"]; strings.Contains(what, "role") || strings.Contains(what, "field") || strings.Contains(what, "current") {
			t.Errorf("a sealed trial tells its %s", what)
		}
	}
}

// The archive's rows hang together: every parent, event and occurrence is there, once
// (Darwin Core text guide, dwc.tdwg.org/text, and the event core of GBIF).
func TestDarwinCoreRowsHangTogether(t *testing.T) {
	in := smallInput(t)
	files := filesOf(t, in, smallHeading(in))
	events, kinds := map[string]string{}, map[string]int{}
	for _, e := range rowsOf(t, "event", files["darwin-core/event.csv"]) {
		if events[e["eventID"]] != "" || e["parentEventID"] != "" && events[e["parentEventID"]] == "" {
			t.Errorf("event %v is doubled, or its parent is not before it", e)
		}
		events[e["eventID"]] = e["eventType"]
		kinds[e["eventType"]]++
		if e["eventDate"] == "" || e["decimalLatitude"] != "52.1234" || e["geodeticDatum"] != "not recorded" {
			t.Errorf("event %v", e)
		}
	}
	if kinds["Site"] != 1 || kinds["Trial"] != 4 || kinds["Pass"] != 4 {
		t.Errorf("events: %v", kinds)
	}
	occurrences := map[string]bool{}
	for _, o := range rowsOf(t, "occurrence", files["darwin-core/occurrence.csv"]) {
		if events[o["eventID"]] != "Pass" || occurrences[o["occurrenceID"]] {
			t.Errorf("occurrence %v", o)
		}
		occurrences[o["occurrenceID"]] = true
		machine := o["basisOfRecord"] == "MachineObservation"
		if machine != strings.HasSuffix(o["eventID"], ":P1") || o["occurrenceStatus"] != "present" || o["scientificName"] == "" {
			t.Errorf("occurrence %v", o)
		}
	}
	seen, what := map[string]bool{}, map[string]int{}
	for _, m := range rowsOf(t, "measurement", files["darwin-core/extended-measurement-or-fact.csv"]) {
		if events[m["eventID"]] == "" || m["occurrenceID"] != "" && !occurrences[m["occurrenceID"]] || seen[m["measurementID"]] || m["measurementValue"] == "" {
			t.Errorf("measurement %v", m)
		}
		seen[m["measurementID"]] = true
		what[m["measurementType"]]++
	}
	if what["total length"] != 2 || what["disc width"] != 1 || what["electric field at the head, lower bound"] != 3 || what["current through each driven pair"] != 2 {
		t.Errorf("measurements: %v", what)
	}
}

// Every term of the archive is one of the published lists (testdata/darwin-core-terms.txt
// says where they are from).
func TestTermsArePublished(t *testing.T) {
	list, err := os.ReadFile("testdata/darwin-core-terms.txt")
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{}
	for line := range strings.SplitSeq(string(list), "\n") {
		if line != "" && !strings.HasPrefix(line, "#") {
			known[line] = true
		}
	}
	in := smallInput(t)
	meta := filesOf(t, in, smallHeading(in))[dossier.MetaFile]
	terms := regexp.MustCompile(`(?:term|rowType)="([^"]+)"`).FindAllStringSubmatch(string(meta), -1)
	if len(terms) < 40 {
		t.Fatalf("only %d terms found", len(terms))
	}
	for _, m := range terms {
		if !known[m[1]] {
			t.Errorf("%s is in no published list", m[1])
		}
	}
}

func TestRefusesWhatCannotBeWritten(t *testing.T) {
	if _, err := dossier.DataFiles(dossier.Input{}); err == nil {
		t.Error("a dossier of no study was made")
	}
	for _, name := range []string{"../x.jpg", "a b.jpg", "é.jpg", "", "/x", "a//b", ".hidden", "a\nb"} {
		in := smallInput(t)
		in.Photos = map[string][]byte{name: nil}
		if _, err := dossier.DataFiles(in); err == nil {
			t.Errorf("a photo called %q was taken in", name)
		}
	}
	in := smallInput(t)
	if _, err := dossier.Wrap(in, smallHeading(in), []dossier.File{{Name: "a/b.csv", Bytes: []byte("x,y\n1\n")}}); err == nil || !strings.Contains(err.Error(), "a/b.csv") {
		t.Errorf("a broken table: %v", err)
	}
	if _, err := dossier.Wrap(in, smallHeading(in), []dossier.File{{Name: "a"}, {Name: "A"}}); err == nil {
		t.Error("two files of one name were taken in")
	}
}

// docs/formats/package.md lists every column of every derived table.
func TestPageListsEveryColumn(t *testing.T) {
	page, err := os.ReadFile("../../docs/formats/package.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range dossier.Tables(smallInput(t)) {
		if !strings.Contains(string(page), "tables/"+table.Name+".csv") && !strings.Contains(string(page), "`"+table.Name+".csv`") && !strings.Contains(string(page), ", "+table.Name+".csv") {
			t.Errorf("the page does not name the table %s", table.Name)
		}
		for _, c := range table.Columns {
			if !strings.Contains(string(page), "`"+c.Name+"`") {
				t.Errorf("the page does not list %s of tables/%s.csv", c.Name, table.Name)
			}
			if c.What == "" || c.Title == "" {
				t.Errorf("%s of tables/%s.csv says nothing of what it holds", c.Name, table.Name)
			}
		}
	}
}
