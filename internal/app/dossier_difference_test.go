package app_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"brinefield/internal/app"
)

func compared(t testing.TB, old, young map[string][]byte, program app.Program) app.DossierDifference {
	t.Helper()
	doc, err := app.ComparePackages(t.Context(), packed(t, old), packed(t, young), program, nil)
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// quoted is one of the numbers that a reader quotes.
func quoted(t testing.TB, doc app.DossierDifference, what string) app.DossierChange {
	t.Helper()
	i := slices.IndexFunc(doc.Numbers, func(c app.DossierChange) bool { return c.What == what })
	if i < 0 {
		t.Fatalf("nothing is said of %s", what)
	}
	return doc.Numbers[i]
}

const tankMedian = "Detection median of Scyliorhinus canicula"

func medianOf(t testing.TB, in app.Input) float64 {
	t.Helper()
	a := must(app.Analyse(t.Context(), in, must(app.ReadSeason(in)), app.AnalyseOptions{Seed: 1}))
	for _, d := range a.Findings.Detection {
		if "Detection median of "+d.Species == tankMedian && d.Median != nil {
			return *d.Median
		}
	}
	t.Fatal("no median")
	return 0
}

func seasonWith(t testing.TB, file, was, now string) app.Input {
	in := tankSeason(t)
	if !bytes.Contains(in[file], []byte(was)) {
		t.Fatalf("%s does not hold %q", file, was)
	}
	in[file] = bytes.Replace(in[file], []byte(was), []byte(now), 1)
	return in
}

// Each cause alone moves the numbers in its own step, and both together add up:
// checked against analyses of seasons that were changed by hand.
func TestDifferenceByCause(t *testing.T) {
	long(t)
	old := tankPackage(t)
	const turn, noTurn = "P003,T01,2025-09-03T09:05:43,SC03,Scyliorhinus canicula,B,yes,no,V003,B,3.76", "P003,T01,2025-09-03T09:05:43,SC03,Scyliorhinus canicula,B,no,no,V003,,"
	data := seasonWith(t, "passes.csv", turn, noTurn)
	model := seasonWith(t, "study.toml", "reaction_time_s = 0.08", "reaction_time_s = 0.2")
	both := seasonWith(t, "passes.csv", turn, noTurn)
	both["study.toml"] = model["study.toml"]
	before, withData, withModel, withBoth := medianOf(t, tankSeason(t)), medianOf(t, data), medianOf(t, model), medianOf(t, both)
	if before == withData || before == withModel {
		t.Fatal("the changes move nothing: the test looks at the wrong ones")
	}
	for name, c := range map[string]struct {
		in           app.Input
		model, data  float64
		by           []string
		causes, told []string
	}{
		"nothing": {tankSeason(t), before, before, nil, nil, nil},
		"data": {data, before, withData, []string{"data"}, []string{"data"}, []string{
			"passes.csv: turned changed in 1 row: P003 yes → no", "passes.csv: onset_s changed in 1 row: P003 3.76 → not recorded",
		}},
		"model": {model, withModel, withModel, []string{"model"}, []string{"model"}, []string{"study.toml, [analysis] reaction_time_s: 0.08 → 0.2"}},
		"both":  {both, withModel, withBoth, nil, []string{"data", "model"}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			doc := compared(t, old, packageOf(t, c.in, testProgram), testProgram)
			n := quoted(t, doc, tankMedian)
			for what, pair := range map[string][2]float64{"old": {*n.Old, before}, "program": {*n.Program, before}, "model": {*n.Model, c.model}, "data": {*n.Data, c.data}, "new": {*n.New, c.data}} {
				if math.Abs(pair[0]-pair[1]) > 1e-12*pair[1] {
					t.Errorf("%s: %v; want %v", what, pair[0], pair[1])
				}
			}
			if name != "both" && !slices.Equal(n.By, append([]string{}, c.by...)) || name == "both" && len(n.By) != 2 {
				t.Errorf("moved by %v", n.By)
			}
			var causes, told []string
			for _, cause := range doc.Causes {
				causes, told = append(causes, cause.Cause), append(told, cause.What...)
			}
			if !slices.Equal(causes, c.causes) {
				t.Errorf("the causes are %v", doc.Causes)
			}
			for _, want := range c.told {
				if !slices.Contains(told, want) {
					t.Errorf("nothing says %q: %q", want, told)
				}
			}
			if len(doc.Note) > 0 || doc.Old.Passes != 150 || doc.New.Trials != 18 {
				t.Errorf("%q, %+v", doc.Note, doc.Old)
			}
		})
	}
}

