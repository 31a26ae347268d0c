package journal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/study"
)

const (
	formatPage  = "../../docs/formats/journal.md"
	exampleDir  = "../../examples/02-check-a-journal"
	shownOnPage = 5 // the line of the example that the page shows
)

// exampleJournal is an invented study: the boat writes down a pass that the
// lab corrects, and takes the correction back.
func exampleJournal(t rapid.TB) []sealed {
	type fields = map[string]string
	ana, ben := HashOf([]byte("Ana, who is invented")).String(), HashOf([]byte("Ben, who is invented")).String()
	heads := map[string]Head{}
	var out []sealed
	write := func(device, after string, d Draft) sealed {
		t.Helper()
		offset, err := time.ParseDuration(after)
		if err != nil {
			t.Fatalf("%v", err)
		}
		stamp := stampAt(time.Date(2031, 6, 14, 10, 0, 0, 0, time.UTC).Add(offset), len(out)+1)
		stamp.MonotonicUS, stamp.Run = offset.Microseconds(), device+"-1"
		e, canonical, next, err := Seal(heads[device], device, d, stamp)
		if err != nil {
			t.Fatalf("%v", err)
		}
		heads[device] = next
		out = append(out, sealed{e, canonical, next.Hash})
		return out[len(out)-1]
	}
	write("boat", "1m", Draft{Author: ana, Kind: study.KindStudy, Act: Record, Body: Body{Fields: fields{"title": "Thornback rays of Kilbrack Bay (invented)"}}})
	write("boat", "2m", Draft{Author: ana, Kind: study.KindIndividual, Subject: "I1", Act: Record, Body: Body{Fields: fields{"species": "Raja clavata", "mark": "nick in the left wing"}}})
	write("boat", "31m12.48s", Draft{Author: ana, Kind: study.KindPass, Subject: "P00001", Act: Record, Body: Body{
		Fields: fields{"trial": "T001", "time": "2031-06-14T11:30:02+01:00", "individual": "I1", "species": "Raja clavata", "pair": "B", "turned": "no", "bit": "no", "scorer": ana},
	}})
	write("boat", "31m12.48s", Draft{Author: ana, Kind: study.KindTrack, Subject: "P00001", Act: Record, Body: Body{
		Table: &study.Table{Columns: []string{"t_s", "x_cm", "y_cm", "height_cm"}, Rows: [][]string{{"0", "-38.5", "12.0", "7.5"}, {"0.52", "-21.0", "9.5", "6.0"}}},
	}})
	turned := write("lab", "53h", Draft{
		Author: ben, Kind: study.KindPass, Subject: "P00001", Act: Correct, Reason: "turns at the end of the clip",
		Body: Body{Fields: fields{"turned": "yes", "onset_s": "0.52"}, Was: fields{"turned": "no", "onset_s": ""}},
	})
	write("lab", "53h4m", Draft{
		Author: ben, Kind: study.KindPass, Subject: "P00001", Act: Correct, Reason: "that was the next animal", Undoes: turned.entry.ID,
		Body: Body{Fields: fields{"turned": "no", "onset_s": ""}, Was: fields{"turned": "yes", "onset_s": "0.52"}},
	})
	write("boat", "54h", Draft{Author: ana, Kind: study.KindIndividual, Subject: "I1", Act: Remove, Reason: "the mark is not certain"})
	return out
}

// TestTheExampleJournalIsTrue: the journal beside the script is what this
// program writes. UPDATE=1 writes it again: read the difference.
func TestTheExampleJournalIsTrue(t *testing.T) {
	var want []byte
	for _, e := range exampleJournal(t) {
		want = append(append(want, e.canonical...), '\n')
	}
	name := filepath.Join(exampleDir, "journal.jsonl")
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(name, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, name, string(want), string(got))
}

// TestTheFormatPageIsTrue: the page shows an entry as it is written, and names
// every key, act and kind.
func TestTheFormatPageIsTrue(t *testing.T) {
	data, err := os.ReadFile(formatPage)
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	line := string(exampleJournal(t)[shownOnPage-1].canonical)
	if !strings.Contains(page, "```json\n"+line+"\n```") {
		t.Errorf("the page does not show line %d of the example:\n%s", shownOnPage, line)
	}
	var marks []string
	for _, typ := range []reflect.Type{reflect.TypeFor[wire](), reflect.TypeFor[Body](), reflect.TypeFor[study.Table]()} {
		for i := range typ.NumField() {
			key, omitted, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			mark := "| `" + key + "`"
			if omitted != "" {
				mark += "°"
			}
			marks = append(marks, mark+" |")
		}
	}
	for _, act := range []Act{Record, Correct, Remove} {
		marks = append(marks, "`"+string(act)+"`")
	}
	kinds := append(slices.Clone(study.SeasonKinds), study.KindAssignment, study.KindProtocol, study.KindPermit, study.KindCaution, study.KindImport, study.KindOpening, study.KindErasure)
	for _, kind := range kinds {
		marks = append(marks, "`"+string(kind)+"`")
		if Latest(kind) != 1 {
			t.Errorf("the page says that every kind is at version 1: %s is at %d", kind, Latest(kind))
		}
	}
	for _, mark := range marks {
		if !strings.Contains(page, mark) {
			t.Errorf("the page does not say %s", mark)
		}
	}
}

