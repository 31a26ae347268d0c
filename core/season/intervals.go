package season

import (
	"math"
	"slices"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// IntervalRow is one pass in the table of `infer`: between which fields its
// threshold lies, and when it turned.
type IntervalRow struct {
	Pass, Trial string
	Individual  string // "" = not identified
	Species     string
	Pair        string // "active", "control" or "silent"
	Turned, Bit study.Answer
	// Low and High bound the field in nV/cm. High is +Inf where the cell is
	// blank. High below Low is a falling field and only stands at a turn.
	Low, High float64
	// OnsetBeforeS is the last time before the turn at which the animal was
	// seen not to turn, OnsetS the turn, WatchedS how long it was watched.
	OnsetBeforeS, OnsetS, WatchedS study.Opt[float64]
	Visit                          string
	Exact                          bool // the threshold is Low = High itself
	LevelNVPerCm                   study.Opt[float64]
	Row                            int // 1 is the header
}

// IntervalTable is the table of `infer`.
type IntervalTable struct {
	Rows []IntervalRow
	// HasTimes: some row states a time, so that `detection` can be estimated.
	HasTimes bool
	// HasFields: the table has the two field columns. Only a table of set
	// levels may lack them; its rows then have Low 0 and High +Inf.
	HasFields bool
	// HasLevel: some row states the level that the experimenter set.
	HasLevel bool
	// Covariates are the names of all further columns, in file order.
	Covariates []string
}

const (
	intervalPass = iota
	intervalTrial
	intervalIndividual
	intervalSpecies
	intervalPair
	intervalTurned
	intervalLow
	intervalHigh
	intervalOnsetBefore
	intervalOnset
	intervalWatched
	intervalVisit
	intervalBit
	intervalExact
	intervalLevel
)

var intervalColumns = []columnSpec{
	intervalPass:        {"pass", cellNeeded},
	intervalTrial:       {"trial", cellNeeded},
	intervalIndividual:  {"individual", columnNeeded},
	intervalSpecies:     {"species", cellNeeded},
	intervalPair:        {"pair", cellNeeded},
	intervalTurned:      {"turned", columnNeeded},
	intervalLow:         {"field_low_nV_per_cm", cellNeeded},
	intervalHigh:        {"field_high_nV_per_cm", columnNeeded},
	intervalOnsetBefore: {"onset_before_s", optional},
	intervalOnset:       {"onset_s", optional},
	intervalWatched:     {"watched_s", optional},
	intervalVisit:       {"visit", optional},
	intervalBit:         {"bit", optional},
	intervalExact:       {"exact", optional},
	intervalLevel:       {"level_nV_per_cm", optional},
}

// levelColumns are the columns of a table of set levels, which can do without
// the fields.
var levelColumns = func() []columnSpec {
	c := slices.Clone(intervalColumns)
	c[intervalLow].need = optional
	c[intervalHigh].need = optional
	return c
}()

// ReadIntervals reads the table of `infer`. The name stands in the faults, so
// that standard input can be called what the caller calls it.
//
// A blank field_high is +Inf. A row that turned or bit may have its high below
// its low: the field was falling. onset_before_s may be blank beside an
// onset_s; it is then not known. Further columns are covariates and never a
// fault. The table is never nil; with faults it is not to be analysed.
func ReadIntervals(name string, data []byte) (*IntervalTable, []Fault) {
	var faults faultList
	out := &IntervalTable{}
	specs := intervalColumns
	if headNames(data, "level_nV_per_cm") {
		specs = levelColumns
	}
	t := openTable(name, data, specs, true, &faults, newSuggester())
	if t == nil {
		return out, faults.sorted()
	}
	out.HasFields = t.has(intervalLow) && t.has(intervalHigh)
	out.Covariates = t.further
	if specs[intervalLow].need == optional && t.has(intervalLow) != t.has(intervalHigh) {
		t.halfOfFields()
	}
	rows := map[string]int{}
	for t.next() {
		row := readInterval(t)
		if first, doubled := rows[row.Pass]; doubled && row.Pass != "" {
			t.fault(intervalPass, quoted(row.Pass)+" stands twice, first in row "+itoa(first), "expected each pass once")
		} else {
			rows[row.Pass] = row.Row
		}
		out.HasTimes = out.HasTimes || row.OnsetBeforeS.Known || row.OnsetS.Known || row.WatchedS.Known
		out.HasLevel = out.HasLevel || row.LevelNVPerCm.Known
		out.Rows = append(out.Rows, row)
	}
	t.settleDoubts()
	return out, faults.sorted()
}

// headNames reports whether the header of a table has the column.
func headNames(data []byte, column string) bool {
	s := newScanner(decodeText(data), func(int, string, string, string) {})
	for s.next() {
		if !allBlank(s.cells) {
			return slices.ContainsFunc(s.cells, func(c string) bool { return tidyName(c) == column })
		}
	}
	return false
}

// halfOfFields tells a table of levels that has one of the two field columns.
func (t *table) halfOfFields() {
	column := intervalLow
	if t.has(intervalLow) {
		column = intervalHigh
	}
	t.faults.add(len(t.heads)+column, Fault{
		File: t.file, Row: t.row(), Column: t.specs[column].name, Wrong: "the column " + quoted(t.specs[column].name) + " is missing",
		Expected: "expected both field columns or neither",
	})
}

func readInterval(t *table) IntervalRow {
	row := IntervalRow{
		Pass: t.name(intervalPass, "a pass's name"), Trial: t.name(intervalTrial, "a trial's name"),
		Individual: t.name(intervalIndividual, "an individual"), Species: t.name(intervalSpecies, "a species"),
		Turned: t.answer(intervalTurned), Bit: t.answer(intervalBit),
		Visit: t.name(intervalVisit, "a visit"), Exact: t.answer(intervalExact) == study.Yes,
		High: math.Inf(1), Row: t.row(),
	}
	row.Pair = t.role()
	// The table is in nV/cm, and so is what is handed on: no unit is changed.
	low := t.number(intervalLow, quantity.One, zeroOrMore)
	high := t.number(intervalHigh, quantity.One, zeroOrMore)
	row.Low = low.Value
	if high.Known {
		row.High = high.Value
	}
	row.OnsetBeforeS = t.number(intervalOnsetBefore, quantity.Second, zeroOrMore)
	row.OnsetS = t.number(intervalOnset, quantity.Second, zeroOrMore)
	row.WatchedS = t.number(intervalWatched, quantity.Second, zeroOrMore)
	row.LevelNVPerCm = t.number(intervalLevel, quantity.One, zeroOrMore)
	t.checkFields(&row, low, high)
	t.checkOnset(&row)
	return row
}

// role reads active, control or silent.
func (t *table) role() string {
	roles := []string{study.RoleActive.String(), study.RoleControl.String(), study.RoleSilent.String()}
	c := t.name(intervalPair, "active, control or silent")
	if c != "" && !slices.Contains(roles, c) {
		t.fault(intervalPair, quoted(c)+" is no role of a pair", didYouMean("expected active, control or silent", nearest(c, roles)))
		return ""
	}
	return c
}

// checkFields holds the two fields against each other and against what
// happened.
func (t *table) checkFields(row *IntervalRow, low, high study.Opt[float64]) {
	responded := row.Turned == study.Yes || row.Bit == study.Yes
	switch {
	case row.Exact && t.has(intervalHigh) && t.cell(intervalHigh) == "":
		t.fault(intervalHigh, "the cell is blank though exact is yes", "expected the same value as in field_low_nV_per_cm")
	case row.Exact && low.Known && high.Known && low.Value != high.Value:
		t.fault(intervalHigh, "the ends "+t.cell(intervalLow)+" and "+t.cell(intervalHigh)+" differ though exact is yes", "expected equal ends")
	case row.Exact && low.Known && low.Value == 0:
		t.fault(intervalLow, "an exact threshold is 0", "expected more than 0")
	case low.Known && high.Known && high.Value < low.Value && !responded:
		t.fault(intervalHigh, t.cell(intervalHigh)+" is below field_low_nV_per_cm, "+t.cell(intervalLow)+", in a pass without a turn", "expected low up to high, or a blank high")
	}
}

// checkOnset holds the times against each other and against what happened.
func (t *table) checkOnset(row *IntervalRow) {
	if t.cell(intervalOnset) != "" && row.Turned != study.Yes && t.has(intervalTurned) && isAnswer(t.cell(intervalTurned)) {
		t.fault(intervalOnset, "an onset is given, but turned is "+turnedWord(row.Turned), "expected turned = yes, or no onset_s")
	}
	if row.OnsetS.Known && row.OnsetBeforeS.Known && row.OnsetBeforeS.Value > row.OnsetS.Value+timeTolerance {
		t.fault(intervalOnsetBefore, t.cell(intervalOnsetBefore)+" is after onset_s, "+t.cell(intervalOnset), "expected the last time before the turn")
	}
}
