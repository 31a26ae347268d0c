package footage

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/study"
)

// The points of an animal that have names of their own. Further ones are marks by
// a name that people choose.
const (
	Snout     = "snout" // the tip: the track's reference point
	HeadLeft  = "head left edge"
	HeadRight = "head right edge"
	Eye       = "eye"
	Tail      = "tail"
)

// Points are those names in their order.
var Points = []string{Snout, HeadLeft, HeadRight, Eye, Tail}

// InTrack reports whether a point becomes a part of the track, and under which
// name: that of the reference point is blank there. Others only measure.
func InTrack(point string) (name string, ok bool) {
	switch point {
	case Snout:
		return "", true
	case HeadLeft, HeadRight, Eye:
		return point, true
	}
	return "", false
}

// The ways in which a fix came about.
const (
	Placed  = "placed"  // by a person
	Carried = "carried" // by the program from frame to frame
	Filled  = "filled"  // in between two others
)

// MostPeople is how many people a sheet can name.
const MostPeople = 8

// MostFixes bounds a sheet: ten minutes at 60 frames a second are 36 000 frames.
const MostFixes = 100_000

// longestPoint is how many bytes the name of a mark may have.
const longestPoint = 80

// Fix is a point of an animal in a frame of a clip.
type Fix struct {
	Point string
	Frame int        // counted through the clip, from 0
	ClipS float64    // seconds of the clip at that frame
	Pixel [2]float64 // of the picture as it is shown, upright
	How   string
	By    int // who, 1 to 8; 0 where nobody is named
	// Limits of the height, centimetres, where they are stated for this fix; both
	// or neither.
	HeightLowCm, HeightHighCm study.Opt[float64]
}

// sheetColumns of the table of fixes.
var sheetColumns = []string{"point", "frame", "clip_s", "x_px", "y_px", "how", "by", "height_low_cm", "height_high_cm"}

// SheetFault is one thing that is wrong with a sheet. Row counts from 1, the first
// fix; 0 is the sheet as a whole.
type SheetFault struct {
	Row             int
	Column          string
	Wrong, Expected string
}

func (f SheetFault) String() string {
	return fmt.Sprintf("fix %d, %s: %s; expected %s", f.Row, f.Column, f.Wrong, f.Expected)
}

// order compares points: those with names of their own first, then by name.
func order(a, b string) int {
	at := func(p string) int {
		if i := slices.Index(Points, p); i >= 0 {
			return i
		}
		return len(Points)
	}
	return cmp.Or(cmp.Compare(at(a), at(b)), strings.Compare(a, b))
}

// Sort puts fixes by frame, then by point.
func Sort(fixes []Fix) {
	slices.SortStableFunc(fixes, func(a, b Fix) int { return cmp.Or(cmp.Compare(a.Frame, b.Frame), order(a.Point, b.Point)) })
}

// Check lists everything that is wrong with fixes.
func Check(fixes []Fix) []SheetFault {
	var faults []SheetFault
	if len(fixes) > MostFixes {
		return append(faults, SheetFault{0, "point", fmt.Sprintf("there are %d fixes", len(fixes)), fmt.Sprintf("at most %d in a pass", MostFixes)})
	}
	type place struct {
		point string
		frame int
	}
	seen := make(map[place]int, len(fixes))
	for i := range fixes {
		f := &fixes[i]
		fault := func(column, wrong, expected string) {
			faults = append(faults, SheetFault{i + 1, column, wrong, expected})
		}
		switch {
		case strings.TrimSpace(f.Point) == "":
			fault("point", "the point has no name", "one of "+strings.Join(Points, ", ")+", or a mark's own name")
		case len(f.Point) > longestPoint || strings.ContainsFunc(f.Point, func(r rune) bool { return r < ' ' || r == 0x7f || r == '�' }) || f.Point != strings.TrimSpace(f.Point):
			fault("point", fmt.Sprintf("%.90q is no name of a point", f.Point), fmt.Sprintf("a name of at most %d bytes on one line, without spaces around it", longestPoint))
		}
		if f.Frame < 0 {
			fault("frame", fmt.Sprintf("found %d", f.Frame), "a frame counted from 0")
		}
		if first, there := seen[place{f.Point, f.Frame}]; there {
			fault("frame", fmt.Sprintf("%q is fixed twice in frame %d, first by fix %d", f.Point, f.Frame, first), "each point once in a frame")
		} else {
			seen[place{f.Point, f.Frame}] = i + 1
		}
		if !finite(f.ClipS) || f.ClipS < 0 {
			fault("clip_s", "it is no time", "seconds since the first frame of the clip")
		}
		for k, column := range []string{"x_px", "y_px"} {
			if !finite(f.Pixel[k]) || math.Abs(f.Pixel[k]) > 1e6 {
				fault(column, "it is no place in a picture", "pixels from the centre of the top left one")
			}
		}
		if f.How != Placed && f.How != Carried && f.How != Filled {
			fault("how", fmt.Sprintf("found %.40q", f.How), "placed, carried or filled")
		}
		if f.By < 0 || f.By > MostPeople {
			fault("by", fmt.Sprintf("found %d", f.By), fmt.Sprintf("1 to %d, or nothing", MostPeople))
		}
		f.checkHeights(fault)
	}
	return faults
}

