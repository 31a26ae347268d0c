package dossier

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

var figureNames = []string{
	"timeline", "field-map", "field-section", "range-at-height", "turns",
	"preference", "individuals", "threshold-curves", "sensitivity",
}

func figureOf(t testing.TB, in Input, name string) Figure {
	t.Helper()
	for _, f := range Figures(in) {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no figure %q", name)
	return Figure{}
}

func captionOf(f Figure) string {
	var b strings.Builder
	for _, r := range f.Caption {
		b.WriteString(r.Text)
	}
	return b.String()
}

func TestFiguresAreAllThere(t *testing.T) {
	figures := Figures(sampleInput())
	for i, f := range figures {
		if f.Name != figureNames[i] {
			t.Errorf("figure %d is %q, want %q", i, f.Name, figureNames[i])
		}
		if f.Why != "" || len(f.Panels) == 0 || len(f.Data) < 2 || f.Columns < 1 {
			t.Errorf("%s: why %q, %d panels, %d tables, %d columns", f.Name, f.Why, len(f.Panels), len(f.Data), f.Columns)
		}
		if !strings.HasPrefix(captionOf(f), "Invented data. ") || !strings.HasPrefix(f.Alt, "Invented data. ") || !strings.Contains(f.Panels[0].Title, inventedMark) {
			t.Errorf("%s does not say that its data are invented: %q, %q, %q", f.Name, captionOf(f), f.Alt, f.Panels[0].Title)
		}
		for k, table := range f.Data {
			want := f.Name
			if k > 0 {
				want += fmt.Sprintf("-%d", k+1)
			}
			if table.Name != want || len(table.Columns) == 0 {
				t.Errorf("%s: table %d is %q with %d columns", f.Name, k, table.Name, len(table.Columns))
			}
			for _, row := range table.Rows {
				if len(row) != len(table.Columns) {
					t.Fatalf("%s: a row of %d cells under %d columns: %v", table.Name, len(row), len(table.Columns), row)
				}
			}
		}
	}
	if len(figures) != len(figureNames) {
		t.Errorf("%d figures", len(figures))
	}
}

// Every number of a caption and of a text for who cannot see stands in the table of
// the caption's numbers, there with all its digits.
func TestNumbersOfCaptionsAreData(t *testing.T) {
	number := regexp.MustCompile(`\d{1,3}(?:\x{a0}\d{3})+|\d+(?:\.\d+)?`)
	// "95 %" is the level of every interval; "< 0.001" a bound, not a number.
	fixedParts := regexp.MustCompile(`95\x{a0}% |p\x{a0}<\x{a0}0\.001`)
	tokens := func(text string) []string {
		return number.FindAllString(fixedParts.ReplaceAllString(text, ""), -1)
	}
	for _, f := range Figures(sampleInput()) {
		said := f.Data[len(f.Data)-1]
		if !strings.HasSuffix(said.Title, "numbers of the caption") {
			t.Errorf("%s: the last table is %q", f.Name, said.Title)
			continue
		}
		known := map[string]bool{}
		var exact []float64
		for _, row := range said.Rows {
			for _, word := range tokens(row[0].Text + " " + row[1].Text) {
				known[word] = true
			}
			if v, err := strconv.ParseFloat(row[1].Exact, 64); err == nil {
				exact = append(exact, v)
			}
		}
		for _, word := range tokens(captionOf(f) + " " + f.Alt) {
			_, decimals, _ := strings.Cut(word, ".")
			found := known[word] || slices.ContainsFunc(exact, func(v float64) bool {
				return strconv.FormatFloat(math.Abs(v), 'f', len(decimals), 64) == word
			})
			if !found {
				t.Errorf("%s: %q is in the caption and not in the data:\n%s\n%s", f.Name, word, captionOf(f), f.Alt)
			}
		}
	}
}

// What is told apart in a panel differs in more than its tone.
func TestLooksDifferInGreyscale(t *testing.T) {
	for _, f := range Figures(sampleInput()) {
		for _, p := range f.Panels {
			seen := map[string]string{}
			for _, e := range p.Legend {
				key := fmt.Sprint(e.Look.Dash, e.Look.Mark, e.Look.Fill, e.Look.Hatch)
				if other, ok := seen[key]; ok {
					t.Errorf("%s: %q and %q look alike: %+v", f.Name, e.Text, other, e.Look)
				}
				seen[key] = e.Text
			}
		}
	}
}

func TestSameFiguresTwice(t *testing.T) {
	if a, b := fmt.Sprintf("%v", Figures(sampleInput())), fmt.Sprintf("%v", Figures(sampleInput())); a != b {
		t.Error("the same input gave other figures")
	}
}

// checkLayers walks everything that is drawn: no NaN, infinity only where the
// shape allows it, nothing at or below 0 on a logarithmic axis.
func checkLayers(t testing.TB, figures []Figure) {
	t.Helper()
	for _, f := range figures {
		if (f.Why == "") != (len(f.Panels) > 0) {
			t.Errorf("%s: %d panels, why %q", f.Name, len(f.Panels), f.Why)
		}
		if len(f.Caption) == 0 || f.Alt == "" || f.Title == "" {
			t.Errorf("%s has no words", f.Name)
		}
		for _, p := range f.Panels {
			checkAxis(t, f.Name, p.X)
			checkAxis(t, f.Name, p.Y)
			walk(t, f.Name, "legend", reflect.ValueOf(p.Legend))
			for _, l := range p.Layers {
				walk(t, f.Name, reflect.TypeOf(l).Name(), reflect.ValueOf(l))
				if p.X.Log {
					checkPositive(t, f.Name, l)
				}
			}
		}
		for _, table := range f.Data {
			for _, row := range table.Rows {
				for _, c := range row {
					if strings.Contains(c.Exact, "NaN") || strings.Contains(c.Exact, "Inf") {
						t.Fatalf("%s: a cell holds %q", table.Name, c.Exact)
					}
				}
			}
		}
		if text := captionOf(f) + f.Alt; strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.Contains(text, "%!") {
			t.Errorf("%s: %s", f.Name, text)
		}
	}
}

func checkAxis(t testing.TB, name string, a Axis) {
	t.Helper()
	walk(t, name, "axis", reflect.ValueOf(a))
	if !(a.Min < a.Max) || a.Log && a.Min <= 0 {
		t.Errorf("%s: axis %q from %g to %g", name, a.Label, a.Min, a.Max)
	}
}

func checkPositive(t testing.TB, name string, l Layer) {
	t.Helper()
	var at []XY
	switch l := l.(type) {
	case Line:
		at = l.At
	case Area:
		at = l.At
	case Points:
		at = l.At
		if len(l.Low) != len(l.High) || len(l.Low) != 0 && len(l.Low) != len(l.At) {
			t.Errorf("%s: %d marks, %d and %d ends", name, len(l.At), len(l.Low), len(l.High))
		}
	}
	for _, v := range at {
		if v.X <= 0 {
			t.Fatalf("%s: %T at %g on a logarithmic axis", name, l, v.X)
		}
	}
}

func walk(t testing.TB, figure, path string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		x := v.Float()
		nan := strings.HasSuffix(path, ".Value") // of a grid: not known
		inf := path == "Points.Low" || path == "Points.High"
		if math.IsNaN(x) && !nan || math.IsInf(x, 0) && !inf {
			t.Fatalf("%s: %s is %g", figure, path, x)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			walk(t, figure, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(t, figure, path, v.Index(i))
		}
	}
}

func TestLayersHoldNumbers(t *testing.T) { checkLayers(t, Figures(sampleInput())) }

func TestFiguresOfSparseInputs(t *testing.T) {
	cases := map[string]func(*Input){
		"nothing":     func(in *Input) { *in = Input{} },
		"no study":    func(in *Input) { in.Study = nil },
		"no passes":   func(in *Input) { in.Passes = nil },
		"one pass":    func(in *Input) { in.Passes = in.Passes[:1] },
		"no findings": func(in *Input) { in.Findings = Findings{} },
		"no species":  func(in *Input) { in.Study.Species = nil },
		"no pairs":    func(in *Input) { in.Study.Pairs = nil },
		"no trials":   func(in *Input) { in.Study.Trials = nil },
		"one trial":   func(in *Input) { in.Study.Trials = in.Study.Trials[:1] },
		"all sealed": func(in *Input) {
			in.Findings, in.Maps, in.Ranges = Findings{}, nil, nil
			for i := range in.Study.Trials {
				in.Study.Trials[i].Sealed, in.Study.Trials[i].ActivePairs = true, nil
			}
			for i := range in.Passes {
				in.Passes[i].Role, in.Passes[i].Used = "", ptr(false)
			}
		},
		"turns at one place": func(in *Input) {
			for i := range in.Passes {
				in.Passes[i].HeadXCm, in.Passes[i].HeadYCm = ptr(0.0), ptr(0.0)
			}
		},
	}
	for name, change := range cases {
		t.Run(name, func(t *testing.T) {
			in := sampleInput()
			change(&in)
			figures := Figures(in)
			if len(figures) != len(figureNames) {
				t.Errorf("%d figures", len(figures))
			}
			checkLayers(t, figures)
		})
	}
	in := sampleInput()
	cases["all sealed"](&in)
	for _, f := range Figures(in) {
		if f.Name != "timeline" && f.Why == "" {
			t.Errorf("%s is drawn although all is sealed", f.Name)
		}
	}
	f := figureOf(t, in, "timeline")
	if text := fmt.Sprint(f.Panels, f.Caption, f.Alt, f.Data[0].Rows); strings.Contains(text, "driven") || strings.Contains(text, "silent") {
		t.Errorf("the timeline tells roles of sealed trials: %s", text)
	}
	if f := figureOf(t, in, "preference"); f.Why != "all trials with passes are sealed" {
		t.Errorf("why: %q", f.Why)
	}
}

// FuzzFigures changes numbers of an input at random places into odd ones.
func FuzzFigures(f *testing.F) {
	for seed := range uint64(24) {
		f.Add(seed*0x9e3779b97f4a7c15+1, uint8(seed*9))
	}
	f.Fuzz(func(t *testing.T, state uint64, often uint8) {
		in := sampleInput()
		spoil(reflect.ValueOf(&in).Elem(), &state, uint64(often)+2, 0)
		checkLayers(t, Figures(in))
	})
}

var oddNumbers = []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e-300, 1e300, -1e9, math.MaxFloat64}

