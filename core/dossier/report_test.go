package dossier

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"brinefield/core/study"
)

// TestTextsAreAsRead compares the texts of a study in which everything was
// recorded, and of one in which nothing was, with those that were read and found
// right. BRINEFIELD_UPDATE=1 writes them anew: read what changed.
func TestTextsAreAsRead(t *testing.T) {
	for name, in := range map[string]Input{"recorded": recordedInput(), "empty": {}, "sealed": sealedInput()} {
		for kind, d := range map[string]Document{"report": Report(in, recordedFigures()), "methods": Methods(in, recordedFigures())} {
			if name == "empty" && kind == "methods" || name == "sealed" && kind == "methods" {
				continue // parts of the report
			}
			var b bytes.Buffer
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			e.SetIndent("", " ")
			if err := e.Encode(d); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join("testdata", kind+"-"+name+".json")
			if os.Getenv("BRINEFIELD_UPDATE") != "" {
				if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil || !bytes.Equal(want, b.Bytes()) {
				t.Errorf("%s is not the text that was read (%v): BRINEFIELD_UPDATE=1 go test ./core/dossier -run AsRead, then read what changed", file, err)
			}
		}
	}
}

// sealedInput is the study before anything was opened: no roles, no estimates.
func sealedInput() Input {
	in := recordedInput()
	for i := range in.Study.Trials {
		t := &in.Study.Trials[i]
		t.Sealed, t.ActivePairs, t.CurrentA = true, nil, study.Opt[float64]{}
		t.Waveform = "told by nobody"
	}
	for i := range in.Passes {
		in.Passes[i].Role, in.Passes[i].Used = "", nil
		in.Passes[i].NotUsedBecause = ""
	}
	in.Sealed = len(in.Study.Trials)
	in.Facts.Schedule.Openings, in.Facts.Schedule.AllOpened, in.Facts.Schedule.Balance = nil, false, ""
	in.Facts.Blinding.Guesses[0] = GuessFact{By: "Person 1", Guesses: 8}
	in.Maps, in.Ranges = nil, nil
	return in // the findings stay on purpose: a text must not print them
}

// TestSealedTellsNothing: a study of which nothing was opened prints no
// estimate, no current and no waveform, even where the input holds them.
func TestSealedTellsNothing(t *testing.T) {
	in := sealedInput()
	text := textOfDocument(Report(in, recordedFigures()))
	for _, secret := range []string{"32.4", "26.8", "9.01", "told by nobody", "68 of 126", "p < 0.001", "Right by chance"} {
		if strings.Contains(text, strings.ReplaceAll(secret, " ", thin)) || strings.Contains(text, secret) {
			t.Errorf("a sealed study prints %q", secret)
		}
	}
	if !strings.Contains(text, "nothing is estimated") {
		t.Error("a sealed study does not say why there are no estimates")
	}
	for _, row := range Checklist(in).Rows {
		if item := row[0].Text; (item == "10a" || item == "10b" || item == "1a") && row[4].Text != stateLacks {
			t.Errorf("item %s of a sealed study: %s", item, row[4].Text)
		}
	}
}

// TestChecklistFollowsTheStudy: a study with nothing lacks everything, one with
// everything has everything.
func TestChecklistFollowsTheStudy(t *testing.T) {
	for _, row := range Checklist(Input{}).Rows {
		if row[4].Text != stateLacks {
			t.Errorf("item %s of a study with nothing: %s (%s)", row[0].Text, row[4].Text, row[2].Text)
		}
	}
	all := Checklist(recordedInput())
	for _, row := range all.Rows {
		if row[4].Text != stateHas {
			t.Errorf("item %s of a study with everything: %s (%s)", row[0].Text, row[4].Text, row[2].Text)
		}
	}
	for item := 1; item <= 10; item++ { // the ten items of PLoS Biology 18(7): e3000410
		if !slices.ContainsFunc(all.Rows, func(row []Cell) bool {
			return strings.TrimRight(row[0].Text, "abcd") == strconv.Itoa(item)
		}) {
			t.Errorf("no row for item %d", item)
		}
	}
}

// TestChecklistPointsToSections: what stands under "where" is a heading of the
// report, or a file of the package.
func TestChecklistPointsToSections(t *testing.T) {
	under := ""
	places := map[string]bool{"season/trials.csv": true}
	for _, b := range Report(Input{}, nil).Blocks {
		if b.Kind != HeadingBlock {
			continue
		}
		if b.Level == 1 {
			under = textOf(b.Text)
			places[under] = true
			continue
		}
		places[under+": "+textOf(b.Text)] = true
	}
	for _, row := range Checklist(recordedInput()).Rows {
		if !places[row[3].Text] {
			t.Errorf("item %s points to %q, which the report does not have", row[0].Text, row[3].Text)
		}
	}
}

func TestLacksSayWhere(t *testing.T) {
	if got := Lacks(recordedInput()); len(got) != 0 {
		t.Errorf("a study with everything lacks %q", got)
	}
	none := Lacks(Input{})
	if len(none) < 20 || !strings.HasPrefix(none[0], "Authors") || !strings.HasPrefix(none[1], "Licence") {
		t.Errorf("a study with nothing lacks %d things, first %q", len(none), none)
	}
	page := regexp.MustCompile(`\(page (Dossier|Question|Schedule|Deck|Tables|Findings)\b.*\)\.$`)
	sealed := Lacks(sealedInput())
	for _, l := range append(none, sealed...) {
		if !page.MatchString(l) {
			t.Errorf("%q does not say on which page it is written", l)
		}
	}
	if !slices.ContainsFunc(sealed, func(l string) bool { return strings.HasPrefix(l, "Opened trials: 8 of 8") }) {
		t.Errorf("sealed trials are not named: %q", sealed)
	}
	if slices.ContainsFunc(LacksBeforeResults(sealedInput()), func(l string) bool { return strings.HasPrefix(l, "Opened trials") }) {
		t.Error("before results, sealed trials are named")
	}
}

// TestHeadlineIsTheFindings: every number of the headline table is that of the
// findings, with all its digits behind it and to its rounding in print.
func TestHeadlineIsTheFindings(t *testing.T) {
	in := recordedInput()
	var table *Table
	for _, b := range Report(in, nil).Blocks {
		if b.Kind == TableBlock && b.Table.Name == "headline" {
			table = b.Table
		}
	}
	if table == nil || len(table.Rows) != len(in.Findings.Detection) {
		t.Fatal("no headline table with a row for each species")
	}
	for i, row := range table.Rows {
		d := &in.Findings.Detection[i]
		p := in.Findings.Preference[slices.IndexFunc(in.Findings.Preference, func(p Preference) bool { return p.Species == d.Species })]
		passes, animals := float64(d.Passes), float64(d.Individuals)
		want := []*float64{nil, &passes, &animals, d.Median, d.CI95.Low, d.CI95.High, nil, nil, nil, p.RandomisationP}
		if p.LogOddsRatio != nil { // 1.96: the quantile to its usual three digits, here to 1e-4
			want[6], want[7], want[8] = ptr(math.Exp(*p.LogOddsRatio)), ptr(math.Exp(*p.LogOddsRatio-1.959964**p.SE)), ptr(math.Exp(*p.LogOddsRatio+1.959964**p.SE))
		} else {
			want[6], want[7] = ptr(math.Exp(*p.PenalisedLogOddsRatio)), ptr(math.Exp(*p.PenalisedCI95.Low))
		}
		for k := 1; k < len(row); k++ {
			if want[k] == nil {
				if row[k].Exact != "" {
					t.Errorf("%s, %s: %q where the findings have nothing", d.Species, table.Columns[k].Name, row[k].Exact)
				}
				continue
			}
			got, err := strconv.ParseFloat(row[k].Exact, 64)
			if err != nil || math.Abs(got-*want[k]) > 1e-6*math.Abs(*want[k]) {
				t.Errorf("%s, %s: %q, the findings say %v", d.Species, table.Columns[k].Name, row[k].Exact, *want[k])
			}
			printed, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimPrefix(row[k].Text, "p"+thin+"="+thin), "*"), 64)
			half := 0.005 // of the third digit: at most 0.5 %
			if table.Columns[k].Name == "randomisation_p" {
				half = 0.05 // two digits
			}
			if err != nil || math.Abs(printed-*want[k]) > half*math.Abs(*want[k]) {
				t.Errorf("%s, %s: printed %q, the findings say %v", d.Species, table.Columns[k].Name, row[k].Text, *want[k])
			}
		}
	}
}