func (f *Fix) checkHeights(fault func(column, wrong, expected string)) {
	low, high := f.HeightLowCm, f.HeightHighCm
	switch {
	case low.Known != high.Known:
		fault("height_high_cm", "one limit of the height is missing", "both or neither")
	case low.Known && (!finite(low.Value) || !finite(high.Value) || low.Value < 0 || high.Value > 1e5):
		fault("height_low_cm", "a limit of the height is no height", "centimetres over the plate, 0 or more")
	case low.Known && low.Value > high.Value:
		fault("height_high_cm", fmt.Sprintf("%g is below the lower limit, %g", high.Value, low.Value), "the lower limit first")
	}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// decimal is a number with at most so many decimals, without zeros behind it.
func decimal(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// Format writes fixes as the table of their record, by frame and point: seconds to
// a microsecond, pixels to a thousandth. Columns that nothing stands in are left out.
func Format(fixes []Fix) *study.Table {
	fixes = slices.Clone(fixes)
	Sort(fixes)
	limits := slices.ContainsFunc(fixes, func(f Fix) bool { return f.HeightLowCm.Known })
	t := &study.Table{Columns: sheetColumns[:7], Rows: make([][]string, len(fixes))}
	if limits {
		t.Columns = sheetColumns
	}
	t.Columns = slices.Clone(t.Columns)
	for i := range fixes {
		f := &fixes[i]
		by := ""
		if f.By > 0 {
			by = strconv.Itoa(f.By)
		}
		row := []string{f.Point, strconv.Itoa(f.Frame), decimal(f.ClipS, 6), decimal(f.Pixel[0], 3), decimal(f.Pixel[1], 3), f.How, by}
		if limits {
			row = append(row, optional(f.HeightLowCm), optional(f.HeightHighCm))
		}
		t.Rows[i] = row
	}
	return t
}

func optional(v study.Opt[float64]) string {
	if !v.Known {
		return ""
	}
	return strconv.FormatFloat(v.Value, 'f', -1, 64)
}

// Parse reads the table of a record and lists every fault. Columns that it does
// not know, of a newer program, are passed over.
func Parse(t *study.Table) ([]Fix, []SheetFault) {
	if t == nil {
		return nil, nil
	}
	if len(t.Rows) > MostFixes {
		return nil, Check(make([]Fix, len(t.Rows)))
	}
	at := map[string]int{}
	var faults []SheetFault
	for i, name := range t.Columns {
		if _, twice := at[name]; twice {
			faults = append(faults, SheetFault{0, name, "the column stands twice", "each column once"})
		}
		at[name] = i
	}
	for _, name := range sheetColumns[:6] {
		if _, there := at[name]; !there {
			faults = append(faults, SheetFault{0, name, "the column is missing", "the columns " + strings.Join(sheetColumns, ", ")})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	fixes := make([]Fix, len(t.Rows))
	for i, cells := range t.Rows {
		row := sheetRow{cells: cells, at: at, row: i + 1}
		fixes[i] = row.fix()
		faults = append(faults, row.faults...)
	}
	if len(faults) > 0 {
		return nil, faults
	}
	if faults = Check(fixes); len(faults) > 0 {
		return nil, faults
	}
	Sort(fixes)
	return fixes, nil
}

type sheetRow struct {
	cells  []string
	at     map[string]int
	row    int
	faults []SheetFault
}

func (r *sheetRow) cell(column string) string {
	i, there := r.at[column]
	if !there || i >= len(r.cells) {
		return ""
	}
	return r.cells[i]
}

func (r *sheetRow) number(column string) float64 {
	v, err := strconv.ParseFloat(r.cell(column), 64)
	if err != nil || !finite(v) {
		r.faults = append(r.faults, SheetFault{r.row, column, fmt.Sprintf("found %.40q", r.cell(column)), "a number"})
		return 0
	}
	return v
}

func (r *sheetRow) whole(column string) int {
	v, err := strconv.Atoi(r.cell(column))
	if err != nil {
		r.faults = append(r.faults, SheetFault{r.row, column, fmt.Sprintf("found %.40q", r.cell(column)), "a whole number"})
	}
	return v
}

func (r *sheetRow) fix() Fix {
	f := Fix{
		Point: r.cell("point"), Frame: r.whole("frame"), ClipS: r.number("clip_s"),
		Pixel: [2]float64{r.number("x_px"), r.number("y_px")}, How: r.cell("how"),
	}
	if r.cell("by") != "" {
		f.By = r.whole("by")
	}
	if r.cell("height_low_cm") != "" {
		f.HeightLowCm = study.Some(r.number("height_low_cm"))
	}
	if r.cell("height_high_cm") != "" {
		f.HeightHighCm = study.Some(r.number("height_high_cm"))
	}
	return f
}
