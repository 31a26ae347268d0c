package season

import (
	"strings"

	"brinefield/core/study"
)

// answer reads yes, no or blank.
func (t *table) answer(column int) study.Answer {
	switch c := t.cell(column); c {
	case "":
	case "yes":
		return study.Yes
	case "no":
		return study.No
	default:
		t.fault(column, quoted(c)+" is neither yes nor no", didYouMean("expected yes, no, or a blank cell where it was not scored", yesOrNo(c)))
	}
	return study.NotScored
}

func yesOrNo(c string) string {
	switch strings.ToLower(c) {
	case "y", "true", "1", "yes", "ja", "oui", "si", "sí", "x":
		return "yes"
	case "n", "false", "0", "no", "nein", "non":
		return "no"
	}
	return nearest(c, []string{"yes", "no"})
}

// name reads an identifier: one line of text. A blank one is "".
func (t *table) name(column int, what string) string {
	c := tidyName(t.cell(column))
	switch {
	case c == "":
		t.blankFault(column, what)
	case isErrorMark(c):
		t.fault(column, quoted(c)+" is a spreadsheet's error mark", "expected "+what)
		return ""
	case holdsControl(c):
		t.fault(column, quoted(c)+" holds a line break or another invisible character", "expected "+what+" on one line")
	}
	return strings.Clone(c)
}

// text reads free text, which may hold line breaks.
func (t *table) text(column int) string {
	c := t.cell(column)
	if c == "" {
		return ""
	}
	if isErrorMark(c) {
		t.fault(column, quoted(c)+" is a spreadsheet's error mark", "expected text, or a blank cell where nothing was recorded")
		return ""
	}
	if strings.ContainsFunc(c, func(r rune) bool { return (r < ' ' && r != '\n' && r != '\t') || r == 0x7F }) {
		t.fault(column, quoted(c)+" holds an invisible control character", "expected text")
	}
	return strings.Clone(c)
}

// isErrorMark knows what a spreadsheet leaves where a formula failed or a
// column was too narrow.
func isErrorMark(c string) bool {
	if c[0] != '#' {
		return false
	}
	switch strings.ToUpper(c) {
	case "#VALUE!", "#REF!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#N/A", "#NV", "#WERT!", "#SPILL!", "#CALC!":
		return true
	}
	return len(c) >= 3 && strings.Trim(c, "#") == ""
}
