package footage_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/footage"
	"brinefield/core/study"
)

func anyFixes(t *rapid.T) []footage.Fix {
	thousandth := func(lo, hi int, name string) float64 {
		return float64(rapid.IntRange(lo*1000, hi*1000).Draw(t, name)) / 1000
	}
	seen := map[string]bool{}
	var fixes []footage.Fix
	for range rapid.IntRange(0, 30).Draw(t, "fixes") {
		f := footage.Fix{
			Point: rapid.SampledFrom([]string{footage.Snout, footage.HeadLeft, footage.HeadRight, footage.Eye, footage.Tail, "scar, left", "møre"}).Draw(t, "point"),
			Frame: rapid.IntRange(0, 40).Draw(t, "frame"), How: rapid.SampledFrom([]string{footage.Placed, footage.Carried, footage.Filled}).Draw(t, "how"),
			Pixel: [2]float64{thousandth(-1, 8000, "x"), thousandth(-1, 8000, "y")}, By: rapid.IntRange(0, footage.MostPeople).Draw(t, "by"),
		}
		f.ClipS = float64(f.Frame*33366) / 1e6
		if rapid.Bool().Draw(t, "limits") {
			low := thousandth(0, 100, "low")
			f.HeightLowCm, f.HeightHighCm = study.Some(low), study.Some(low+thousandth(0, 100, "more"))
		}
		if key := f.Point + string(rune(f.Frame)); !seen[key] {
			seen[key] = true
			fixes = append(fixes, f)
		}
	}
	return fixes
}

func TestASheetComesBackAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fixes := anyFixes(t)
		table := footage.Format(fixes)
		got, faults := footage.Parse(table)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		footage.Sort(fixes)
		if len(fixes) != len(got) || len(fixes) > 0 && !reflect.DeepEqual(got, fixes) {
			t.Fatalf("\n%v, want\n%v", got, fixes)
		}
		if again := footage.Format(got); !reflect.DeepEqual(again, table) {
			t.Error("the same fixes give another table")
		}
	})
}

func TestEveryFaultOfASheetIsTold(t *testing.T) {
	columns := []string{"point", "frame", "clip_s", "x_px", "y_px", "how", "by", "height_low_cm", "height_high_cm"}
	good := []string{"snout", "3", "0.1", "10", "20", "placed", "1", "", ""}
	with := func(changes ...string) [][]string {
		row := slices.Clone(good)
		for i := 0; i < len(changes); i += 2 {
			row[slices.Index(columns, changes[i])] = changes[i+1]
		}
		return [][]string{good[:], row}
	}
	for _, c := range []struct {
		rows         [][]string
		column, says string
	}{
		{with(), "frame", "fixed twice in frame 3, first by fix 1"},
		{with("frame", "-1"), "frame", "found -1"},
		{with("frame", "3.5"), "frame", `found "3.5"`},
		{with("frame", "4", "clip_s", "NaN"), "clip_s", `found "NaN"`},
		{with("frame", "4", "clip_s", "-1"), "clip_s", "no time"},
		{with("frame", "4", "x_px", "1e9"), "x_px", "no place in a picture"},
		{with("frame", "4", "y_px", ""), "y_px", `found ""`},
		{with("frame", "4", "how", "guessed"), "how", `found "guessed"`},
		{with("frame", "4", "by", "9"), "by", "found 9"},
		{with("frame", "4", "by", "me"), "by", `found "me"`},
		{with("frame", "4", "point", " "), "point", "no name"},
		{with("frame", "4", "point", "a\nb"), "point", "no name of a point"},
		{with("frame", "4", "height_low_cm", "5"), "height_high_cm", "one limit"},
		{with("frame", "4", "height_low_cm", "5", "height_high_cm", "4"), "height_high_cm", "below the lower limit"},
		{with("frame", "4", "height_low_cm", "-5", "height_high_cm", "4"), "height_low_cm", "no height"},
		{[][]string{good, {"snout", "4"}}, "clip_s", `found ""`},
	} {
		_, faults := footage.Parse(&study.Table{Columns: columns, Rows: c.rows})
		if !slices.ContainsFunc(faults, func(f footage.SheetFault) bool {
			return f.Row == 2 && f.Column == c.column && strings.Contains(f.Wrong, c.says) && f.Expected != ""
		}) {
			t.Errorf("%q: %v, want one of fix 2, %s, that says %q", c.rows[1], faults, c.column, c.says)
		}
	}
	if _, faults := footage.Parse(&study.Table{Columns: columns[1:], Rows: [][]string{good[1:]}}); len(faults) != 1 || faults[0].Column != "point" {
		t.Errorf("without the points: %v", faults)
	}
	if fixes, faults := footage.Parse(&study.Table{Columns: append(slices.Clone(columns), "mood"), Rows: [][]string{append(slices.Clone(good), "calm")}}); len(faults) > 0 || len(fixes) != 1 {
		t.Errorf("a column of a newer program: %v", faults)
	}
}

func FuzzSheet(f *testing.F) {
	f.Add("point,frame,clip_s,x_px,y_px,how,by", "snout,3,0.1,10,20,placed,1\neye,3,0.1,11,21,filled,")
	f.Add("point,frame,clip_s,x_px,y_px,how", "snout,1e3,Inf,0x10,,placed")
	f.Add("frame,frame", "1")
	f.Fuzz(func(t *testing.T, header, body string) {
		table := &study.Table{Columns: strings.Split(header, ",")}
		for line := range strings.SplitSeq(body, "\n") {
			table.Rows = append(table.Rows, strings.Split(line, ","))
		}
		fixes, faults := footage.Parse(table)
		if len(faults) > 0 {
			return
		}
		if wrong := footage.Check(fixes); len(wrong) > 0 {
			t.Fatalf("taken, and at fault: %v", wrong)
		}
		// What was read can be located without a camera, filled in and made a track of.
		for _, l := range footage.Locate(fixes, nil, footage.StatedHeights(footage.ByLimits, 0, 0.1)) {
			if l.Why == "" {
				t.Fatal("a place without a pose")
			}
		}
		again, faults := footage.Parse(footage.Format(fixes))
		if len(faults) > 0 || len(again) != len(fixes) {
			t.Fatalf("written and read again: %v", faults)
		}
	})
}
