package app

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"brinefield/core/inference"
)

var abLabels = []string{"A", "B"}

// drawn is a design of trials that drove the pairs named: A, B, … or - for none.
func drawn(rule inference.DrawRule, pairs int, text string) scheduleDesign {
	d := scheduleDesign{pairs: pairs, rule: rule}
	for i, c := range text {
		t := designTrial{id: fmt.Sprintf("T%03d", i+1), index: i}
		if c != '-' {
			t.active = []int{int(c - 'A')}
		}
		d.trials = append(d.trials, t)
	}
	return d
}

// guessed are the guesses of one scorer, in the order of the trials: A, B, …,
// - for none, ? for unknown, a blank for no guess.
func guessed(by, text string) []GuessView {
	var out []GuessView
	for i, c := range text {
		pair := string(c)
		switch c {
		case ' ':
			continue
		case '-':
			pair = "none"
		case '?':
			pair = "unknown"
		}
		out = append(out, GuessView{ID: fmt.Sprint(by, i), Trial: fmt.Sprintf("T%03d", i+1), Pair: pair, By: by})
	}
	return out
}

// Under the uniform rule with two pairs the hits of n guesses are binomial with
// chance 1/2, whatever the guesses are: the p of the test is the tail
// (1 + draws·P(X ≥ hits))/(1 + draws), within four standard errors of 9999
// draws.
func TestGuessesMeetTheBinomial(t *testing.T) {
	for _, c := range []struct {
		draw, guess string
		hits        int
	}{
		{"ABBABAABBABA", "ABBABAABBABA", 12},
		{"ABBABAABBABA", "ABBABAABBBBA", 11},
		{"ABBABAABBABA", "AAAAAAAAAAAA", 6},
		{"ABBABAABBABABABB", "BBBABAABBABAAAAA", 12},
		{"ABBABAABBABA", "BAABABBAABAB", 0},
	} {
		got := guessTests(guessed("Nora", c.guess), abLabels, drawn(inference.Uniform(), 2, c.draw), 7)[0]
		n := float64(len(c.draw))
		tail := 1 - distuv.Binomial{N: n, P: 0.5}.CDF(float64(c.hits)-0.5)
		want := (1 + randomisationDraws*tail) / (1 + randomisationDraws)
		se := math.Sqrt(want*(1-want)/randomisationDraws) + 1e-4
		if got.Hits != c.hits || got.P == nil || math.Abs(*got.P-want) > 4*se {
			t.Errorf("%s, guessed %s: %+v; want p = %.4f ± %.4f", c.draw, c.guess, got, want, se)
		}
		if got.Expected == nil || math.Abs(*got.Expected-n/2) > 4*math.Sqrt(n/4/randomisationDraws) {
			t.Errorf("%s, guessed %s: %v hits expected, want %g", c.draw, c.guess, *got.Expected, n/2)
		}
	}
}

// By hand: one block that holds A, A and B has three equally likely orders. Of
// the guess A B B the drawn order A B A hits twice; A A B hits twice as well, B A
// A none: p = 2/3, 4/3 hits expected. A guess that everything is A hits twice
// whatever is drawn: p = 1.
func TestGuessesInABlockByHand(t *testing.T) {
	design := drawn(inference.Blocks(3), 2, "ABA")
	got := guessTests(guessed("Nora", "ABB"), abLabels, design, 1)[0]
	if got.Hits != 2 || math.Abs(*got.P-2./3) > 0.02 || math.Abs(*got.Expected-4./3) > 0.04 {
		t.Errorf("%+v, p %v, expected %v", got, *got.P, *got.Expected)
	}
	got = guessTests(guessed("Nora", "AAA"), abLabels, design, 1)[0]
	if got.Hits != 2 || *got.P != 1 || *got.Expected != 2 {
		t.Errorf("%+v, p %v, expected %v", got, *got.P, *got.Expected)
	}
}

