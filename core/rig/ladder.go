package rig

import (
	"fmt"
	"math"
)

// Wish is what a ladder is chosen for.
type Wish struct {
	Ampere        []float64 // the largest first
	Series        Series
	MostResistors int     // of one step
	LargestError  float64 // relative
}

// UnreachableError says that a wanted current cannot be had.
type UnreachableError struct {
	Position int
	Wanted   float64 // A
	Nearest  float64 // A
	Ohm      []float64
	Chain    float64 // Ω, of the ladder with them
}

func (e *UnreachableError) Error() string {
	with := "with no resistor in this step of the ladder"
	if len(e.Ohm) > 0 {
		with = "with " + SumText(e.Ohm) + " in this step of the ladder"
	}
	return fmt.Sprintf("%.4g µA cannot be had: the nearest is %.4g µA, %s", e.Wanted*1e6, e.Nearest*1e6, with)
}

// SumText writes resistors in series: 120 kΩ + 5.1 kΩ.
func SumText(ohm []float64) string {
	if len(ohm) == 0 {
		return "none"
	}
	text := OhmText(ohm[0])
	for _, v := range ohm[1:] {
		text += " + " + OhmText(v)
	}
	return text
}

// Ladder chooses the resistors of every step for a battery, so that the mean of
// the pairs gets each wanted current. Each step is chosen against the chain
// that the steps before it really make, so that errors do not add up; it takes
// the fewest resistors that come within a quarter of the largest error, else
// the nearest. The labels are the positions' numbers.
func (r *Rig) Ladder(w Wish) ([]Step, error) {
	mean, err := r.meanLoad()
	if err != nil {
		return nil, err
	}
	v := r.nominal()
	v.steps = nil
	fixed := r.Supply.InternalOhm + v.limiting[0] + v.limiting[1] + r.AmmeterOhm + mean.ohm
	current := func(chain float64) float64 { return mean.perA*(v.voltageV-mean.openV)/(fixed+chain) + mean.own }
	var steps []Step
	chain := 0.0
	for k, wanted := range w.Ampere {
		target := (v.voltageV-mean.openV)*mean.perA/(wanted-mean.own) - fixed - chain
		near := w.LargestError / 4 * (fixed + chain + target) / math.Max(target, smallestOhm)
		ohm := w.Series.Combine(target, w.MostResistors, near)
		got := current(chain + sum(ohm))
		if !(math.Abs(got-wanted) <= w.LargestError*wanted*(1+1e-9)) {
			return nil, &UnreachableError{Position: k, Wanted: wanted, Nearest: math.Max(got, 0), Ohm: ohm, Chain: chain + sum(ohm)}
		}
		chain += sum(ohm)
		steps = append(steps, Step{Label: fmt.Sprint(k + 1), Ohm: ohm})
	}
	return steps, nil
}

type meanLoad struct{ ohm, openV, perA, own float64 }

// meanLoad is the mean of the pairs' nominal loads.
func (r *Rig) meanLoad() (meanLoad, error) {
	var m meanLoad
	v := r.nominal()
	n := float64(len(r.Pairs))
	for pair := range r.Pairs {
		l, err := r.loadOf(&v, pair, r.Silent, r.Silent == OpenBoth)
		if err != nil {
			return m, err
		}
		m.ohm += l.ohm / n
		m.openV += l.openV / n
		m.own += l.mean(0) / n
		m.perA += (l.mean(1) - l.mean(0)) / n
	}
	return m, nil
}
