package season_test

import (
	"encoding/binary"
	"encoding/csv"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/season"
)

// sheet is how a spreadsheet may save a table.
type sheet struct {
	separator    string
	decimalComma bool
	lineEnd      string
	quoteAll     bool
	spaces       bool // round the cells, some of them non-breaking
	blankColumns int
	blankEvery   int // a blank row after every so many, 0 = none
	shuffle      []int
	sepLine      bool
	noLastBreak  bool
	encoding     string // "", "bom", "utf-16le", "utf-16be", "utf-16 without a mark"
}

// save writes a clean table the way of the sheet. The numbers and only they
// are given decimal commas.
func (s sheet) save(t testing.TB, clean []byte) []byte {
	records, err := csv.NewReader(strings.NewReader(string(clean))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if s.sepLine {
		b.WriteString("sep=" + s.separator + s.lineEnd)
	}
	for i, record := range records {
		cells := make([]string, 0, len(record)+s.blankColumns)
		for k := range record {
			if len(s.shuffle) == len(record) {
				k = s.shuffle[k]
			}
			cells = append(cells, s.cell(record[k], i > 0))
		}
		for range s.blankColumns {
			cells = append(cells, "")
		}
		b.WriteString(strings.Join(cells, s.separator))
		if !s.noLastBreak || i < len(records)-1 {
			b.WriteString(s.lineEnd)
		}
		if s.blankEvery > 0 && i > 0 && i%s.blankEvery == 0 && i < len(records)-1 {
			b.WriteString(strings.Repeat(s.separator, len(cells)-1) + s.lineEnd)
		}
	}
	return s.encode(b.String())
}

func (s sheet) cell(text string, body bool) string {
	if body && s.decimalComma && isNumber(text) {
		text = strings.Replace(text, ".", ",", 1)
	}
	quote := s.quoteAll || strings.ContainsAny(text, s.separator+"\"\n")
	if quote {
		text = `"` + strings.ReplaceAll(strings.ReplaceAll(text, `"`, `""`), "\n", s.lineEnd) + `"`
	}
	if s.spaces && text != "" {
		pad := " "
		if !quote {
			pad = " \u00a0"
		}
		text = pad + text + pad
	}
	return text
}

func isNumber(s string) bool {
	return s != "" && strings.Trim(s, "+-.0123456789") == ""
}

func (s sheet) encode(text string) []byte {
	switch s.encoding {
	case "bom":
		return []byte("\ufeff" + text)
	case "":
		return []byte(text)
	}
	var order binary.AppendByteOrder = binary.LittleEndian
	if s.encoding == "utf-16be" {
		order = binary.BigEndian
	}
	units := utf16.Encode([]rune(text))
	if s.encoding != "utf-16 without a mark" {
		units = append([]uint16{0xFEFF}, units...)
	}
	var out []byte
	for _, u := range units {
		out = order.AppendUint16(out, u)
	}
	return out
}

func (s sheet) saveAll(t testing.TB, clean season.Files) season.Files {
	out := season.Files{}
	for name, data := range clean {
		if strings.HasSuffix(name, ".csv") {
			data = s.save(t, data)
		} else if s.lineEnd == "\r\n" {
			data = s.encode(strings.ReplaceAll(string(data), "\n", s.lineEnd))
		}
		out[name] = data
	}
	return out
}

// A season reads the same however a spreadsheet saved it.
func TestSpreadsheetsReadTheSame(t *testing.T) {
	clean := folder(t, "testdata/full")
	want, faults := season.Read(clean, options)
	noFaults(t, faults)
	plain := sheet{separator: ",", lineEnd: "\n"}
	vary := func(change func(*sheet)) sheet {
		s := plain
		change(&s)
		return s
	}
	for name, s := range map[string]sheet{
		"as it is":                      plain,
		"Windows line ends":             vary(func(s *sheet) { s.lineEnd = "\r\n" }),
		"old Mac line ends":             vary(func(s *sheet) { s.lineEnd = "\r" }),
		"byte order mark":               vary(func(s *sheet) { s.encoding = "bom" }),
		"UTF-16, little end first":      vary(func(s *sheet) { s.encoding = "utf-16le"; s.lineEnd = "\r\n" }),
		"UTF-16, big end first":         vary(func(s *sheet) { s.encoding = "utf-16be"; s.lineEnd = "\r\n" }),
		"UTF-16 without a mark":         vary(func(s *sheet) { s.encoding = "utf-16 without a mark" }),
		"semicolons":                    vary(func(s *sheet) { s.separator = ";" }),
		"semicolons, decimal commas":    vary(func(s *sheet) { s.separator = ";"; s.decimalComma = true }),
		"tabs":                          vary(func(s *sheet) { s.separator = "\t" }),
		"tabs, decimal commas":          vary(func(s *sheet) { s.separator = "\t"; s.decimalComma = true }),
		"every cell in marks":           vary(func(s *sheet) { s.quoteAll = true }),
		"spaces round cells":            vary(func(s *sheet) { s.spaces = true }),
		"spaces and marks":              vary(func(s *sheet) { s.spaces = true; s.quoteAll = true }),
		"blank columns":                 vary(func(s *sheet) { s.blankColumns = 3 }),
		"blank rows":                    vary(func(s *sheet) { s.blankEvery = 1 }),
		"a separator stated":            vary(func(s *sheet) { s.separator = ";"; s.sepLine = true }),
		"no line break at the end":      vary(func(s *sheet) { s.noLastBreak = true }),
		"all that a spreadsheet can do": {separator: ";", decimalComma: true, lineEnd: "\r\n", quoteAll: true, spaces: true, blankColumns: 2, blankEvery: 1, encoding: "bom", sepLine: false},
	} {
		t.Run(name, func(t *testing.T) {
			got, faults := season.Read(s.saveAll(t, clean), options)
			noFaults(t, faults)
			if diff := cmp.Diff(want, got, sameStudy); diff != "" {
				t.Errorf("(-clean +messy):\n%s", diff)
			}
		})
	}
}

// Columns may stand in any order, and any mixture of habits must do.
func TestAnyMixtureOfHabitsReadsTheSame(t *testing.T) {
	clean := folder(t, "testdata/full")
	want, _ := season.Read(clean, options)
	rapid.Check(t, func(r *rapid.T) {
		s := sheet{
			separator:  rapid.SampledFrom([]string{",", ";", "\t"}).Draw(r, "separator"),
			lineEnd:    rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(r, "line end"),
			quoteAll:   rapid.Bool().Draw(r, "quotes"),
			spaces:     rapid.Bool().Draw(r, "spaces"),
			sepLine:    rapid.Bool().Draw(r, "sep line"),
			blankEvery: rapid.IntRange(0, 2).Draw(r, "blank rows"), blankColumns: rapid.IntRange(0, 3).Draw(r, "blank columns"),
			noLastBreak: rapid.Bool().Draw(r, "no last break"),
			encoding:    rapid.SampledFrom([]string{"", "bom", "utf-16le", "utf-16be"}).Draw(r, "encoding"),
		}
		s.decimalComma = s.separator != "," && rapid.Bool().Draw(r, "decimal comma")
		files := season.Files{season.StudyFile: clean[season.StudyFile]}
		for name, data := range clean {
			if name == season.StudyFile {
				continue
			}
			header, _, _ := strings.Cut(string(data), "\n")
			columns := make([]int, strings.Count(header, ",")+1)
			for i := range columns {
				columns[i] = i
			}
			s.shuffle = rapid.Permutation(columns).Draw(r, name)
			files[name] = s.save(t, data)
		}
		got, faults := season.Read(files, options)
		if len(faults) > 0 {
			r.Fatalf("faults:\n%s", lines(faults))
		}
		if diff := cmp.Diff(want, got, sameStudy); diff != "" {
			r.Fatalf("(-clean +messy):\n%s", diff)
		}
	})
}

// Rows are numbered as a spreadsheet shows them: the header is 1, blank rows
// and cells with line breaks count once.
func TestRowsAreThoseOfTheSpreadsheet(t *testing.T) {
	clean := folder(t, "testdata/full")
	trials := "sep=;\r\ntrial;start;end;active_pair;current_uA;note\r\n" +
		"T1;2025-07-01T09:00;2025-07-01T09:40;A;8;\"three\r\nlines\r\nof text\"\r\n" +
		";;;;;\r\n" +
		"\r\n" +
		"T2;2025-07-01T10:00;2025-07-01T10:40;A+B;6;\r\n" +
		"T3;2025-07-01T11:00;2025-07-01T11:40;none;six;\r\n" +
		"T4;2025-07-01T12:00;2025-07-01T12:40;sealed;;\r\n"
	s, faults := season.Read(with(clean, season.TrialsFile, trials), options)
	var rows []int
	for _, trial := range s.Trials {
		rows = append(rows, trial.Row)
	}
	if want := []int{2, 5, 6, 7}; !slices.Equal(rows, want) {
		t.Errorf("trials are in rows %v, want %v", rows, want)
	}
	if len(faults) != 1 || faults[0].Row != 6 || faults[0].Column != "current_uA" {
		t.Errorf("faults:\n%s\nwant one, in row 6", lines(faults))
	}
	if want := "three\nlines\nof text"; s.Trials[0].Note != want {
		t.Errorf("note %q, want %q", s.Trials[0].Note, want)
	}
}

// Numbers in tables without decimal points, one table a line: what stands in
// the column x_cm of two rows, and what is read in cm or which row is at fault.
func TestDecimalsAndThousands(t *testing.T) {
	for _, c := range []struct {
		separator, first, second string
		want                     [2]float64 // metres
		faultRows                []int
	}{
		{";", "12,5", "1,234", [2]float64{0.125, 0.01234}, nil},
		{";", "12.5", "1.234", [2]float64{0.125, 0.01234}, nil},
		{";", "12,5", "1.25", [2]float64{0.125, 0.0125}, nil},
		{";", "12,5", "1.234", [2]float64{0.125, 0.01234}, []int{3}},
		{";", "1.234,5", "12", [2]float64{0, 0.12}, []int{2}},
		{";", "0.125", "0,125", [2]float64{0.00125, 0.00125}, nil},
		{"\t", "12,5", "1,234", [2]float64{0.125, 0.01234}, nil},
		{"\t", "12.5", "1,234", [2]float64{0.125, 0.01234}, []int{3}},
		{"\t", "1,234", "2,345", [2]float64{0.01234, 0.02345}, []int{2, 3}},
		{",", "12.5", "1.234", [2]float64{0.125, 0.01234}, nil},
		{",", `"12,5"`, "1.234", [2]float64{0, 0.01234}, []int{2}},
		{",", "1e1", "+.5", [2]float64{0.1, 0.005}, nil},
	} {
		table := strings.ReplaceAll("pass,t_s,x_cm,y_cm,height_cm\nP1,0,"+strings.ReplaceAll(c.first, ",", "@")+",5,5\nP1,1,"+strings.ReplaceAll(c.second, ",", "@")+",5,5\n", ",", c.separator)
		files := with(folder(t, "testdata/full"), season.TracksFile, strings.ReplaceAll(table, "@", ","))
		files[season.StudyFile] = []byte(strings.Replace(string(files[season.StudyFile]), `field_at = "snout"`, "", 1))
		s, faults := season.Read(files, options)
		var rows []int
		for _, f := range faults {
			rows = append(rows, f.Row)
		}
		if !slices.Equal(rows, c.faultRows) {
			t.Errorf("%q with %s and %s: faults in rows %v, want %v\n%s", c.separator, c.first, c.second, rows, c.faultRows, lines(faults))
			continue
		}
		fixes := s.Tracks[0].Points[0].Fixes
		if got := [2]float64{fixes[0].XM, fixes[1].XM}; got != c.want {
			t.Errorf("%q with %s and %s: read %v, want %v", c.separator, c.first, c.second, got, c.want)
		}
	}
}

// Cells and faults number rows alike.
func TestCells(t *testing.T) {
	got := season.Cells([]byte("\ufeffpass;note;\r\nP1;\"two\r\nlines\";\r\n;;\r\n\r\nP2; \"x\"\"y\" ;z\r\nP3;\"stray\r\nP4;\xe9;"))
	want := [][]string{{"pass", "note", ""}, {"P1", "two\nlines", ""}, {"", "", ""}, {""}, {"P2", `x"y`, "z"}, {"P3", `"stray`}, {"P4", "é", ""}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := season.Cells(nil); len(got) != 0 {
		t.Errorf("cells of nothing: %q", got)
	}
}
