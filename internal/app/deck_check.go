package app

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/deck"
	"brinefield/core/study"
)

// The words of what a tablet logs.
const (
	checkOK    = "ok"
	checkNotOK = "not ok"

	eventAdverse = "adverse"
	eventNote    = "note"

	readBefore = "before"
	readAfter  = "after"

	photoKind = "photo"
	voiceKind = "voice"
)

var (
	checkStates = []string{checkOK, checkNotOK}
	eventKinds  = []string{eventAdverse, eventNote}
)

// fieldsOfTasks are fields of kinds that people may correct, which only a task
// of the page Deck or a tablet writes. Records of these kinds are not made by
// hand either; they can be withdrawn.
//
// The trial of a reading is among them: a reading that moved into an opened trial
// would show the current of a sealed one.
var fieldsOfTasks = map[study.Kind][]string{
	study.KindReading:    {"trial", "when", "time", "by", refField},
	study.KindAttachment: {"kind", refField, "about", "type", "bytes", "time", "by"},
	study.KindClock:      {"offset_s", "stated"},
	study.KindDistinct:   {},
}

var whyOfTasks = map[study.Kind]string{
	study.KindReading:    "a current that was read stays with its trial as it was read, and another reading takes its place",
	study.KindAttachment: "a photo or a voice note is as it came from the tablet",
	study.KindClock:      "how far a clock was ahead is stated on the page Deck, which corrects the times too",
	study.KindDistinct:   "that two passes are not one is said on the page Deck, beside both",
}

// The most that one text or number of the deck's records may be when people
// correct it.
const (
	mostLoggedText  = 4000
	mostLoggedCount = 1_000_000
)

// checkLogged refuses corrections that nothing can be made of. Only what is
// changed is looked at: what a tablet logged stays as it is until somebody
// corrects it.
func (e *edit) checkLogged(r *study.Record) {
	name := nameOf(*r)
	before := e.before[name]
	changed := func(field string) bool { return before == nil || before.Fields[field] != r.Fields[field] }
	for _, field := range fieldNames(r.Kind) {
		text := r.Fields[field]
		if !changed(field) || text == "" {
			continue
		}
		if len(text) > mostLoggedText {
			e.fault(name, field, fmt.Sprintf("it has %d bytes", len(text)), fmt.Sprintf("expected at most %d", mostLoggedText))
		}
		switch field {
		case "time":
			if _, ok := passTime(text, time.UTC); !ok {
				e.fault(name, field, fmt.Sprintf("%q is no time", text), "expected one like 2026-06-01T21:40:00, or with its offset, 2026-06-01T21:40:00+01:00")
			}
		case "animals":
			if n, err := strconv.Atoi(text); err != nil || n < 0 || n > mostLoggedCount {
				e.fault(name, field, fmt.Sprintf("found %q", text), "expected how many, 0 or more")
			}
		case "hours":
			if _, ok := loggedNumber(text); !ok {
				e.fault(name, field, fmt.Sprintf("found %q", text), "expected hours, 0 or more")
			}
		case "permit":
			if e.from.current.state(recordName{study.KindPermit, text}) == nil {
				e.fault(name, field, fmt.Sprintf("there is no permit %q", text), "expected one of the page Question")
			}
		}
	}
	oneOf := func(field string, words []string) {
		if changed(field) && !slices.Contains(words, r.Fields[field]) {
			e.fault(name, field, fmt.Sprintf("found %q", r.Fields[field]), "expected "+strings.Join(words, " or "))
		}
	}
	needed := func(field, what string) {
		if changed(field) && r.Fields[field] == "" {
			e.fault(name, field, "missing", "expected "+what)
		}
	}
	switch r.Kind {
	case study.KindCheck:
		oneOf("state", checkStates)
		needed("check", "what was looked at, in the word of the study's list")
	case study.KindEvent:
		oneOf("what", eventKinds)
		needed("text", "what happened")
	case study.KindCount:
		needed("permit", "the permit that it counts against")
		if (changed("animals") || changed("hours")) && r.Fields["animals"] == "" && r.Fields["hours"] == "" {
			e.fault(name, "animals", "neither animals nor hours", "expected at least one of them, or that the count is withdrawn")
		}
	}
}

// loggedNumber reads a number of 0 or more.
func loggedNumber(text string) (float64, bool) {
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && v >= 0 && v <= mostLoggedCount
}

// checkPermitLimits refuses limits that nothing can be counted against.
func (e *edit) checkPermitLimits(r *study.Record) {
	if text := r.Fields["animals_most"]; text != "" {
		if n, err := strconv.Atoi(text); err != nil || n < 0 || n > mostLoggedCount {
			e.fault(nameOf(*r), "animals_most", fmt.Sprintf("found %q", text), "expected how many animals it allows, or nothing where it states none")
		}
	}
	if text := r.Fields["hours_most"]; text != "" {
		if _, ok := loggedNumber(text); !ok {
			e.fault(nameOf(*r), "hours_most", fmt.Sprintf("found %q", text), "expected how many hours it allows, or nothing where it states none")
		}
	}
}

// checkDeckSpec refuses a spec that nobody could log with. The place of a fault
// in it is the field.
func (e *edit) checkDeckSpec(r *study.Record) {
	text := r.Fields["spec"]
	if text == "" {
		return
	}
	if _, err := deck.Parse(text); err != nil {
		e.fault(nameOf(*r), "spec", err.Error(), "expected one of the page Deck")
	}
}

// permitLimit is what a permit states in numbers that can be read.
func permitLimit(fields map[string]string) (l deck.Limit) {
	if n, err := strconv.Atoi(fields["animals_most"]); err == nil && n >= 0 && n <= mostLoggedCount {
		l.Animals = &n
	}
	if h, ok := loggedNumber(fields["hours_most"]); ok {
		l.Hours = &h
	}
	return l
}

// countOf is what a count says; what cannot be read counts nothing.
func countOf(fields map[string]string) (c deck.Count) {
	if n, err := strconv.Atoi(fields["animals"]); err == nil {
		c.Animals = n
	}
	if h, err := strconv.ParseFloat(fields["hours"], 64); err == nil && !math.IsNaN(h) {
		c.Hours = h
	}
	if !c.Usable() {
		return deck.Count{}
	}
	return c
}
