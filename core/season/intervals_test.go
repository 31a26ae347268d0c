package season_test

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/season"
	"brinefield/core/study"
)

const intervalHeader = "pass,trial,individual,species,pair,turned,field_low_nV_per_cm,field_high_nV_per_cm,onset_before_s,onset_s,watched_s,visit,bit,exact"

func TestReadIntervals(t *testing.T) {
	table, faults := season.ReadIntervals("PASSES.csv", []byte(intervalHeader+",temperature_C,mood\n"+
		"P1,T1,I1,Raja clavata,active,yes,8.1,12.5,0.4,0.48,2.5,V1,yes,no,15,calm\n"+
		"P2,T1,,Raja clavata,control,no,3,,,,2,,,,15,\n"+
		"P3,T2,I2,Raja clavata,silent,,0,,,,,,yes,,,\n"+
		"P4,T2,I2,Raja clavata,active,yes,9,7,0.1,0.2,1,,,,,falling\n"+
		"P5,T2,I2,Raja clavata,active,yes,20,20,,,,,,yes,,\n"))
	noFaults(t, faults)
	inf := math.Inf(1)
	want := &season.IntervalTable{
		HasTimes: true, HasFields: true, Covariates: []string{"temperature_C", "mood"},
		Rows: []season.IntervalRow{
			{
				Pass: "P1", Trial: "T1", Individual: "I1", Species: "Raja clavata", Pair: "active", Turned: study.Yes, Bit: study.Yes, Low: 8.1, High: 12.5,
				OnsetBeforeS: study.Some(0.4), OnsetS: study.Some(0.48), WatchedS: study.Some(2.5), Visit: "V1", Row: 2,
			},
			{Pass: "P2", Trial: "T1", Species: "Raja clavata", Pair: "control", Turned: study.No, Low: 3, High: inf, WatchedS: study.Some(2.0), Row: 3},
			{Pass: "P3", Trial: "T2", Individual: "I2", Species: "Raja clavata", Pair: "silent", Bit: study.Yes, High: inf, Row: 4},
			{Pass: "P4", Trial: "T2", Individual: "I2", Species: "Raja clavata", Pair: "active", Turned: study.Yes, Low: 9, High: 7, OnsetBeforeS: study.Some(0.1), OnsetS: study.Some(0.2), WatchedS: study.Some(1.0), Row: 5},
			{Pass: "P5", Trial: "T2", Individual: "I2", Species: "Raja clavata", Pair: "active", Turned: study.Yes, Low: 20, High: 20, Exact: true, Row: 6},
		},
	}
	if diff := cmp.Diff(want, table); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// One line of the table and the faults that it must have, "" for none; @ is
// the row's place in them.
func TestIntervalFaults(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"P1,T1,I1,S,active,yes,1,2,0.1,0.2,1,,,", ""},
		{"P1,T1,,S,active,,1,,,,,,,", ""},
		{"P1,T1,I1,S,active,yes,1,2,,0.2,1,,,", ""},
		{"P1,T1,I1,S,active,no,1,2,,,1,,,", ""},
		{"P1,T1,I1,S,active,yes,2,1,0.1,0.2,1,,,", ""},
		{"P1,T1,I1,S,active,,2,1,,,1,,yes,", ""},
		{",T1,I1,S,active,yes,1,2,,,,,,", `@pass: the cell is blank; expected a pass's name`},
		{"P1,,I1,S,active,yes,1,2,,,,,,", `@trial: the cell is blank; expected a trial's name`},
		{"P1,T1,I1,,active,yes,1,2,,,,,,", `@species: the cell is blank; expected a species`},
		{"P1,T1,I1,S,,yes,1,2,,,,,,", `@pair: the cell is blank; expected active, control or silent`},
		{"P1,T1,I1,S,Active,yes,1,2,,,,,,", `@pair: "Active" is no role of a pair; expected active, control or silent, did you mean "active"?`},
		{"P1,T1,I1,S,A,yes,1,2,,,,,,", `@pair: "A" is no role of a pair; expected active, control or silent`},
		{"P1,T1,I1,S,active,Y,1,2,,,,,,", `@turned: "Y" is neither yes nor no; expected yes, no, or a blank cell where it was not scored, did you mean "yes"?`},
		{"P1,T1,I1,S,active,no,,,,,,,,", `@field_low_nV_per_cm: the cell is blank; expected a number`},
		{"P1,T1,I1,S,active,no,-1,,,,,,,", `@field_low_nV_per_cm: -1 is negative; expected 0 or more`},
		{"P1,T1,I1,S,active,yes,1,inf,,,,,,", `@field_high_nV_per_cm: "inf" is not a finite number; expected a plain decimal number such as 12.5, or a blank cell where nothing was recorded`},
		{"P1,T1,I1,S,active,no,2,1,,,,,,", `@field_high_nV_per_cm: 1 is below field_low_nV_per_cm, 2, in a pass without a turn; expected low up to high, or a blank high`},
		{"P1,T1,I1,S,active,no,1,,,0.2,1,,,", `@onset_s: an onset is given, but turned is no; expected turned = yes, or no onset_s`},
		{"P1,T1,I1,S,active,yes,1,2,0.3,0.2,1,,,", `@onset_before_s: 0.3 is after onset_s, 0.2; expected the last time before the turn`},
		{"P1,T1,I1,S,active,yes,1,2,-0.3,0.2,-1,,,", `@onset_before_s: -0.3 is negative; expected 0 or more` + "\n" + `@watched_s: -1 is negative; expected 0 or more`},
		{"P1,T1,I1,S,active,yes,1,2,,,,,,yes", `@field_high_nV_per_cm: the ends 1 and 2 differ though exact is yes; expected equal ends`},
		{"P1,T1,I1,S,active,yes,1,,,,,,,yes", `@field_high_nV_per_cm: the cell is blank though exact is yes; expected the same value as in field_low_nV_per_cm`},
		{"P1,T1,I1,S,active,yes,0,0,,,,,,yes", `@field_low_nV_per_cm: an exact threshold is 0; expected more than 0`},
		{"P0,T1,I1,S,active,no,1,,,,,,,", `@pass: "P0" stands twice, first in row 2; expected each pass once`},
	} {
		_, faults := season.ReadIntervals("x.csv", []byte(intervalHeader+"\nP0,T1,I1,S,control,no,1,,,,,,,\n"+c.row+"\n"))
		want := strings.ReplaceAll(c.want, "@", "x.csv:3:")
		if got := lines(faults); got != want {
			t.Errorf("%s\ngot:\n%s\nwant:\n%s", c.row, got, want)
		}
	}
}