// python is the interpreter itself: python3 may be a slow wrapper of it.
var python = sync.OnceValues(func() (string, error) {
	out, err := exec.Command("python3", "-c", "import sys; print(sys.executable)").Output()
	return strings.TrimSpace(string(out)), err
})

// checkPy runs the script of the example, or skips where Python is missing.
func checkPy(t *testing.T, journal []byte) (said string, ok bool) {
	t.Helper()
	python, err := python()
	if err != nil {
		t.Skipf("the script of the example needs Python 3: %v", err)
	}
	name := filepath.Join(t.TempDir(), "journal.jsonl")
	if err := os.WriteFile(name, journal, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, filepath.Join(exampleDir, "check.py"), name).CombinedOutput()
	return strings.TrimSuffix(string(out), "\n"), err == nil
}

// TestTheScriptOfTheExample finds what Chain finds, knowing nothing of this
// program, and its page shows what it prints.
func TestTheScriptOfTheExample(t *testing.T) {
	whole, err := os.ReadFile(filepath.Join(exampleDir, "journal.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	chains := map[string]*Chain{"boat": {Device: "boat"}, "lab": {Device: "lab"}}
	for _, e := range exampleJournal(t) {
		if _, err := chains[e.entry.Device].Next(e.canonical, e.hash); err != nil {
			t.Fatal(err)
		}
	}
	said, ok := checkPy(t, whole)
	want := fmt.Sprintf("boat: %d entries, the last %s\nlab: %d entries, the last %s", chains["boat"].Head.Seq, chains["boat"].Head.Hash, chains["lab"].Head.Seq, chains["lab"].Head.Hash)
	if !ok || said != want {
		t.Errorf("got\n%s\nwant\n%s", said, want)
	}
	for _, name := range []string{formatPage, filepath.Join(exampleDir, "README.md")} {
		page, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if shown := "    " + strings.ReplaceAll(want, "\n", "\n    ") + "\n"; !strings.Contains(string(page), shown) {
			t.Errorf("%s does not show what the script prints:\n%s", name, shown)
		}
	}

	// A change of the last entry is no break: only its hash tells.
	last := bytes.Replace(whole, []byte("not certain"), []byte("certain"), 1)
	if said, ok := checkPy(t, last); !ok || said == want || !strings.HasPrefix(said, "boat: 5 entries, the last ") {
		t.Errorf("the last entry changed: %s", said)
	}

	lines := bytes.SplitAfter(whole, []byte("\n"))
	with := func(change func(l [][]byte) [][]byte) []byte { return bytes.Join(change(slices.Clone(lines)), nil) }
	for name, c := range map[string]struct {
		journal []byte
		want    string
	}{
		"changed":   {bytes.Replace(whole, []byte("-38.5"), []byte("-18.5"), 1), "line 7: the journal of device boat breaks at entry 5"},
		"dropped":   {with(func(l [][]byte) [][]byte { return slices.Delete(l, 1, 2) }), "line 2: the journal of device boat breaks at entry 2"},
		"doubled":   {with(func(l [][]byte) [][]byte { return slices.Insert(l, 1, l[0]) }), "line 2: the journal of device boat breaks at entry 2"},
		"swapped":   {with(func(l [][]byte) [][]byte { l[4], l[5] = l[5], l[4]; return l }), "line 5: the journal of device lab breaks at entry 1"},
		"cut off":   {whole[:len(whole)-9], "the last line is cut off"},
		"not JSON":  {append([]byte("{]\n"), whole...), "line 1 is no entry"},
		"not one":   {[]byte("[]\n"), "line 1 is no entry"},
		"no device": {[]byte("{}\n"), "line 1 is no entry"},
		"a list":    {[]byte(`{"device":[],"seq":1,"previous":""}` + "\n"), "line 1 is no entry"},
	} {
		if said, ok := checkPy(t, c.journal); ok || said != c.want {
			t.Errorf("%s: %s", name, said)
		}
	}
}

// TestTheExampleFolds as its pages tell.
func TestTheExampleFolds(t *testing.T) {
	states := map[string]*State{}
	for _, e := range exampleJournal(t) {
		key := string(e.entry.Kind) + " " + e.entry.Subject
		s, err := Apply(states[key], e.entry)
		if err != nil {
			t.Fatal(err)
		}
		states[key] = s
	}
	pass, individual, track := states["pass P00001"], states["individual I1"], states["track P00001"]
	if pass.Fields["turned"] != "no" || pass.Entries != 3 {
		t.Errorf("the pass: %+v", pass)
	}
	if _, there := pass.Fields["onset_s"]; there {
		t.Error("the undone onset is still there")
	}
	if !individual.Removed || individual.Fields["species"] != "Raja clavata" {
		t.Errorf("the individual: %+v", individual)
	}
	if len(track.Table.Rows) != 2 {
		t.Errorf("the track: %+v", track)
	}
	body, err := json.Marshal(pass.Fields)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "fields in a row", 8, len(pass.Fields))
	differ(t, "no reference is a name", false, bytes.Contains(body, []byte("Ana")))
}
