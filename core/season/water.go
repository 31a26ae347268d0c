package season

import (
	"cmp"
	"slices"
	"time"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

const (
	waterTime = iota
	waterDepth
	waterTemperature
	waterSalinity
	waterConductivity
)

var waterColumns = []columnSpec{
	waterTime:         {"time", cellNeeded},
	waterDepth:        {"depth_m", cellNeeded},
	waterTemperature:  {"temperature_C", optional},
	waterSalinity:     {"salinity", optional},
	waterConductivity: {"conductivity_S_per_m", optional},
}

// readWater reads the cast, which must be there where [water] names it.
func (r *reader) readWater() {
	why := ""
	if r.study.Water.CastFile != "" {
		why = ", and [water] takes the cast from it"
	}
	t := r.open(WaterFile, waterColumns, why)
	if t == nil {
		return
	}
	bySalinity := t.has(waterTemperature) && t.has(waterSalinity)
	if !bySalinity && !t.has(waterConductivity) {
		t.faults.add(len(t.heads), Fault{
			File: WaterFile, Row: t.row(), Column: "conductivity_S_per_m", Wrong: "the cast does not say what the water conducts",
			Expected: "expected the columns temperature_C and salinity, or conductivity_S_per_m",
		})
	}
	type reading struct {
		at    int64
		depth float64
	}
	seen := map[reading]int{}
	for t.next() {
		row, placed := r.readCastRow(t)
		if r.readingStated(t, bySalinity) && placed {
			key := reading{row.Time.UnixNano(), row.DepthM}
			if first, doubled := seen[key]; doubled {
				t.fault(waterDepth, "a second reading at this time and depth, the first is in row "+itoa(first), "expected one row for each time and depth")
			} else {
				seen[key] = t.row()
			}
		}
		r.study.Cast = append(r.study.Cast, row)
	}
	t.settleDoubts()
	r.study.Cast = castByTime(r.study.Cast)
	if len(r.study.Cast) == 0 && why != "" {
		r.faults.add(0, Fault{File: WaterFile, Row: 1, Column: "time", Wrong: "the cast has no rows" + why, Expected: "expected at least one reading"})
	}
}

// castByTime is the readings with those of one time together: times in order
// of first appearance, and the readings of each in theirs. A cast that is so
// already is returned as it is.
func castByTime(rows []study.CastRow) []study.CastRow {
	groups, last := map[time.Time]int{}, 0
	group := make([]int, len(rows))
	mixed := false
	for i := range rows {
		at := rows[i].Time.UTC()
		g, ok := groups[at]
		if !ok {
			g = len(groups)
			groups[at] = g
		}
		group[i] = g
		mixed = mixed || g < last
		last = g
	}
	if !mixed {
		return rows
	}
	order := make([]int, len(rows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(group[a], group[b]) })
	out := make([]study.CastRow, len(rows))
	for i, k := range order {
		out[i] = rows[k]
	}
	return out
}

// readCastRow reads one reading; placed is false where its time or depth is
// not known.
func (r *reader) readCastRow(t *table) (row study.CastRow, placed bool) {
	at, timed := t.time(waterTime, r.study.Site.Zone)
	depth := t.number(waterDepth, quantity.Metre, zeroOrMore)
	return study.CastRow{
		Time:              at,
		DepthM:            depth.Value,
		TemperatureC:      t.plain(waterTemperature, quantity.One),
		Salinity:          t.number(waterSalinity, quantity.One, aboveZero),
		ConductivitySPerM: t.number(waterConductivity, quantity.SiemensPerMetre, aboveZero),
	}, timed && depth.Known
}

// readingStated tells a row that says nothing, or only half, of the water.
func (r *reader) readingStated(t *table, bySalinity bool) bool {
	if t.has(waterConductivity) && t.cell(waterConductivity) != "" {
		return true
	}
	expected := "expected temperature_C and salinity"
	switch {
	case bySalinity && t.has(waterConductivity):
		expected += ", or conductivity_S_per_m"
	case t.has(waterConductivity):
		expected = "expected conductivity_S_per_m"
	case !bySalinity:
		return false // told with the header
	}
	column := waterConductivity
	if bySalinity {
		if t.cell(waterTemperature) != "" && t.cell(waterSalinity) != "" {
			return true
		}
		column = waterTemperature
		if t.cell(waterTemperature) != "" {
			column = waterSalinity
		}
	}
	t.fault(column, "the cell is blank", expected)
	return false
}

const (
	clipID = iota
	clipFile
	clipStart
	clipOffset
	clipDrift
	clipFrameRate
)

var clipColumns = []columnSpec{
	clipID:        {"clip", cellNeeded},
	clipFile:      {"file", cellNeeded},
	clipStart:     {"start", cellNeeded},
	clipOffset:    {"clock_offset_s", optional},
	clipDrift:     {"drift_ppm", optional},
	clipFrameRate: {"frame_rate", optional},
}

func (r *reader) readClips() {
	t := r.open(ClipsFile, clipColumns, "")
	if t == nil {
		r.clips.open = true
		return
	}
	r.clips.open = !t.has(clipID)
	var rows []int
	for t.next() {
		c := study.Clip{ID: t.name(clipID, "a clip's name"), File: t.text(clipFile)}
		if c.File == "" {
			t.blankFault(clipFile, "the name of a file of footage")
		}
		if c.ID != "" && !r.clips.add(c.ID, len(rows)) {
			r.doubled(t, clipID, c.ID, rows[r.clips.at[c.ID]])
		}
		c.Start, _ = t.time(clipStart, r.study.Site.Zone)
		c.ClockOffsetS = t.plain(clipOffset, quantity.Second)
		c.DriftPPM = t.plain(clipDrift, quantity.One)
		c.FrameRateHz = t.number(clipFrameRate, quantity.One, aboveZero)
		r.study.Clips = append(r.study.Clips, c)
		rows = append(rows, t.row())
	}
	t.settleDoubts()
}

const (
	individualID = iota
	individualSpecies
	individualSex
	individualLength
	individualDisc
	individualHead
	individualMark
	individualExperience
)

var individualColumns = []columnSpec{
	individualID:         {"individual", cellNeeded},
	individualSpecies:    {"species", cellNeeded},
	individualSex:        {"sex", optional},
	individualLength:     {"total_length_cm", optional},
	individualDisc:       {"disc_width_cm", optional},
	individualHead:       {"head_width_cm", optional},
	individualMark:       {"mark", optional},
	individualExperience: {"experience", optional},
}

// readIndividuals reads the animals that are recognised on sight. Where the
// file is not there, passes may name any individual.
func (r *reader) readIndividuals() {
	t := r.open(IndividualsFile, individualColumns, "")
	if t == nil {
		r.individuals.open = true
		return
	}
	r.individuals.open = !t.has(individualID)
	var rows []int
	for t.next() {
		a := study.Individual{ID: t.name(individualID, "an individual's name"), Species: r.reference(t, individualSpecies, &r.species)}
		if a.ID != "" && !r.individuals.add(a.ID, len(rows)) {
			r.doubled(t, individualID, a.ID, rows[r.individuals.at[a.ID]])
		}
		a.Sex = r.keep(t.text(individualSex))
		a.TotalLengthM = t.number(individualLength, quantity.Centimetre, aboveZero)
		a.DiscWidthM = t.number(individualDisc, quantity.Centimetre, aboveZero)
		a.HeadWidthM = t.number(individualHead, quantity.Centimetre, aboveZero)
		a.Mark = t.text(individualMark)
		a.Experience = t.text(individualExperience)
		r.study.Individuals = append(r.study.Individuals, a)
		rows = append(rows, t.row())
	}
	t.settleDoubts()
}

// laterThan tells an end that is not after its start.
func (t *table) laterThan(column int, start, end time.Time, what string) {
	if !end.After(start) {
		t.fault(column, quoted(t.cell(column))+" is not after "+what, "expected a later time")
	}
}
