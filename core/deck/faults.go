package deck

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// What a spec may hold at most. Buttons and classes must fit on a tablet.
const (
	MostResponses = 24
	MostHeights   = 12
	MostChecks    = 20
	mostWord      = 40 // characters, of what stands in a cell
	mostLabel     = 60 // characters, of what stands on a button
	mostHeightCM  = 10_000
	mostMin       = 24 * 60
)

// Fault is something wrong with a spec, where, and what would be right.
type Fault struct {
	Place    string // such as responses/2/word, counted from 0
	Wrong    string
	Expected string
}

func (f Fault) String() string { return f.Place + ": " + f.Wrong + "; expected " + f.Expected }

// Faults are everything that is wrong with a spec, in its order; none for one
// that can be used.
func (s Spec) Faults() []Fault {
	c := &checking{}
	if s.Format != Format {
		c.fault("format", fmt.Sprintf("found %d", s.Format), fmt.Sprintf("%d, the only one that there is", Format))
	}
	c.count("responses", len(s.Responses), 1, MostResponses)
	c.count("heights", len(s.Heights), 0, MostHeights)
	c.count("checks", len(s.Checks), 0, MostChecks)
	c.responses(s.Responses)
	c.heights(s.Heights)
	words, labels := seen{}, seen{}
	for i, check := range s.Checks {
		at := fmt.Sprintf("checks/%d/", i)
		c.word(at+"word", check.Word)
		c.once(words, at+"word", check.Word, "word", "check")
		c.label(at+"label", check.Label)
		c.once(labels, at+"label", check.Label, "label", "check")
	}
	c.minutes("trial_min", s.TrialMin)
	c.minutes("washout_min", s.WashoutMin)
	return c.faults
}

type checking struct{ faults []Fault }

func (c *checking) fault(place, wrong, expected string) {
	c.faults = append(c.faults, Fault{place, wrong, expected})
}

func (c *checking) count(place string, n, least, most int) {
	if n < least || n > most {
		c.fault(place, fmt.Sprintf("there are %d", n), fmt.Sprintf("%d to %d", least, most))
	}
}

func (c *checking) responses(list []Response) {
	words, labels := seen{}, seen{}
	for i, r := range list {
		at := fmt.Sprintf("responses/%d/", i)
		if r.Word != "" {
			c.word(at+"word", r.Word)
			c.once(words, at+"word", r.Word, "word", "response")
		} else if k := slices.IndexFunc(list[:i], func(o Response) bool { return o.Word == "" && o.Turned == r.Turned && o.Bit == r.Bit }); k >= 0 {
			c.fault(at+"word", fmt.Sprintf("without a word it says the same as %q: nobody could tell them apart afterwards", short(list[k].Label)), "a word, or another answer")
		}
		c.label(at+"label", r.Label)
		c.once(labels, at+"label", r.Label, "label", "response")
		c.answer(at+"turned", r.Turned)
		c.answer(at+"bit", r.Bit)
		if r.Turned == No && r.Bit == Yes {
			c.fault(at+"turned", "an animal that bit an electrode without turning to it", "turned yes or blank with bit yes; a bite at something else is no bite at an electrode: bit no, and a word for it")
		}
		if r.Electrode && r.Bit != Yes {
			c.fault(at+"electrode", "it asks which electrode was bitten, but bit is not yes", "bit yes, or no question")
		}
	}
}

func (c *checking) heights(list []Height) {
	words := seen{}
	for i, h := range list {
		at := fmt.Sprintf("heights/%d/", i)
		c.word(at+"word", h.Word)
		c.once(words, at+"word", h.Word, "word", "class of height")
		low, high := c.height(at+"low_cm", h.LowCM), c.height(at+"high_cm", h.HighCM)
		if low && high && h.LowCM >= h.HighCM {
			c.fault(at+"high_cm", fmt.Sprintf("%g cm is not above %g cm", h.HighCM, h.LowCM), "the upper bound of the class, above the lower one")
		}
	}
}

func (c *checking) height(place string, cm float64) bool {
	ok := cm >= 0 && cm <= mostHeightCM
	if !ok {
		c.fault(place, number(cm), fmt.Sprintf("a height over the bottom of 0 to %d cm", mostHeightCM))
	}
	return ok
}

func (c *checking) minutes(place string, min float64) {
	if !(min >= 0 && min <= mostMin) {
		c.fault(place, number(min), fmt.Sprintf("0 to %d minutes; 0 is as the sealed schedule states", mostMin))
	}
}

func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "no number"
	}
	return fmt.Sprintf("found %g", v)
}

func (c *checking) answer(place string, a Answer) {
	if a != Yes && a != No && a != Blank {
		c.fault(place, fmt.Sprintf("found %q", short(string(a))), "yes, no or blank")
	}
}

// word checks what will stand in a cell of a table: people take tables apart at
// commas and semicolons, and spreadsheets take some beginnings for formulas.
func (c *checking) word(place, word string) {
	if c.line(place, word, mostWord) {
		switch {
		case strings.ContainsAny(word, ",;\"|"):
			c.fault(place, fmt.Sprintf("%q holds a comma, a semicolon, a quotation mark or a bar, at which tables are taken apart", word), "words without them")
		case strings.ContainsAny(word[:1], "=+-@'"):
			c.fault(place, fmt.Sprintf("%q begins as a formula does", word), "a word that begins with a letter or a digit")
		}
	}
}

func (c *checking) label(place, label string) { c.line(place, label, mostLabel) }

func (c *checking) line(place, text string, most int) bool {
	expected := fmt.Sprintf("1 to %d characters in one line", most)
	switch {
	case text == "":
		c.fault(place, "missing", expected)
	case !utf8.ValidString(text):
		c.fault(place, "it is no valid text (UTF-8)", expected)
	case strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
		c.fault(place, "it holds something that cannot be shown in a line", expected)
	case strings.TrimSpace(text) != text:
		c.fault(place, fmt.Sprintf("%q has blanks around it", short(text)), "no blank before or after it")
	case utf8.RuneCountInString(text) > most:
		c.fault(place, fmt.Sprintf("%q has %d characters", short(text), utf8.RuneCountInString(text)), expected)
	default:
		return true
	}
	return false
}

// seen are words by their lower case, with where they stand first.
type seen map[string]string

// once takes words that differ in capital letters alone for one: so do people.
func (c *checking) once(words seen, place, word, what, of string) {
	if word == "" {
		return
	}
	key := strings.ToLower(word)
	if first, taken := words[key]; taken {
		c.fault(place, fmt.Sprintf("%q stands at %s already", short(word), first), "a "+what+" of its own for each "+of)
		return
	}
	words[key] = place
}

func short(text string) string {
	const most = 30
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}
