package season

import (
	"slices"
	"strconv"
	"time"
)

// wallTime is a time as it was written: a date, a time of day, and perhaps an
// offset from UTC.
type wallTime struct {
	year, month, day, hour, minute, second, nanosecond int

	hasOffset bool
	offset    int // seconds east of UTC
}

// Years that a time of a season may have; what lies outside is a slip of the
// pen or of a spreadsheet.
const firstYear, lastYear = 1900, 2199

// asUTC is the wall time as if it had been read off a clock on UTC. ok is
// false where there is no such date or time of day.
func (w wallTime) asUTC() (t time.Time, ok bool) {
	if w.year < firstYear || w.year > lastYear || w.month < 1 || w.month > 12 || w.day < 1 || w.hour > 24 || w.minute > 59 || w.second > 59 {
		return time.Time{}, false
	}
	if w.hour == 24 && (w.minute > 0 || w.second > 0 || w.nanosecond > 0) {
		return time.Time{}, false
	}
	t = time.Date(w.year, time.Month(w.month), w.day, 0, 0, 0, 0, time.UTC)
	if t.Day() != w.day {
		return time.Time{}, false
	}
	return time.Date(w.year, time.Month(w.month), w.day, w.hour, w.minute, w.second, w.nanosecond, time.UTC), true
}

// digits reads the decimal digits of s[from:from+n].
func digits(s string, from, n int) (int, bool) {
	if from+n > len(s) {
		return 0, false
	}
	v := 0
	for _, c := range []byte(s[from : from+n]) {
		if c < '0' || c > '9' {
			return 0, false
		}
		v = v*10 + int(c-'0')
	}
	return v, true
}

// parseISO reads a date and a time of day of ISO 8601 in the extended form
// (2025-06-01T09:00, with seconds, a fraction and an offset or Z as wanted; a
// space may stand for the T) or the basic form (20250601T090000). ok is false
// for everything else, a date alone among it.
func parseISO(s string) (w wallTime, ok bool) {
	extended := len(s) > 4 && s[4] == '-'
	p := isoReader{s: s, ok: true}
	w.year = p.number(4)
	p.mark('-', extended)
	w.month = p.number(2)
	p.mark('-', extended)
	w.day = p.number(2)
	if !p.any("Tt ") {
		return w, false
	}
	w.hour = p.number(2)
	p.mark(':', extended)
	w.minute = p.number(2)
	if p.any(":") == extended && p.at < len(s) && s[p.at] >= '0' && s[p.at] <= '9' {
		w.second = p.number(2)
		if p.any(".,") {
			w.nanosecond = p.fraction()
		}
	}
	if p.at < len(s) && p.ok {
		w.hasOffset = true
		w.offset = p.offset()
	}
	return w, p.ok && p.at == len(s)
}

// isoReader walks a time; once something is not as it must be, ok is false.
type isoReader struct {
	s  string
	at int
	ok bool
}

func (p *isoReader) number(n int) int {
	v, ok := digits(p.s, p.at, n)
	p.ok = p.ok && ok
	p.at += n
	return v
}

func (p *isoReader) mark(c byte, wanted bool) {
	if !wanted {
		return
	}
	p.ok = p.ok && p.at < len(p.s) && p.s[p.at] == c
	p.at++
}

func (p *isoReader) any(marks string) bool {
	if p.at < len(p.s) {
		for i := 0; i < len(marks); i++ {
			if p.s[p.at] == marks[i] {
				p.at++
				return true
			}
		}
	}
	return false
}

// fraction reads one to nine decimals of a second as nanoseconds.
func (p *isoReader) fraction() int {
	from, v := p.at, 0
	for p.at < len(p.s) && p.s[p.at] >= '0' && p.s[p.at] <= '9' {
		if p.at-from >= 9 {
			p.ok = false
			return 0
		}
		v = v*10 + int(p.s[p.at]-'0')
		p.at++
	}
	if p.at == from {
		p.ok = false
	}
	for n := p.at - from; n < 9; n++ {
		v *= 10
	}
	return v
}

// offset reads Z, ±hh, ±hhmm or ±hh:mm to the end.
func (p *isoReader) offset() int {
	if p.any("Zz") {
		return 0
	}
	sign := 1
	if p.any("-") {
		sign = -1
	} else if !p.any("+") {
		p.ok = false
		return 0
	}
	h, m := p.number(2), 0
	if p.at < len(p.s) {
		p.any(":")
		m = p.number(2)
	}
	if h > 18 || m > 59 {
		p.ok = false
	}
	return sign * (h*3600 + m*60)
}

