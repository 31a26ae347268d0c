package season

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Forms of ISO 8601, and what is none. The instants are counted by hand.
func TestParseISO(t *testing.T) {
	nine := time.Date(2025, 6, 1, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		text string
		want time.Time // zero: refused
	}{
		{"2025-06-01T09:00:00", nine},
		{"2025-06-01T09:00", nine},
		{"2025-06-01 09:00:00", nine},
		{"2025-06-01t09:00:00z", nine},
		{"20250601T090000", nine},
		{"20250601T0900", nine},
		{"20250601T090000+0100", nine.Add(-time.Hour)},
		{"2025-06-01T09:00:00Z", nine},
		{"2025-06-01T09:00:00+01:00", nine.Add(-time.Hour)},
		{"2025-06-01T09:00+01", nine.Add(-time.Hour)},
		{"2025-06-01T09:00:00-0330", nine.Add(3*time.Hour + 30*time.Minute)},
		{"2025-06-01T09:00:00.25", nine.Add(250 * time.Millisecond)},
		{"2025-06-01T09:00:00,000000001", nine.Add(1)},
		{"2025-05-31T24:00:00", nine.Add(-9 * time.Hour)},
		{"2024-02-29T09:00:00", time.Date(2024, 2, 29, 9, 0, 0, 0, time.UTC)},
		{"", time.Time{}},
		{"2025-06-01", time.Time{}},
		{"2025-06-01T", time.Time{}},
		{"2025-06-01T09", time.Time{}},
		{"2025-06-01T9:00", time.Time{}},
		{"2025-06-01T09:00:0", time.Time{}},
		{"2025-06-01T0900", time.Time{}},
		{"20250601T09:00", time.Time{}},
		{"2025-06-01T09:00:00.", time.Time{}},
		{"2025-06-01T09:00:00.1234567891", time.Time{}},
		{"2025-06-01T09:00:00 Europe/Dublin", time.Time{}},
		{"2025-06-01T09:00:00+1", time.Time{}},
		{"2025-06-01T09:00:00+19:00", time.Time{}},
		{"2025-06-01T09:00:60", time.Time{}},
		{"2025-06-01T09:60:00", time.Time{}},
		{"2025-06-01T24:00:01", time.Time{}},
		{"2025-02-29T09:00:00", time.Time{}},
		{"2025-13-01T09:00:00", time.Time{}},
		{"2025-00-01T09:00:00", time.Time{}},
		{"2025-06-00T09:00:00", time.Time{}},
		{"25-06-01T09:00:00", time.Time{}},
		{"-025-06-01T09:00:00", time.Time{}},
		{"２025-06-01T09:00:00", time.Time{}},
	} {
		w, ok := parseISO(c.text)
		var got time.Time
		if ok {
			if got, ok = w.asUTC(); ok {
				got = got.Add(-time.Duration(w.offset) * time.Second)
			}
		}
		if ok != !c.want.IsZero() || ok && !got.Equal(c.want) {
			t.Errorf("%q: %v, %v; want %v", c.text, got, ok, c.want)
		}
	}
}

