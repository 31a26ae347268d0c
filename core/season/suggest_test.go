package season

import (
	"testing"

	"pgregory.net/rapid"
)

func TestNearest(t *testing.T) {
	columns := []string{"trial", "start", "end", "active_pair", "current_uA", "current_before_uA", "total_length_cm", "onset_s"}
	for _, c := range []struct{ word, want string }{
		{"trail", "trial"}, // exchanged
		{"strat", "start"},
		{"Trial", "trial"},
		{"active pair", "active_pair"},
		{"current_µA", "current_uA"},
		{"current_uÅ", "current_uA"},
		{"total_length", "total_length_cm"},
		{"onset", "onset_s"},
		{"observer", ""},
		{"x", ""},
		{"", ""},
	} {
		if got := nearest(c.word, columns); got != c.want {
			t.Errorf("nearest(%q) = %q, want %q", c.word, got, c.want)
		}
	}
	for _, c := range []struct {
		word  string
		names []string
		want  string
	}{
		{"T1", []string{"T002", "T001"}, "T001"},
		{"T02", []string{"T1", "T2"}, "T2"},
		{"a", []string{"B", "A"}, "A"},
		{"C", []string{"A", "B"}, ""},
		{"R clavata", []string{"Raja clavata", "R. clavata"}, "R. clavata"},
	} {
		if got := nearest(c.word, c.names); got != c.want {
			t.Errorf("nearest(%q, %q) = %q, want %q", c.word, c.names, got, c.want)
		}
	}
}

// Textbook distances (restricted: a letter is exchanged at most once).
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"abc", "", 3}, {"", "abc", 3}, {"kitten", "sitting", 3}, {"ab", "ba", 1}, {"ca", "abc", 3}, {"sunday", "saturday", 3},
	} {
		if got := slips([]rune(c.a), []rune(c.b)); got != c.want {
			t.Errorf("slips(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.SliceOfN(rapid.SampledFrom([]rune("abc")), 0, 8)
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		if d := slips(a, b); d != slips(b, a) || (d == 0) != (string(a) == string(b)) || d > max(len(a), len(b)) {
			t.Fatalf("slips(%q, %q) = %d", string(a), string(b), d)
		}
	})
}

// When the budget is spent there are no more suggestions, and those that were
// made are still known.
func TestSuggesterStopsLooking(t *testing.T) {
	x := newIndex("a pass")
	for i, name := range []string{"P001", "P002", "P003"} {
		x.add(name, i)
	}
	s := newSuggester()
	s.budget = 5
	for _, c := range []struct{ word, want string }{{"P0O1", "P001"}, {"P0O2", ""}, {"P0O1", "P001"}} {
		if got := s.nearestIn(&x, c.word); got != c.want {
			t.Errorf("%q: %q, want %q", c.word, got, c.want)
		}
	}
}
