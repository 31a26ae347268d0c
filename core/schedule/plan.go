package schedule

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
)

// ErrPlan is returned for a plan that cannot be drawn; the error says what is
// wrong and what would be right.
var ErrPlan = errors.New("schedule")

// What a trial is. A silent trial drives nothing; in a sham the switch is
// thrown as ever, to no pair.
const (
	Active = "active"
	Silent = "silent"
	Sham   = "sham"
)

// The most that a plan may ask for: beyond it is a slip of the keyboard.
const (
	mostPairs    = 64
	mostCurrents = 32
	mostTrials   = 100_000
)

// Plan is what is drawn. It is public: it tells what may happen in any trial,
// not what does.
type Plan struct {
	// Pairs are the labels of the pairs; at least two.
	Pairs []string
	// CurrentsUA are the currents, µA, magnitudes above 0; at least one.
	CurrentsUA []float64
	// Trials are all trials, silent ones and shams among them.
	Trials int
	// Silent and Sham are how many of them drive nothing.
	Silent, Sham int
	// OdourOff is in how many of the driven trials the odour stays off.
	OdourOff int
	// DrawPolarity: the sign of the current is drawn too; otherwise it is
	// positive throughout.
	DrawPolarity bool
	// Repeats is how often a block holds each pair; 0 counts as 1. More repeats
	// make the end of a block harder to guess, and the balance coarser.
	Repeats int
	// MostAlike is how many driven trials running may have the same pair; 0 is
	// no limit.
	MostAlike int
	// Spare is the number of further draws for protocols that draw again after a
	// bite. They are drawn after all trials, by the same rule, and committed to
	// with them.
	Spare int
}

func (p *Plan) repeats() int { return max(p.Repeats, 1) }

// driven is the number of trials that drive a pair.
func (p *Plan) driven() int { return p.Trials - p.Silent - p.Sham }

// Check says what is wrong with a plan, everything at once; nil: nothing.
// Errors wrap [ErrPlan].
func (p *Plan) Check() error {
	var faults []error
	fault := func(format string, args ...any) {
		faults = append(faults, fmt.Errorf("%w: "+format, append([]any{ErrPlan}, args...)...))
	}
	if len(p.Pairs) < 2 || len(p.Pairs) > mostPairs {
		fault("%d pairs; expected 2 to %d, so that there is something to draw", len(p.Pairs), mostPairs)
	}
	for i, label := range p.Pairs {
		switch {
		case label == "" || strings.ContainsAny(label, "+,") || strings.ContainsFunc(label, unprintable) || label == "none" || label == "sealed":
			fault("pair %q; expected a label of printable letters without + and comma that is not none or sealed", label)
		case slices.Contains(p.Pairs[:i], label):
			fault("pair %q is named twice; expected each once", label)
		}
	}
	if len(p.CurrentsUA) < 1 || len(p.CurrentsUA) > mostCurrents {
		fault("%d currents; expected 1 to %d", len(p.CurrentsUA), mostCurrents)
	}
	for i, current := range p.CurrentsUA {
		switch {
		case !(current > 0) || math.IsInf(current, 0):
			fault("a current of %g µA; expected one above 0 (the polarity is drawn by itself)", current)
		case slices.Contains(p.CurrentsUA[:i], current):
			fault("the current %g µA is named twice; expected each once", current)
		}
	}
	if p.Trials < 1 || p.Trials > mostTrials {
		fault("%d trials; expected 1 to %d", p.Trials, mostTrials)
	}
	for _, count := range []struct {
		name  string
		value int
	}{{"silent", p.Silent}, {"sham", p.Sham}, {"odour-off", p.OdourOff}, {"spare", p.Spare}} {
		if count.value < 0 || count.value > mostTrials {
			fault("%d %s trials; expected 0 to %d", count.value, count.name, mostTrials)
		}
	}
	if p.driven() < 1 {
		fault("%d trials, of which %d are silent and %d shams; expected at least one that drives a pair", p.Trials, p.Silent, p.Sham)
	} else if p.OdourOff > p.driven() {
		fault("%d trials without odour; expected at most the %d that drive a pair", p.OdourOff, p.driven())
	}
	if p.Repeats < 0 || p.Repeats > 100 {
		fault("each pair %d times in a block; expected 1 to 100", p.Repeats)
	}
	if p.MostAlike < 0 {
		fault("at most %d alike in a row; expected 1 or more, or 0 for no limit", p.MostAlike)
	}
	return errors.Join(faults...)
}

func unprintable(r rune) bool { return r == unicode.ReplacementChar || !unicode.IsPrint(r) }