// Clocks that were set, from the IANA time zone database: the wall time and
// the instants at which a clock showed it.
func TestInstantsOf(t *testing.T) {
	for _, c := range []struct {
		zone, wall string
		want       []string
	}{
		{"Europe/Dublin", "2025-03-30T00:59:59", []string{"2025-03-30T00:59:59Z"}},
		{"Europe/Dublin", "2025-03-30T01:00:00", nil},
		{"Europe/Dublin", "2025-03-30T01:59:59", nil},
		{"Europe/Dublin", "2025-03-30T02:00:00", []string{"2025-03-30T01:00:00Z"}},
		{"Europe/Dublin", "2025-10-26T00:59:59", []string{"2025-10-25T23:59:59Z"}},
		{"Europe/Dublin", "2025-10-26T01:00:00", []string{"2025-10-26T00:00:00Z", "2025-10-26T01:00:00Z"}},
		{"Europe/Dublin", "2025-10-26T01:59:59", []string{"2025-10-26T00:59:59Z", "2025-10-26T01:59:59Z"}},
		{"Europe/Dublin", "2025-10-26T02:00:00", []string{"2025-10-26T02:00:00Z"}},
		{"Australia/Lord_Howe", "2025-04-06T01:45:00", []string{"2025-04-05T14:45:00Z", "2025-04-05T15:15:00Z"}}, // half an hour
		{"Pacific/Apia", "2011-12-30T12:00:00", nil},                                                             // a whole day
		{"Pacific/Apia", "2011-12-31T12:00:00", []string{"2011-12-30T22:00:00Z"}},
		{"UTC", "2025-03-30T01:30:00", []string{"2025-03-30T01:30:00Z"}},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		wall, err := time.Parse(isoLocal, c.wall)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, i := range instantsOf(wall, zone) {
			got = append(got, i.UTC().Format(time.RFC3339))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s in %s: %v, want %v", c.wall, c.zone, got, c.want)
		}
	}
}

// Whatever the instant and the zone, what is written is read back as it.
func TestFormatTimeReadsBack(t *testing.T) {
	zones := []string{"Europe/Dublin", "Australia/Lord_Howe", "Pacific/Apia", "America/New_York", "Africa/Monrovia", "Europe/Amsterdam", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		at := time.Unix(rapid.Int64Range(-2_208_900_000, 7_000_000_000).Draw(t, "seconds"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns"))
		if start, _ := at.In(zone).ZoneBounds(); rapid.Bool().Draw(t, "near a change") && start.Year() > 1900 {
			at = start.Add(time.Duration(rapid.IntRange(-9000, 9000).Draw(t, "seconds off")) * time.Second)
		}
		text := formatTime(at, zone)
		w, ok := parseISO(text)
		wall, okWall := w.asUTC()
		if !ok || !okWall {
			t.Fatalf("%v is written %q, which is refused", at, text)
		}
		got := []time.Time{wall.Add(-time.Duration(w.offset) * time.Second)}
		if !w.hasOffset {
			got = instantsOf(wall, zone)
		}
		if len(got) != 1 || !got[0].Equal(at) {
			t.Fatalf("%v is written %q, which is read as %v", at, text, got)
		}
	})
}

func TestReadSpreadsheetTime(t *testing.T) {
	for _, c := range []struct {
		text string
		want []string
	}{
		{"31/12/2025 09:00", []string{"2025-12-31T09:00:00"}},
		{"12/31/25 9:00", []string{"2025-12-31T09:00:00"}},
		{"12/31/2025 12:30 AM", []string{"2025-12-31T00:30:00"}},
		{"12/31/2025 12:30:15 p.m.", []string{"2025-12-31T12:30:15"}},
		{"3/4/2025 9:00", []string{"2025-04-03T09:00:00", "2025-03-04T09:00:00"}},
		{"4/4/2025 9:00", []string{"2025-04-04T09:00:00"}},
		{"31.12.2025, 09:00", []string{"2025-12-31T09:00:00"}},
		{"2025/12/31 09:00", []string{"2025-12-31T09:00:00"}},
		{"45000.375", []string{"2023-03-15T09:00:00"}}, // day 45000 is 15 March 2023
		{"45000,375", []string{"2023-03-15T09:00:00"}},
		{"31/13/2025 09:00", nil},
		{"31/12/2025 13:00 PM", nil},
		{"31/12/2025 25:00", nil},
		{"yesterday", nil},
		{"12:30", nil},
		{"1.5", nil},
	} {
		var got []string
		for _, at := range readSpreadsheetTime(c.text) {
			got = append(got, at.Format(isoLocal))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%q: %v, want %v", c.text, got, c.want)
		}
	}
}