// instantsOf are the instants at which a clock in the zone shows the wall
// time: none where daylight saving skips it, two where it occurs twice, the
// earlier first.
func instantsOf(wall time.Time, zone *time.Location) []time.Time {
	near := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), wall.Nanosecond(), zone)
	start, end := near.ZoneBounds()
	if quiet(near, start, end) {
		return []time.Time{near}
	}
	neighbours := []time.Time{near}
	if !start.IsZero() {
		neighbours = append(neighbours, start.Add(-time.Second))
	}
	if !end.IsZero() {
		neighbours = append(neighbours, end)
	}
	var out []time.Time
	for _, n := range neighbours {
		_, offset := n.In(zone).Zone()
		instant := time.Unix(wall.Unix()-int64(offset), int64(wall.Nanosecond())).In(zone)
		if _, o := instant.Zone(); o == offset && !slices.ContainsFunc(out, instant.Equal) {
			out = append(out, instant)
		}
	}
	slices.SortFunc(out, time.Time.Compare)
	return out
}

// quiet reports that no change of the clock is within a day.
func quiet(t, start, end time.Time) bool {
	const day = 26 * time.Hour
	return (start.IsZero() || t.Sub(start) > day) && (end.IsZero() || end.Sub(t) > day)
}

// time reads a cell as an instant in the study's zone. Where the zone is not
// known it is read as UTC; known is false where the cell is blank or at fault.
func (t *table) time(column int, zone *time.Location) (at time.Time, known bool) {
	c := tidyName(t.cell(column))
	if c == "" {
		t.blankFault(column, "a time such as 2025-06-01T09:00:00")
		return time.Time{}, false
	}
	w, ok := parseISO(c)
	if !ok {
		t.fault(column, quoted(c)+" is not an ISO 8601 time", explainTime(c))
		return time.Time{}, false
	}
	wall, ok := w.asUTC()
	if !ok {
		t.fault(column, quoted(c)+" is no date and time of day from "+strconv.Itoa(firstYear)+" to "+strconv.Itoa(lastYear), "expected one that exists, such as 2025-06-01T09:00:00")
		return time.Time{}, false
	}
	switch {
	case zone == nil:
		return wall.Add(-time.Duration(w.offset) * time.Second), true
	case w.hasOffset:
		at = wall.Add(-time.Duration(w.offset) * time.Second).In(zone)
		if at.Year() < firstYear || at.Year() > lastYear {
			t.fault(column, quoted(c)+" is outside "+strconv.Itoa(firstYear)+" to "+strconv.Itoa(lastYear), "expected a time of this study")
			return time.Time{}, false
		}
		return at, true
	}
	return t.localTime(column, c, wall, zone)
}

// localTime is the instant of a wall time in the zone, where there is one and
// only one.
func (t *table) localTime(column int, c string, wall time.Time, zone *time.Location) (at time.Time, known bool) {
	instants := instantsOf(wall, zone)
	switch len(instants) {
	case 1:
		return instants[0], true
	case 0:
		before, after := wallGap(wall, zone)
		t.fault(column, quoted(c)+" was never on a clock in "+zone.String()+": daylight saving skipped it",
			"expected a time before "+before+" or from "+after+" on")
	default:
		t.fault(column, quoted(c)+" was on a clock in "+zone.String()+" twice, before and after it was set back",
			"expected an offset: write "+isoWithOffset(instants[0])+" or "+isoWithOffset(instants[1]))
	}
	return time.Time{}, false
}

const isoLocal = "2006-01-02T15:04:05.999999999"

func isoWithOffset(t time.Time) string { return t.Format(isoLocal + "-07:00") }

// wallGap is what the clock showed on both sides of the change that skipped
// the wall time.
func wallGap(wall time.Time, zone *time.Location) (before, after string) {
	near := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, zone)
	start, end := near.ZoneBounds()
	change := start
	if start.IsZero() || !end.IsZero() && end.Sub(near) < near.Sub(start) {
		change = end
	}
	_, old := change.Add(-time.Second).Zone()
	return change.UTC().Add(time.Duration(old) * time.Second).Format(isoLocal), change.Format(isoLocal)
}

// formatTime writes an instant as the season does: without an offset in the
// study's zone, and with one where the clock showed that time twice.
func formatTime(t time.Time, zone *time.Location) string {
	local := t.In(zone)
	wall := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), local.Second(), local.Nanosecond(), time.UTC)
	if len(instantsOf(wall, zone)) == 1 {
		return local.Format(isoLocal)
	}
	if _, offset := local.Zone(); offset%60 != 0 {
		return t.UTC().Format(isoLocal) + "Z"
	}
	return isoWithOffset(local)
}
