package reach

import (
	"fmt"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
)

// Change is one thing that is not known well: what it is, how large the change
// is in words, and the settings at its low and its high end. S is whatever
// the caller's measure understands (a set of knobs).
type Change[S any] struct {
	What, Said string
	Low, High  S
}

// Measured is what a setting gives: how far the field reaches and how large it
// is at a place. Either may be NaN where there is none.
type Measured struct{ RangeM, FieldVPerM float64 }

// Effect is what one change does.
type Effect struct {
	What, Said string
	// Low and High are what the settings Change.Low and Change.High give: not
	// sorted, so that they show which way it goes.
	Low, High Measured
}

// Vary measures the base setting and both ends of each change, and returns the
// effects sorted by how much they change the range, the largest first; equal
// ones by how much they change the field, and then in the order given. For
// this a missing range counts as 0 (the threshold is reached nowhere), and a
// change with a missing field comes after those that have one.
//
// measure is called from up to workers goroutines at once (at least 1) and
// must answer the same for the same setting: the result is then the same bits
// for any number. On an error, that of the first setting in the order given
// is returned, with its name.
func Vary[S any](base S, rows []Change[S], workers int, measure func(S) (Measured, error)) (Measured, []Effect, error) {
	settings := []S{base}
	for _, row := range rows {
		settings = append(settings, row.Low, row.High)
	}
	got, errs := measureAll(settings, workers, measure)
	for k, err := range errs {
		switch {
		case err == nil:
		case k == 0:
			return Measured{}, nil, fmt.Errorf("the setting itself: %w", err)
		case k%2 == 1:
			return Measured{}, nil, fmt.Errorf("%s at its low end: %w", rows[(k-1)/2].What, err)
		default:
			return Measured{}, nil, fmt.Errorf("%s at its high end: %w", rows[(k-1)/2].What, err)
		}
	}
	effects := make([]Effect, len(rows))
	for k, row := range rows {
		effects[k] = Effect{What: row.What, Said: row.Said, Low: got[2*k+1], High: got[2*k+2]}
	}
	sort.SliceStable(effects, func(i, j int) bool {
		a, b := effects[i], effects[j]
		if ra, rb := a.ofRange(got[0]), b.ofRange(got[0]); ra != rb {
			return ra > rb
		}
		return a.ofField(got[0]) > b.ofField(got[0])
	})
	return got[0], effects, nil
}

// measureAll measures each setting into its own place. A panic of a measure
// ends in the caller's goroutine, where the program can report it.
func measureAll[S any](settings []S, workers int, measure func(S) (Measured, error)) ([]Measured, []error) {
	got, errs := make([]Measured, len(settings)), make([]error, len(settings))
	panics := make([]any, len(settings))
	var next atomic.Int64
	one := func(k int) {
		defer func() { panics[k] = recover() }()
		got[k], errs[k] = measure(settings[k])
	}
	var wg sync.WaitGroup
	for range max(1, min(workers, len(settings))) {
		wg.Go(func() {
			for k := int(next.Add(1)) - 1; k < len(settings); k = int(next.Add(1)) - 1 {
				one(k)
			}
		})
	}
	wg.Wait()
	for _, p := range panics {
		if p != nil {
			panic(p)
		}
	}
	return got, errs
}

// ofRange is the span of the range over low, base and high; ofField that of
// the field, −1 where one of them is missing.
func (e Effect) ofRange(base Measured) float64 {
	zero := func(x float64) float64 {
		if !finite(x) {
			return 0
		}
		return x
	}
	return span(zero(e.Low.RangeM), zero(base.RangeM), zero(e.High.RangeM))
}

func (e Effect) ofField(base Measured) float64 {
	return span(e.Low.FieldVPerM, base.FieldVPerM, e.High.FieldVPerM)
}

func span(xs ...float64) float64 {
	if !finite(xs...) {
		return -1
	}
	return slices.Max(xs) - slices.Min(xs)
}