// Rows that come and go are told by table; a pass that met another field with the
// cause; a season without faults only can be worked out.
func TestDifferenceOfRowsAndPasses(t *testing.T) {
	in := tankSeason(t)
	lines := strings.SplitAfter(string(in["passes.csv"]), "\n")
	gone, _, _ := strings.Cut(lines[10], ",")
	in["passes.csv"] = []byte(strings.Join(slices.Delete(lines, 10, 11), ""))
	in["tracks.csv"] = regexp.MustCompile("(?m)^"+gone+",.*\n").ReplaceAll(in["tracks.csv"], nil)
	in["trials.csv"] = bytes.Replace(in["trials.csv"], []byte(",C,8\n"), []byte(",C,10\n"), 1)
	doc := compared(t, tankPackage(t), packageOf(t, in, testProgram), testProgram)
	var told []string
	for _, c := range doc.Causes {
		told = append(told, c.What...)
	}
	for _, want := range []string{"passes.csv: 1 row removed (" + gone + ")", "tracks.csv: 1 track removed (" + gone + ")", "trials.csv: current_uA changed in 1 row: T01 8 → 10"} {
		if !slices.Contains(told, want) {
			t.Errorf("nothing says %q: %q", want, told)
		}
	}
	if len(doc.Passes) == 0 || doc.New.Passes != 149 {
		t.Fatalf("%d passes changed of %d", len(doc.Passes), doc.New.Passes)
	}
	for _, p := range doc.Passes {
		var was, now float64
		if p.Cause != "data" {
			t.Errorf("%+v", p)
		}
		if _, err := fmt.Sscan(p.Was+" "+p.Now, &was, &now); err == nil && was > 0 && math.Abs(now/was-1.25) > 1e-9 { // the field follows the current
			t.Errorf("%+v; want a quarter more", p)
		}
	}
}

// The words of the dossier and the version of the program are causes of their own; a
// number that another version worked out differently is told as its step.
func TestDifferenceOfProgramAndChoices(t *testing.T) {
	young := tankPackage(t)
	var h map[string]any
	if err := json.Unmarshal(young["dossier.json"], &h); err != nil {
		t.Fatal(err)
	}
	h["program"] = map[string]any{"version": "2", "commit": "f00", "os_arch": "linux/arm64"}
	h["spec"].(map[string]any)["licence"] = "CC0-1.0"
	young["dossier.json"] = must(json.Marshal(h))
	_, value, _ := strings.Cut(string(young["results/findings.json"]), `"detection": [`)
	_, value, _ = strings.Cut(value, `"median_nV_per_cm": `)
	value, _, _ = strings.Cut(value, ",")
	replaced(t, young, "results/findings.json", `"median_nV_per_cm": `+value, `"median_nV_per_cm": 1`+value)
	doc := compared(t, tankPackage(t), young, testProgram)
	told := fmt.Sprint(doc.Causes)
	for _, want := range []string{"made by brinefield 1 (abc) on linux/amd64 → brinefield 2 (f00) on linux/arm64", "licence: CC-BY-4.0 → CC0-1.0"} {
		if !strings.Contains(told, want) {
			t.Errorf("nothing says %q: %s", want, told)
		}
	}
	moved := 0
	for _, n := range doc.Numbers {
		if len(n.By) > 0 {
			moved++
			if !slices.Equal(n.By, []string{"program"}) {
				t.Errorf("%s is moved by %v", n.What, n.By)
			}
		}
	}
	if moved == 0 {
		t.Error("no number is said to have moved")
	}
}

// A season that cannot be read is compared as far as its results go, and that is
// said.
func TestDifferenceOfFaultyPackages(t *testing.T) {
	young := replaced(t, tankPackage(t), "season/study.toml", "pass_radius_cm", "pass_radios_cm")
	doc := compared(t, tankPackage(t), young, testProgram)
	n := quoted(t, doc, tankMedian)
	if len(doc.Note) == 0 || !strings.Contains(doc.Note[0], "was not worked out again") || n.Old == nil || n.New == nil || n.Data != nil || n.Model != nil {
		t.Errorf("%q, %+v", doc.Note, n)
	}
}

