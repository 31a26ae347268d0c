package season

import (
	"math"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// bound is the range that a number must lie in.
type bound int

const (
	anyNumber bound = iota
	zeroOrMore
	aboveZero
)

// violates says what is wrong with a value out of its range, "" where nothing
// is.
func (b bound) violates(v float64) (wrong, expected string) {
	switch {
	case b == zeroOrMore && v < 0:
		return "is negative", "expected 0 or more"
	case b == aboveZero && v < 0:
		return "is negative", "expected more than 0"
	case b == aboveZero && v == 0:
		return "is not above 0", "expected more than 0"
	}
	return "", ""
}

// doubtfulNumber is a number that could be read with a decimal point or with a
// thousands separator. Which, the rest of the file decides.
type doubtfulNumber struct {
	position, row int
	column, text  string
}

// number reads a cell in the unit and returns it in SI. A blank cell is not
// known; a cell at fault is told and not known.
func (t *table) number(column int, unit quantity.Unit, b bound) study.Opt[float64] {
	c := t.cell(column)
	if c == "" {
		t.blankFault(column, "a number")
		return study.Opt[float64]{}
	}
	v, err := unit.Parse(t.decimalPoint(column, c))
	if err != nil {
		t.fault(column, quoted(c)+" "+numberTrouble(c, err), explainNumber(c, t.scan.sep, t.specs[column].need != cellNeeded))
		return study.Opt[float64]{}
	}
	if wrong, expected := b.violates(v); wrong != "" {
		t.fault(column, c+" "+wrong, expected)
		return study.Opt[float64]{}
	}
	return study.Some(v)
}

// plain reads a number in the unit, in whatever range.
func (t *table) plain(column int, unit quantity.Unit) study.Opt[float64] {
	return t.number(column, unit, anyNumber)
}

// largestCount is the largest whole number that a season needs.
const largestCount = 1_000_000

// isCount reports whether a number is a whole one from 1.
func isCount(v float64) bool { return v >= 1 && v <= largestCount && v == math.Trunc(v) }

// count reads a cell that holds a whole number from 1; 0 where it is blank or at
// fault.
func (t *table) count(column int) int {
	v := t.number(column, quantity.One, aboveZero)
	if !v.Known {
		return 0
	}
	if !isCount(v.Value) {
		t.fault(column, t.cell(column)+" is not a whole number from 1 to "+itoa(largestCount), "expected one such as 3")
		return 0
	}
	return int(v.Value)
}

// decimalPoint turns the decimal comma of a table that is not separated by
// commas into a point. "1.234" with semicolons and "1,234" with tabs are
// written down as doubtful.
func (t *table) decimalPoint(column int, c string) string {
	if t.scan.sep == ',' {
		return c
	}
	comma := strings.IndexByte(c, ',')
	if comma < 0 {
		if t.scan.sep == ';' && looksGrouped(c, '.') {
			t.doubt(column, c)
		}
		return c
	}
	if strings.IndexByte(c, '.') >= 0 || strings.IndexByte(c[comma+1:], ',') >= 0 {
		return c
	}
	if t.scan.sep == '\t' && looksGrouped(c, ',') {
		t.doubt(column, c)
	} else {
		t.sawComma = true
	}
	return c[:comma] + "." + c[comma+1:]
}

func (t *table) doubt(column int, c string) {
	t.doubtful = append(t.doubtful, doubtfulNumber{t.at[column], t.row(), t.specs[column].name, strings.Clone(c)})
}

// settleDoubts is called after the last row. A semicolon table with decimal
// commas cannot have decimal points as well; a tab table without one certain
// decimal comma may have meant thousands.
func (t *table) settleDoubts() {
	if (t.scan.sep == ';') != t.sawComma {
		return
	}
	for _, d := range t.doubtful {
		mark := "point"
		if t.scan.sep == '\t' {
			mark = "comma"
		}
		with, without := strings.Replace(d.text, ",", ".", 1), strings.Map(digitsOnly, d.text)
		t.faults.add(d.position, Fault{
			File: t.file, Row: d.row, Column: d.column, Found: d.text,
			Wrong:    quoted(d.text) + " can be read in two ways: its " + mark + " may part decimals or thousands",
			Expected: "expected " + with + " or " + without + " and one way of writing decimals in the whole file",
		})
	}
}

func digitsOnly(r rune) rune {
	if r == '.' || r == ',' {
		return -1
	}
	return r
}

// looksGrouped reports one to three digits, not a lone zero, the mark, and
// three digits: what a thousands separator makes.
func looksGrouped(c string, mark byte) bool {
	c = strings.TrimLeft(c, "+-")
	i := strings.IndexByte(c, mark)
	if i < 1 || i > 3 || len(c) != i+4 || c[0] == '0' {
		return false
	}
	for j := 0; j < len(c); j++ {
		if j != i && (c[j] < '0' || c[j] > '9') {
			return false
		}
	}
	return true
}

// explainNumber says what would be right in the place of a cell that is no
// number, with the exact cell to write where that is certain.
func explainNumber(c string, sep byte, blankAllowed bool) string {
	const expected = "expected a plain decimal number such as 12.5"
	lower := strings.ToLower(c)
	switch {
	case isErrorMark(c):
		return expected + " (this is a spreadsheet's error mark: mend the formula)"
	case isMissingMark(lower) && blankAllowed:
		return expected + ", or a blank cell where nothing was recorded"
	case isFinitePlain(strings.ReplaceAll(strings.ReplaceAll(c, "−", "-"), "–", "-")):
		return "expected a hyphen as the minus sign: write " + strings.ReplaceAll(strings.ReplaceAll(c, "−", "-"), "–", "-")
	case sep == ',' && strings.Count(c, ",") == 1 && !strings.Contains(c, ".") && looksGrouped(c, ','):
		return "expected a decimal point and no thousands separator: write " + strings.Replace(c, ",", ".", 1) + " or " + strings.Map(digitsOnly, c)
	case strings.Count(c, ",") == 1 && isFinitePlain(strings.Replace(c, ",", ".", 1)):
		return "expected a decimal point: write " + strings.Replace(c, ",", ".", 1)
	case isFinitePlain(strings.Map(digitsOnly, c)):
		return "expected no thousands separator: write " + withoutThousands(c)
	case isFinitePlain(strings.Map(dropSpaces, c)):
		return "expected no space inside the number: write " + strings.Map(dropSpaces, c)
	case startsWithNumber(c):
		return "expected the number alone, the unit is in the column's name"
	}
	return expected
}

func isFinitePlain(c string) bool {
	_, err := quantity.One.Parse(c)
	return err == nil
}

// isMissingMark knows what people write for nothing.
func isMissingMark(lower string) bool {
	switch lower {
	case "na", "n/a", "null", "none", "nil", "-", "--", "–", "—", "?", ".", "missing", "unknown":
		return true
	}
	return isNotFiniteWord(lower)
}

func isNotFiniteWord(lower string) bool {
	switch strings.TrimLeft(lower, "+-") {
	case "nan", "inf", "infinity", "∞":
		return true
	}
	return false
}

// numberTrouble ends "…what was found".
func numberTrouble(found string, err error) string {
	if isNotFiniteWord(strings.ToLower(found)) {
		return quantity.ErrNotFinite.Error()
	}
	return err.Error()
}

func dropSpaces(r rune) rune {
	if blankRune(r) || r == '\'' || r == '’' {
		return -1
	}
	return r
}

func startsWithNumber(c string) bool {
	rest := strings.TrimLeft(c, "+-~<>≈= ")
	return rest != "" && rest[0] >= '0' && rest[0] <= '9'
}

// withoutThousands takes the last mark of "1.234,5" as the decimal point.
func withoutThousands(c string) string {
	last := strings.LastIndexAny(c, ".,")
	first := strings.IndexAny(c, ".,")
	if c[first] == c[last] {
		return strings.Map(digitsOnly, c)
	}
	return strings.Map(digitsOnly, c[:last]) + "." + c[last+1:]
}