func spoil(v reflect.Value, state *uint64, often uint64, depth int) {
	next := func(n uint64) uint64 {
		*state ^= *state << 13
		*state ^= *state >> 7
		*state ^= *state << 17
		return *state % n
	}
	if depth > 14 {
		return
	}
	if _, ok := v.Interface().(time.Time); ok {
		if next(often) == 0 && v.CanSet() {
			v.Set(reflect.ValueOf(time.Unix(int64(next(8e9))-4e9, 0)))
		}
		return
	}
	switch v.Kind() {
	case reflect.Float64:
		if next(often) == 0 && v.CanSet() {
			v.SetFloat(oddNumbers[next(uint64(len(oddNumbers)))])
		}
	case reflect.Int:
		if next(often*4) == 0 && v.CanSet() {
			v.SetInt(int64(next(9)) - 3)
		}
	case reflect.Pointer:
		if v.IsNil() || v.Type() == reflect.TypeFor[*time.Location]() {
			return
		}
		if next(often*2) == 0 && v.CanSet() && v.Type() != reflect.TypeFor[*study.Study]() {
			v.SetZero()
			return
		}
		spoil(v.Elem(), state, often, depth+1)
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanInterface() {
				spoil(v.Field(i), state, often, depth+1)
			}
		}
	case reflect.Slice:
		if next(often*4) == 0 && v.CanSet() && v.Len() > 0 {
			v.SetLen(int(next(uint64(v.Len()))))
		}
		for i := range v.Len() {
			spoil(v.Index(i), state, often, depth+1)
		}
	}
}