// faulty are texts that no reader should see.
var faulty = regexp.MustCompile(`NaN|Inf\b|%!|<nil>|\( *\)|  |\{\}| [.,;:]|\.\.|: \.|\(,|, \)`)

func textOfDocument(d Document) string {
	var b strings.Builder
	line := func(s string) { b.WriteString(s + "\n") }
	line(d.Title)
	line(d.Subtitle)
	line(d.Authors)
	line(d.Date)
	for _, block := range d.Blocks {
		line(textOf(block.Text))
		for _, item := range block.Items {
			line(textOf(item))
		}
		if block.Table == nil {
			continue
		}
		line(block.Table.Title)
		line(block.Table.Note)
		for _, c := range block.Table.Columns {
			line(c.Title)
		}
		for _, row := range block.Table.Rows {
			for _, c := range row {
				line(c.Text)
			}
		}
	}
	return b.String()
}

// wellFormed holds of every document.
func wellFormed(t *testing.T, d Document, figures []Figure) {
	t.Helper()
	for line := range strings.SplitSeq(textOfDocument(d), "\n") {
		if bad := faulty.FindString(line); bad != "" {
			t.Errorf("%q in %q", bad, line)
		}
	}
	anchors := map[string]bool{}
	var drawn []string
	for _, b := range d.Blocks {
		switch b.Kind {
		case HeadingBlock:
			if anchors[b.Anchor] || b.Anchor == "" || len(b.Text) == 0 {
				t.Errorf("heading %q: anchor %q is blank or there already", textOf(b.Text), b.Anchor)
			}
			anchors[b.Anchor] = true
		case FigureBlock:
			drawn = append(drawn, b.Figure)
		case TableBlock:
			if anchors["table-"+b.Table.Name] || b.Table.Name == "" {
				t.Errorf("table %q: its name is blank or there already", b.Table.Name)
			}
			anchors["table-"+b.Table.Name] = true
			for _, row := range b.Table.Rows {
				if len(row) != len(b.Table.Columns) {
					t.Errorf("table %s: %d cells under %d columns", b.Table.Name, len(row), len(b.Table.Columns))
				}
			}
		case ListBlock:
			if len(b.Items) == 0 {
				t.Error("an empty list")
			}
		}
	}
	var given []string
	for i := range figures {
		given = append(given, figures[i].Name)
	}
	if !slices.Equal(drawn, given) {
		t.Errorf("figures %q, given were %q: each once, in their order", drawn, given)
	}
	for _, b := range d.Blocks {
		for _, runs := range append([][]Run{b.Text}, b.Items...) {
			for _, r := range runs {
				if at, here := strings.CutPrefix(r.Link, "#"); here && !anchors[at] {
					t.Errorf("%q leads to %q, which is not there", r.Text, r.Link)
				} else if r.Link != "" && !here && !strings.HasPrefix(r.Link, "https://") {
					t.Errorf("%q leads to %q: expected a place in the document, or https", r.Text, r.Link)
				}
			}
		}
	}
}