// tankDrawn is the tank's season run by a drawn schedule.
func tankDrawn(t testing.TB) (app.Input, *app.ScheduleDocument) {
	t.Helper()
	seed := uint64(7)
	doc, err := app.DrawSchedule(app.ScheduleQuestion{Plan: app.SchedulePlan{Pairs: []string{"A", "B", "C"}, CurrentsUA: []float64{4, 8}, Trials: 18, Repeats: 1}, Seed: &seed}, nil, nil, testProgram)
	if err != nil {
		t.Fatal(err)
	}
	in := tankSeason(t)
	for _, file := range []string{"passes.csv", "trials.csv"} {
		in[file] = regexp.MustCompile(`\bT(\d\d)\b`).ReplaceAll(in[file], []byte("T0$1"))
	}
	lines := strings.Split(strings.TrimSpace(string(in["trials.csv"])), "\n")
	for i := range doc.Trials {
		cells := strings.Split(lines[i+1], ",")
		cells[3], cells[4] = doc.Trials[i].ActivePair, fmt.Sprint(*doc.Trials[i].CurrentUA)
		lines[i+1] = strings.Join(cells, ",")
	}
	in["trials.csv"] = []byte(strings.Join(lines, "\n") + "\n")
	return in, &doc
}

// The schedule is checked against its seal, and the season against the schedule.
func TestSealOfAPackage(t *testing.T) {
	in, doc := tankDrawn(t)
	whole := packageOf(t, in, testProgram)
	text := string(must(json.Marshal(doc)))
	first := doc.Trials[0]
	other := map[string]string{"A": "B", "B": "C", "C": "A"}[first.ActivePair]
	sealed := first
	sealed.Kind, sealed.ActivePair, sealed.CurrentUA, sealed.Odour, sealed.Nonce = "", "", nil, nil, ""
	doc.Trials[0] = sealed
	partly := string(must(json.Marshal(doc)))
	row := func(f map[string][]byte) string { return strings.Split(string(f["season/trials.csv"]), "\n")[1] }
	for name, c := range map[string]struct {
		schedule string
		change   func(f map[string][]byte)
		want     string // "" = nothing is wrong
	}{
		"as it was": {text, nil, ""},
		"other pair": {text, func(f map[string][]byte) {
			replaced(t, f, "season/trials.csv", row(f), strings.Replace(row(f), ","+first.ActivePair+",", ","+other+",", 1))
		}, fmt.Sprintf("season/trials.csv:2:active_pair: the season says %s in trial T001, and %s was drawn and sealed", other, first.ActivePair)},
		"other way": {text, func(f map[string][]byte) {
			replaced(t, f, "season/trials.csv", row(f), strings.Replace(row(f), ","+first.ActivePair+",", ","+first.ActivePair+",-", 1))
		}, "the opposite polarity was drawn"},
		"too much": {text, func(f map[string][]byte) {
			replaced(t, f, "season/trials.csv", row(f), strings.Replace(row(f), ","+first.ActivePair+",", ","+first.ActivePair+",1", 1))
		}, "µA was drawn and sealed"},
		"changed":     {strings.Replace(text, `"silent":0`, `"silent":1`, 1), nil, "study/schedule.json"},
		"not opened":  {partly, nil, "season/trials.csv:2:active_pair: the season says " + first.ActivePair + " in trial T001, and the schedule of this trial is still sealed"},
		"no schedule": {"{", nil, "this is no schedule"},
	} {
		t.Run(name, func(t *testing.T) {
			files := map[string][]byte{}
			for n, data := range whole {
				files[n] = data
			}
			files["study/schedule.json"] = []byte(c.schedule)
			if c.change != nil {
				c.change(files)
			}
			doc := checked(t, resealed(t, files))
			i := slices.IndexFunc(doc.Checked, func(p app.PackagePart) bool { return p.Part == "seal" })
			if c.want == "" {
				if !doc.Same || !strings.Contains(strings.Join(doc.Notes, "\n"), "the schedule is the sealed one: 18 trials, 18 opened, 18 run in the season") {
					t.Errorf("%q, %q", doc.Differences, doc.Notes)
				}
				return
			}
			if doc.Checked[i].Differences == 0 || !strings.Contains(strings.Join(doc.Differences, "\n"), c.want) {
				t.Errorf("%v: %q does not say %q", doc.Checked, doc.Differences, c.want)
			}
		})
	}
}