// Newcombe (Stat. Med. 17, 857–872, 1998), table I, method 3: printed to four
// decimals.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718},
	} {
		low, high := wilson(c.k, c.n)
		tol := numtest.Tolerance{Abs: 5e-5}
		numtest.Check(t, fmt.Sprintf("low of %d/%d", c.k, c.n), low, c.low, tol)
		numtest.Check(t, fmt.Sprintf("high of %d/%d", c.k, c.n), high, c.high, tol)
	}
	if low, high := wilson(20, 20); high != 1 || math.Abs(1-low-0.1611) > 5e-5 {
		t.Errorf("20 of 20: %g to %g is not the mirror of 0 of 20", low, high)
	}
}

func TestPrintedNumbers(t *testing.T) {
	for _, c := range []struct {
		got, want string
	}{
		{printed(17.24, 3), "17.2"},
		{printed(9.996, 3), "10.0"},
		{printed(0.0031, 3), "0.00310"},
		{printed(5123.4, 3), "5120"},
		{printed(-2.5, 2), "\u22122.5"},
		{printed(0, 3), "0"},
		{trimmed(5, 3), "5"},
		{trimmed(0.08, 3), "0.08"},
		{trimmed(1200, 2), "1200"},
		{printedWhole(9999), "9999"},
		{printedWhole(1234567), "1\u00a0234\u00a0567"},
		{printedP(5e-38), "p\u00a0<\u00a00.001"},
		{printedP(0.0001), "p\u00a0<\u00a00.001"},
		{printedP(0.0446), "p\u00a0=\u00a00.045"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	for _, c := range [][2]float64{{0.3, 0.5}, {1, 1}, {1.01, 2}, {47, 50}, {0.0101, 0.02}} {
		numtest.Check(t, fmt.Sprintf("step of at least %g", c[0]), niceStep(c[0]), c[1], numtest.Tolerance{Rel: 1e-12})
	}
	if low, high := logSpan(3, 70); low != 2 || high != 100 {
		t.Errorf("3 to 70 stands on %g to %g", low, high)
	}
	if low, high := logSpan(5); low >= 5 || high < 9.99*low {
		t.Errorf("5 stands on %g to %g", low, high)
	}
}