func TestIntervalHeaders(t *testing.T) {
	const noFields = "pass,trial,individual,species,pair,turned"
	for _, c := range []struct {
		table, want          string
		times, fields, level bool
	}{
		{noFields + ",field_low_nV_per_cm,field_high_nV_per_cm\nP1,T1,,S,active,no,1,\n", "", false, true, false},
		{noFields + ",field_low_nV_per_cm,field_high_nV_per_cm,watched_s\nP1,T1,,S,active,no,1,,\n", "", false, true, false},
		{noFields + ",field_low_nV_per_cm,field_high_nV_per_cm,watched_s\nP1,T1,,S,active,no,1,,2\n", "", true, true, false},
		{noFields + ",level_nV_per_cm\nP1,T1,,S,active,no,12.5\n", "", false, false, true},
		{noFields + ",level_nV_per_cm\nP1,T1,,S,active,no,\n", "", false, false, false},
		{noFields + ",field_low_nV_per_cm,field_high_nV_per_cm,level_nV_per_cm\nP1,T1,,S,active,no,,,12.5\n", "", false, true, true},
		{noFields + ",field_low_nV_per_cm,level_nV_per_cm\nP1,T1,,S,active,no,1,12.5\n", `x.csv:1:field_high_nV_per_cm: the column "field_high_nV_per_cm" is missing; expected both field columns or neither`, false, false, true},
		{noFields + ",field_low_nV_cm,field_high_nV_per_cm\nP1,T1,,S,active,no,1,\n", `x.csv:1:field_low_nV_per_cm: the column "field_low_nV_per_cm" is missing; expected it in the header, did you mean "field_low_nV_cm"?`, false, false, false},
		{noFields + ",pass,field_low_nV_per_cm,field_high_nV_per_cm\nP1,T1,,S,active,no,P2,1,\n", `x.csv:1:pass: the column "pass" stands twice, first as column A; expected each column once`, false, true, false},
		{"", `x.csv:1:pass: the file is empty; expected a header row: pass,trial,individual,species,pair,turned,field_low_nV_per_cm,field_high_nV_per_cm`, false, false, false},
	} {
		table, faults := season.ReadIntervals("x.csv", []byte(c.table))
		if got := lines(faults); got != c.want {
			t.Errorf("%s\ngot:\n%s\nwant:\n%s", c.table, got, c.want)
		}
		if table.HasTimes != c.times || table.HasFields != c.fields || table.HasLevel != c.level {
			t.Errorf("%s\ntimes %v, fields %v, level %v", c.table, table.HasTimes, table.HasFields, table.HasLevel)
		}
	}
}

// The table that season A makes, written by another program.
func TestIntervalsOfSeasonA(t *testing.T) {
	data, err := os.ReadFile("../../testdata/check/season-a-intervals.csv")
	if err != nil {
		t.Fatal(err)
	}
	table, faults := season.ReadIntervals("season-a-intervals.csv", data)
	noFaults(t, faults)
	falling := slices.ContainsFunc(table.Rows, func(r season.IntervalRow) bool { return r.High < r.Low })
	if len(table.Rows) != 574 || !table.HasTimes || !table.HasFields || len(table.Covariates) != 0 || !falling {
		t.Errorf("%d rows, times %v, fields %v, covariates %v, falling %v", len(table.Rows), table.HasTimes, table.HasFields, table.Covariates, falling)
	}
	// P00001,T001,RC08,Raja clavata,control,no,0.23966177925367455,,,,3.36
	if r := table.Rows[0]; r.Low != 0.23966177925367455 || !math.IsInf(r.High, 1) || r.WatchedS != study.Some(3.36) {
		t.Errorf("first row %+v", r)
	}
}
