package app

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func never(string, string) bool { return false }

// The expectation of each case was read off the rule by hand.
func TestPossiblySame(t *testing.T) {
	at := time.Date(2026, 6, 1, 21, 0, 0, 0, time.UTC)
	pass := func(id, device, trial, pair, individual string, s float64) sitedPass {
		return sitedPass{LoggedPass{Pass: id, Device: device, Time: at.Add(time.Duration(s * float64(time.Second))), Individual: individual, Species: "Raja clavata"}, trial, pair}
	}
	for _, c := range []struct {
		what   string
		passes []sitedPass
		want   []string
	}{
		{"two devices, one animal", []sitedPass{pass("P2", "b", "T1", "A", "R1", 12.5), pass("P1", "a", "T1", "A", "R1", 0)}, []string{"P1 P2 12.5"}},
		{"one of them did not know it", []sitedPass{pass("P1", "a", "T1", "A", "", 0), pass("P2", "b", "T1", "A", "R1", 3)}, []string{"P1 P2 3"}},
		{"neither knew it", []sitedPass{pass("P1", "a", "T1", "A", "", 0), pass("P2", "b", "T1", "A", "", 20)}, []string{"P1 P2 20"}},
		{"two animals", []sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "b", "T1", "A", "R2", 3)}, nil},
		{"one device", []sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "a", "T1", "A", "R1", 3)}, nil},
		{"at two pairs", []sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "b", "T1", "B", "R1", 3)}, nil},
		{"in two trials", []sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "b", "T2", "A", "R1", 3)}, nil},
		{"too far apart", []sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "b", "T1", "A", "R1", 20.5)}, nil},
		{
			"three devices, one of them twice",
			[]sitedPass{pass("P1", "a", "T1", "A", "R1", 0), pass("P2", "b", "T1", "A", "", 5), pass("P3", "c", "T1", "A", "R1", 22), pass("P4", "a", "T1", "A", "R1", 21)},
			[]string{"P1 P2 5", "P2 P4 16", "P2 P3 17", "P4 P3 1"},
		},
		{"nothing", nil, nil},
	} {
		var got []string
		for _, s := range possiblySame(c.passes, 20, never) {
			got = append(got, fmt.Sprint(s.Passes[0].Pass, " ", s.Passes[1].Pass, " ", s.SecondsApart))
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.what, diff)
		}
	}
}

// TestPossiblySameOfAnyOrder compares with the rule asked of every two passes.
func TestPossiblySameOfAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var passes []sitedPass
		for i := range rapid.IntRange(0, 30).Draw(t, "passes") {
			passes = append(passes, sitedPass{LoggedPass{
				Pass: fmt.Sprintf("P%02d", i), Device: rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "device"),
				Time:       time.Unix(int64(rapid.IntRange(0, 120).Draw(t, "time")), 0).UTC(),
				Individual: rapid.SampledFrom([]string{"", "R1", "R2"}).Draw(t, "animal"),
			}, rapid.SampledFrom([]string{"T1", "T2"}).Draw(t, "trial"), rapid.SampledFrom([]string{"A", "B"}).Draw(t, "pair")})
		}
		want := map[string]bool{}
		for i, a := range passes {
			for _, b := range passes[i+1:] {
				apart := a.Time.Sub(b.Time).Abs()
				if a.trial == b.trial && a.pair == b.pair && a.Device != b.Device && apart <= 20*time.Second && (a.Individual == "" || b.Individual == "" || a.Individual == b.Individual) {
					want[a.Pass+" "+b.Pass] = true
				}
			}
		}
		got := map[string]bool{}
		for _, s := range possiblySame(rapid.Permutation(passes).Draw(t, "order"), 20, never) {
			got[min(s.Passes[0].Pass, s.Passes[1].Pass)+" "+max(s.Passes[0].Pass, s.Passes[1].Pass)] = true
			if s.Passes[1].Time.Before(s.Passes[0].Time) || s.SecondsApart < 0 {
				t.Fatalf("not in order of time: %+v", s)
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// Very many at one moment end soon and are not listed without an end.
func TestPossiblySameOfMany(t *testing.T) {
	if testing.Short() {
		t.Skip("long under the race detector, and one thread")
	}
	passes := make([]sitedPass, 20_000)
	for i := range passes {
		passes[i] = sitedPass{LoggedPass{Pass: fmt.Sprint("P", i), Device: fmt.Sprint(i % 2)}, "T1", "A"}
	}
	if got := len(possiblySame(passes, 20, never)); got != mostSame {
		t.Errorf("%d listed, not %d", got, mostSame)
	}
}

func TestPassTime(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	want := time.Date(2026, 6, 1, 20, 3, 7, 500_000_000, time.UTC) // summer time is an hour ahead
	for text, back := range map[string]time.Duration{"2026-06-01T21:03:07.5": 0, "2026-06-01T21:03": 7500 * time.Millisecond, "2026-06-01T20:03:07.5Z": 0, "2026-06-01T22:03:07.500+02:00": 0} {
		if got, ok := passTime(text, dublin); !ok || !got.Equal(want.Add(-back)) {
			t.Errorf("%s: %v, %v", text, got, ok)
		}
	}
	for _, text := range []string{"", "yesterday", "2026-13-01T10:00"} {
		if got, ok := passTime(text, dublin); ok {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}
