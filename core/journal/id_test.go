package journal

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// rfcID is the example of RFC 9562 (appendix A.6): 2022-02-22T19:22:22Z, rand_a
// 0xCC3, rand_b 0x18C4DC0C0C07398F. From memory, compared with several
// open-source test suites that quote it.
const rfcID = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"

var rfcTime = time.Date(2022, 2, 22, 19, 22, 22, 0, time.UTC)

func TestTheExampleOfRFC9562(t *testing.T) {
	id := strings.ToLower(rfcID)
	stamp, ok := stampOf(id)
	if !ok {
		t.Fatalf("%s is refused", id)
	}
	differ(t, "time", rfcTime, time.UnixMilli(int64(stamp>>12)).UTC())
	differ(t, "rand_a", uint64(0xcc3), stamp&0xfff)

	// The same layout is written: the ID before it has the counter one lower.
	got, err := nextID("017f22e2-79b0-7cc2-8000-000000000000", rfcTime, [10]byte{0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f})
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "ID", id, got)
	// The two highest bits of chance give way to the variant.
	got, err = nextID("017f22e2-79b0-7cc2-8000-000000000000", rfcTime, [10]byte{0xd8, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f})
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "ID", id, got)
}

func TestIDsOfOneForm(t *testing.T) {
	id := strings.ToLower(rfcID)
	for _, good := range []string{id, id[:19] + "8" + id[20:], id[:19] + "a" + id[20:], id[:19] + "b" + id[20:], "00000000-0000-7000-8000-000000000000", "ffffffff-ffff-7fff-bfff-ffffffffffff"} {
		if !validID(good) {
			t.Errorf("%s is refused", good)
		}
	}
	for _, bad := range []string{
		"", rfcID, id[:35], id + "0", strings.ReplaceAll(id, "-", ""), "{" + id + "}", "urn:uuid:" + id, id[:14] + "4" + id[15:], id[:14] + "8" + id[15:],
		id[:19] + "7" + id[20:], id[:19] + "c" + id[20:], "g" + id[1:], id[:8] + "0" + id[9:], id[:13] + "0" + id[14:], id[:18] + "0" + id[19:], id[:23] + "0" + id[24:],
		"-" + id[1:], id[:35] + "\x00", id[:34] + "é",
	} {
		if validID(bad) {
			t.Errorf("%q is taken for an ID", bad)
		}
		if _, ok := stampOf(bad); ok {
			t.Errorf("%q has a time", bad)
		}
	}
}

// TestIDsRise whatever the clock does and chance gives.
func TestIDsRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wall := time.UnixMilli(rapid.Int64Range(0, 253402300799999).Draw(t, "from"))
		last := ""
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			wall = rapid.OneOf(
				rapid.Just(wall),                   // stands still
				rapid.Just(wall.Add(1)),            // a nanosecond
				rapid.Just(wall.Add(-time.Second)), // set back
				rapid.Just(wall.Add(time.Hour)),
				rapid.Custom(func(t *rapid.T) time.Time { return time.UnixMilli(rapid.Int64Range(0, 253402300799999).Draw(t, "to")) }), // jumps
			).Filter(func(w time.Time) bool { return w.Unix() >= 0 }).Draw(t, "wall")
			var random [10]byte
			copy(random[:], rapid.SliceOfN(rapid.Byte(), 10, 10).Draw(t, "random"))
			id, err := nextID(last, wall, random)
			if err != nil {
				t.Fatal(err)
			}
			if id <= last {
				t.Fatalf("%s after %s", id, last)
			}
			before, _ := stampOf(last)
			stamp, ok := stampOf(id)
			if !ok || last != "" && stamp <= before {
				t.Fatalf("%s after %s: the times do not rise", id, last)
			}
			if ms := uint64(wall.UnixMilli()); stamp>>12 > max(ms, (before+1)>>12) || stamp>>12 < ms {
				t.Fatalf("the time of %s is neither the clock's (%d) nor that of %s", id, ms, last)
			}
			last = id
		}
	})
}

// TestManyIDsInOneMillisecond spill into the next milliseconds, and come back
// to the clock when it has caught up.
func TestManyIDsInOneMillisecond(t *testing.T) {
	last := ""
	for i := range 10_000 {
		id, err := nextID(last, rfcTime, [10]byte{255, 255, 255, 255, 255, 255, 255, 255})
		if err != nil {
			t.Fatal(err)
		}
		stamp, _ := stampOf(id)
		if want := uint64(rfcTime.UnixMilli())<<12 + uint64(i); stamp != want || id <= last {
			t.Fatalf("ID %d is %s after %s: counter %x, not %x", i, id, last, stamp, want)
		}
		last = id
	}
	id, err := nextID(last, rfcTime.Add(3*time.Millisecond), [10]byte{})
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "time after the clock caught up", "017f22e2-79b3-7000-8000-000000000000", id)
}

func TestNoIDWithoutATime(t *testing.T) {
	for name, c := range map[string]struct {
		last string
		wall time.Time
		want string
	}{
		"a clock before 1970":        {"", time.UnixMilli(-1), "the clock says 1969-12-31T23:59:59Z: set it"},
		"a clock that was never set": {"", time.Time{}, "the clock says 0001-01-01T00:00:00Z: set it"},
		"beyond 48 bits":             {"", time.UnixMilli(1 << 48), "set it"},
		"an ID of another kind":      {"f47ac10b-58cc-4372-a567-0e02b2c3d479", rfcTime, "is no UUID of version 7"},
		"the last ID of all":         {"ffffffff-ffff-7fff-8000-000000000000", rfcTime, "no ID comes after"},
	} {
		wall := c.wall.UTC()
		if id, err := nextID(c.last, wall, [10]byte{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %q, %v", name, id, err)
		}
	}
	if id, err := nextID("", time.Unix(0, 0), [10]byte{}); err != nil || id != "00000000-0000-7000-8000-000000000000" {
		t.Errorf("the first moment of 1970: %q, %v", id, err)
	}
}
