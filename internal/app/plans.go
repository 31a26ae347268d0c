package app

import (
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
)

// mostPlans is how many plans a window keeps; the oldest is dropped.
const mostPlans = 8

// plan is an import that was shown and may be carried out.
type plan struct {
	id    string
	study string // "" for a new one
	input Input
}

type planList struct {
	mu   sync.Mutex
	list []*plan
}

func (l *planList) add(p *plan) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.list = append(l.list, p)
	if len(l.list) > mostPlans {
		l.list = slices.Delete(l.list, 0, len(l.list)-mostPlans)
	}
}

// take hands a plan out, so that nobody else carries it out too; nil where
// there is none.
func (l *planList) take(id string) *plan {
	l.mu.Lock()
	defer l.mu.Unlock()
	i := slices.IndexFunc(l.list, func(p *plan) bool { return p.id == id })
	if i < 0 {
		return nil
	}
	p := l.list[i]
	l.list = slices.Delete(l.list, i, i+1)
	return p
}

// longestName is how many characters a suggested name has at most.
const longestName = 60

// suggestName makes a folder's name of a title: letters, digits, spaces and
// hyphens, and a number where it is taken.
func suggestName(title string, taken []string) string {
	keep := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-':
			return r
		case r == ' ' || r == '_':
			return ' '
		}
		return -1
	}, title)
	runes := []rune(strings.Join(strings.Fields(keep), " "))
	name := strings.Trim(string(runes[:min(len(runes), longestName)]), " -")
	if name == "" {
		name = "Study"
	}
	free := name
	for n := 2; slices.ContainsFunc(taken, func(t string) bool { return strings.EqualFold(t, free) }); n++ {
		free = name + " " + strconv.Itoa(n)
	}
	return free
}
