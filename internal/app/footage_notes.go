package app

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"brinefield/core/journal"
)

// notes are what the user should know of the files, in sentences.
func (m *importing) notes(stated bool, standing *journal.State) []string {
	var out []string
	first := m.parts[0]
	if !stated {
		out = append(out, "The start is what the file says of itself, which is the camera's word: many cameras write the time of day of their own clock as if it were UTC. Set the clock by events that are seen in the clip.")
	}
	if standing != nil && !standing.Removed && standing.Fields["file"] != "" && standing.Fields["file"] != first.name {
		out = append(out, fmt.Sprintf("The season calls the file %s; %s was imported.", standing.Fields["file"], first.name))
	}
	names := make([]string, len(m.parts))
	made := make([]string, len(m.parts))
	for i, f := range m.parts {
		names[i], made[i] = f.name, f.probed.Made
	}
	if better := numberedOrder(names); better != nil {
		out = append(out, "By the camera's numbers the order of the files would be "+joinWords(better)+"; they were joined as they were given.")
	}
	if i := earlierThanBefore(made); i > 0 {
		out = append(out, fmt.Sprintf("By their own clocks %s was begun before %s, which it follows here.", names[i], names[i-1]))
	}
	return out
}

var digits = regexp.MustCompile(`[0-9]+`)

// numberedOrder is the order that the numbers in names suggest, where the names
// are the same but for their numbers; nil where that is the order that they have.
func numberedOrder(names []string) []string {
	stem := digits.ReplaceAllString(strings.ToLower(names[0]), "#")
	numbers := func(name string) []string { return digits.FindAllString(name, -1) }
	for _, name := range names {
		if digits.ReplaceAllString(strings.ToLower(name), "#") != stem {
			return nil
		}
	}
	byNumber := func(a, b string) int {
		x, y := numbers(a), numbers(b)
		for i := range min(len(x), len(y)) {
			p, q := strings.TrimLeft(x[i], "0"), strings.TrimLeft(y[i], "0")
			if c := cmp.Or(cmp.Compare(len(p), len(q)), strings.Compare(p, q)); c != 0 {
				return c
			}
		}
		return 0
	}
	if slices.IsSortedFunc(names, byNumber) {
		return nil
	}
	return slices.SortedStableFunc(slices.Values(names), byNumber)
}

// earlierThanBefore is the first of some times that lies before the one in front
// of it; 0 where none does.
func earlierThanBefore(times []string) int {
	var last time.Time
	for i, text := range times {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			continue
		}
		if at.Before(last) {
			return i
		}
		last = at
	}
	return 0
}
