package season

import (
	"strconv"
	"strings"
	"time"

	"brinefield/core/quantity"
)

// explainTime says what to write instead of a time that is not ISO 8601. A
// spreadsheet's own style is recognised and the exact cell is given; where day
// and month could be exchanged, both readings are.
func explainTime(c string) string {
	const expected = "expected a time such as 2025-06-01T09:00:00"
	if fixes := readSpreadsheetTime(c); len(fixes) > 0 {
		var texts []string
		for _, f := range fixes {
			texts = append(texts, f.Format("2006-01-02T15:04:05"))
		}
		hint := "expected ISO 8601: write " + strings.Join(texts, " or ")
		if !strings.Contains(c, ":") && !isSerial(c) {
			hint += " with the time of day in the place of 00:00:00"
		}
		return hint
	}
	return expected
}

// readSpreadsheetTime gives the possible meanings of a time in the style of a
// country or of a spreadsheet's cell.
func readSpreadsheetTime(c string) []time.Time {
	if isSerial(c) {
		return fromSerial(c)
	}
	date, clock, _ := strings.Cut(strings.Replace(c, "T", " ", 1), " ")
	clock = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(clock), ","))
	date = strings.TrimSuffix(date, ",")
	hour, minute, second, ok := readClock(clock)
	if !ok {
		return nil
	}
	parts := strings.FieldsFunc(date, func(r rune) bool { return r == '/' || r == '.' || r == '-' })
	if len(parts) != 3 {
		return nil
	}
	var n [3]int
	for i, p := range parts {
		v, err := strconv.Atoi(p)
		if err != nil || v < 0 || len(p) > 4 {
			return nil
		}
		n[i] = v
	}
	var out []time.Time
	add := func(year, month, day int) {
		if year < 100 && len(parts[0]) <= 2 {
			year += 2000
		}
		w := wallTime{year: year, month: month, day: day, hour: hour, minute: minute, second: second}
		if t, ok := w.asUTC(); ok && (len(out) == 0 || !out[0].Equal(t)) {
			out = append(out, t)
		}
	}
	if len(parts[0]) == 4 {
		add(n[0], n[1], n[2])
		return out
	}
	add(n[2], n[1], n[0])
	add(n[2], n[0], n[1])
	return out
}

// readClock reads 9:00, 09:00:30, 9:00 PM; a blank clock is midnight.
func readClock(c string) (hour, minute, second int, ok bool) {
	if c == "" {
		return 0, 0, 0, true
	}
	upper := strings.ToUpper(strings.ReplaceAll(c, ".", ""))
	half := ""
	for _, h := range []string{"AM", "PM"} {
		if strings.HasSuffix(upper, h) {
			half = h
			c = strings.TrimRight(c, "aApPmM. ")
		}
	}
	parts := strings.Split(c, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, 0, 0, false
	}
	var n [3]int
	for i, p := range parts {
		v, err := strconv.Atoi(p)
		if err != nil || v < 0 || v > 59 {
			return 0, 0, 0, false
		}
		n[i] = v
	}
	switch {
	case half != "" && (n[0] < 1 || n[0] > 12), n[0] > 23:
		return 0, 0, 0, false
	case half == "AM" && n[0] == 12:
		n[0] = 0
	case half == "PM" && n[0] < 12:
		n[0] += 12
	}
	return n[0], n[1], n[2], true
}

// isSerial reports whether a cell looks like a spreadsheet's count of days
// since the end of 1899, within the years 1954 to 2119.
func isSerial(c string) bool {
	v, err := quantity.One.Parse(strings.Replace(c, ",", ".", 1))
	return err == nil && v >= 20000 && v < 80000
}

func fromSerial(c string) []time.Time {
	v, err := quantity.One.Parse(strings.Replace(c, ",", ".", 1))
	if err != nil {
		return nil
	}
	days := int(v)
	seconds := time.Duration((v-float64(days))*86400+0.5) * time.Second
	return []time.Time{time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, days).Add(seconds)}
}