// What counts: the last guess for each trial, none that is late, only pairs in
// driven trials; names that differ in capitals and blanks are one person.
func TestGuessesThatCount(t *testing.T) {
	design := drawn(inference.Uniform(), 2, "AB-AB")
	guesses := guessed("Nora", "BBA-?")
	late := guessed("Nora", "    B")[0]
	late.Late = true
	again := guessed(" nora ", "A")[0]
	guesses = append(guesses, late, again)
	guesses = append(guesses, guessed("Tom", " A")...)
	got := guessTests(guesses, abLabels, design, 1)
	if len(got) != 3 || got[0].By != "all" || !samePerson(got[1].By, "Nora") || got[2].By != "Tom" {
		t.Fatalf("%+v", got)
	}
	// Nora: T001 A (hit), T002 B (hit), T003 A in a silent trial, T004 none, T005 unknown.
	if n := got[1]; n.Guesses != 5 || n.Unknown != 2 || n.Hits != 2 {
		t.Errorf("Nora: %+v", n)
	}
	if n := got[2]; n.Guesses != 1 || n.Hits != 0 || *n.P != 1 {
		t.Errorf("Tom: %+v", n)
	}
	if n := got[0]; n.Guesses != 6 || n.Unknown != 2 || n.Hits != 2 {
		t.Errorf("all: %+v", n)
	}
	for _, c := range []struct {
		guesses []GuessView
		design  scheduleDesign
		why     string
	}{
		{guessed("Nora", "?--"), design, "no guess names a pair"},
		{guessed("Nora", "  A"), design, "no guess names a pair in a trial that drove one"},
		{nil, design, "no guess"},
		{guessed("Nora", "AB"), drawn(inference.Blocks(1), 2, "AB"), "blocks of one trial"},
		{guessed("Nora", "AA"), drawn(inference.Uniform(), 1, "AA"), "could not have drawn any other"},
		{guessed("Nora", "AA"), scheduleDesign{pairs: 2, why: "nobody said"}, "nobody said"},
	} {
		all := guessTests(c.guesses, abLabels, c.design, 1)[0]
		if all.P != nil || all.Expected != nil || !strings.Contains(all.NotEstimable, c.why) {
			t.Errorf("%v: %+v; want %q", c.guesses, all, c.why)
		}
	}
}

// Who guesses without knowing anything gets p at or below 0.05 no more often
// than one time in twenty: a property of every randomisation test. Of 150
// invented seasons with four trials to the block, at most 7.5 + 4·sqrt(7.1).
func TestGuessesAtRandomHaveUniformP(t *testing.T) {
	if testing.Short() {
		t.Skip("long under the race detector, and one thread")
	}
	rng := rand.New(rand.NewPCG(3, 1))
	const seasons = 150
	low, sum := 0, 0.0
	for season := range seasons {
		var draw, guess strings.Builder
		for range 10 {
			block := []byte("AABB")
			rng.Shuffle(len(block), func(i, j int) { block[i], block[j] = block[j], block[i] })
			draw.Write(block)
		}
		for range 40 {
			guess.WriteByte("AB"[rng.IntN(2)])
		}
		p := *guessTest(guessed("Nora", guess.String()), abLabels, drawn(inference.Blocks(4), 2, draw.String()), uint64(season), "").P
		if sum += p; p <= 0.05 {
			low++
		}
	}
	if float64(low) > 7.5+4*math.Sqrt(7.1) {
		t.Errorf("%d of %d at or below 0.05", low, seasons)
	}
	// T is discrete, so p is a little above uniform on average: between 0.5 and
	// 0.5 plus half the chance of a tie, which is below 0.13 for 40 guesses.
	if mean := sum / seasons; mean < 0.5-4*math.Sqrt(1./12/seasons) || mean > 0.565+4*math.Sqrt(1./12/seasons) {
		t.Errorf("mean p %.3f", mean)
	}
}

// Equal input gives equal bits, and a scorer who is called all has a row of
// their own.
func TestGuessTestsAreDeterministic(t *testing.T) {
	design := drawn(inference.Uniform(), 2, "ABBABAAB")
	guesses := append(guessed("all", "ABBBBAAB"), guessed("Tom", "AAAAAAAA")...)
	first, again := guessTests(guesses, abLabels, design, 5), guessTests(guesses, abLabels, design, 5)
	if !reflect.DeepEqual(first, again) || len(first) != 3 || first[2].By != "all" && first[1].By != "all" {
		t.Errorf("%+v\n%+v", first, again)
	}
}

// Where the season broke the limit that its rule states, p is approximate, and
// the guesses say so as the preference does.
func TestGuessesSayThatPIsApproximate(t *testing.T) {
	kept := guessTests(guessed("Nora", "AB"), abLabels, drawn(inference.DrawRule{Block: 4, MostAlike: 2}, 2, "AABB"), 1)
	if len(kept[0].Warnings) > 0 || kept[0].P == nil {
		t.Errorf("a limit that was kept: %+v", kept[0])
	}
	broken := guessTests(guessed("Nora", "AB"), abLabels, drawn(inference.DrawRule{Block: 4, MostAlike: 1}, 2, "AABB"), 1)
	if len(broken[0].Warnings) == 0 || broken[0].P == nil || !strings.Contains(broken[0].Warnings[0], "approximate") {
		t.Errorf("a limit that was broken: %+v", broken[0])
	}
}