func TestDocumentsAreWellFormed(t *testing.T) {
	for name, in := range map[string]Input{"recorded": recordedInput(), "empty": {}, "sealed": sealedInput()} {
		t.Run(name, func(t *testing.T) {
			wellFormed(t, Report(in, recordedFigures()), recordedFigures())
			wellFormed(t, Methods(in, recordedFigures()), recordedFigures())
			if again := Report(in, recordedFigures()); !reflect.DeepEqual(again, Report(in, recordedFigures())) {
				t.Error("the same input gives another text")
			}
		})
	}
}

// FuzzSparse leaves out of a recorded study whatever the bits say, and puts
// numbers that are not finite in places: no text may show it.
func FuzzSparse(f *testing.F) {
	seeds := [][]byte{{7, 99, 3, 250, 17, 4, 201, 33, 66}, {1, 2, 4, 8, 16, 32, 64, 128}, {0}, {255, 255, 255, 255}, {0xaa, 0x55, 0xaa, 0x55, 0x0f}}
	if testing.Short() { // the race detector is slow, and nothing here runs at once
		seeds = seeds[:1]
	}
	for _, seed := range seeds {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, bits []byte) {
		in := recordedInput()
		s := &sparse{bits: bits}
		s.thin(reflect.ValueOf(&in).Elem(), 0)
		for i := range in.Study.Passes { // indices that a study without faults has
			p := &in.Study.Passes[i]
			p.Trial, p.Species, p.Pair = min(p.Trial, max(0, len(in.Study.Trials)-1)), min(p.Species, max(0, len(in.Study.Species)-1)), min(p.Pair, max(0, len(in.Study.Pairs)-1))
		}
		wellFormed(t, Report(in, recordedFigures()), recordedFigures())
		wellFormed(t, Methods(in, nil), nil)
		Lacks(in)
	})
}

// sparse blanks fields by bits.
type sparse struct {
	bits []byte
	at   int
}

func (s *sparse) next() byte {
	if len(s.bits) == 0 {
		return 0
	}
	b := s.bits[s.at%len(s.bits)] ^ byte(s.at*131>>3)
	s.at++
	return b
}

func (s *sparse) thin(v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() || v.Type() == reflect.TypeFor[*study.Study]() && depth > 0 {
			if !v.IsNil() {
				s.thin(v.Elem(), depth+1)
			}
			return
		}
		if v.Type().Elem().Kind() == reflect.Float64 && s.next()%11 == 3 {
			v.Set(reflect.ValueOf(ptr([]float64{math.NaN(), math.Inf(1), -1e300, 0}[s.next()%4])))
			return
		}
		if s.next()%4 == 1 && v.CanSet() {
			v.SetZero()
			return
		}
		s.thin(v.Elem(), depth+1)
	case reflect.Struct:
		if v.Type().PkgPath() == "time" {
			return
		}
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				s.thin(v.Field(i), depth+1)
			}
		}
	case reflect.Slice:
		if v.Len() > 0 && v.Type().Elem().Kind() != reflect.Uint8 {
			if s.next()%5 == 2 {
				v.Set(v.Slice(0, int(s.next())%(v.Len()+1)))
			}
			for i := range min(v.Len(), 3) {
				s.thin(v.Index(i), depth+1)
			}
		}
	case reflect.String:
		if s.next()%3 == 1 {
			v.SetString("")
		}
	case reflect.Bool:
		if s.next()%3 == 1 {
			v.SetBool(!v.Bool())
		}
	}
}
