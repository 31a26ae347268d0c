package season

import (
	"slices"
	"strings"
	"unicode"
)

// suggester finds the name that was probably meant. It remembers its answers
// and stops looking when its budget of comparisons is spent, so that a file in
// which nothing matches is still read in time.
type suggester struct {
	budget int
	seen   map[suggestionKey]string
}

type suggestionKey struct{ kind, word string }

func newSuggester() *suggester {
	return &suggester{budget: 2_000_000, seen: map[suggestionKey]string{}}
}

// nearest is the candidate closest to word, or "". The kind keeps apart words
// that are looked for among different candidates.
func (s *suggester) nearest(kind, word string, candidates []string) string {
	return s.look(suggestionKey{kind, word}, len(candidates), func() string { return nearest(word, candidates) })
}

// nearestIn is the name of the index that is closest to word, or "".
func (s *suggester) nearestIn(x *index, word string) string {
	return s.look(suggestionKey{x.what, word}, len(x.names), func() string {
		for _, n := range x.names[len(x.folded):] {
			x.folded = append(x.folded, []rune(fold(n)))
		}
		return nearestFolded(word, x.names, x.folded)
	})
}

func (s *suggester) look(key suggestionKey, cost int, find func() string) string {
	if found, ok := s.seen[key]; ok {
		return found
	}
	if s.budget < cost || key.word == "" {
		return ""
	}
	s.budget -= cost
	found := find()
	s.seen[suggestionKey{key.kind, strings.Clone(key.word)}] = found
	return found
}

// nearest is the first candidate with the fewest slips (a letter too many, too
// few, wrong, or two exchanged) from word; "" where all need more than a third
// of the word. Capitals, spaces, hyphens and leading zeros are no slips, nor
// is a unit left out.
func nearest(word string, candidates []string) string {
	folded := make([][]rune, len(candidates))
	for i, c := range candidates {
		folded[i] = []rune(fold(c))
	}
	return nearestFolded(word, candidates, folded)
}

// longestName is the longest name, in letters, for which a suggestion is made.
const longestName = 100

func nearestFolded(word string, candidates []string, folded [][]rune) string {
	letters := []rune(fold(word))
	if len(letters) > longestName {
		return ""
	}
	best, fewest := "", max(1, len(letters)/3)+1
	for i, other := range folded {
		if slices.Equal(letters, other) {
			return candidates[i]
		}
		if abs(len(other)-len(letters)) >= fewest || len(other) > longestName {
			continue
		}
		if n := slips(letters, other); n < fewest && n < max(len(letters), len(other)) {
			best, fewest = candidates[i], n
		}
	}
	if best == "" {
		return withUnit(word, candidates)
	}
	return best
}

// withUnit is the first candidate that is the word and a unit.
func withUnit(word string, candidates []string) string {
	for _, c := range candidates {
		if len(word) > 2 && len(c) > len(word) && c[len(word)] == '_' && strings.EqualFold(c[:len(word)], word) {
			return c
		}
	}
	return ""
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// fold is a name without what people vary freely.
func fold(s string) string {
	var b strings.Builder
	zeros := true
	for _, r := range s {
		switch {
		case r == '0' && zeros:
			continue
		case r == ' ' || r == '_' || r == '-' || r == '\u00a0':
			zeros = true
			continue
		case r == 'µ' || r == 'μ':
			r = 'u'
		}
		zeros = !unicode.IsDigit(r)
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// slips is the restricted Damerau–Levenshtein distance of two words of at most
// longestName letters.
func slips(a, b []rune) int {
	var space [3][longestName + 1]int
	before, last, row := &space[0], &space[1], &space[2]
	for j := range len(b) + 1 {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// didYouMean ends an expectation with a suggestion, where there is one.
func didYouMean(expected, suggestion string) string {
	if suggestion == "" {
		return expected
	}
	return expected + ", did you mean " + quoted(suggestion) + "?"
}

// Nearest is the candidate that was probably meant by a word, or "" where none is
// near.
func Nearest(word string, candidates []string) string { return nearest(word, candidates) }
