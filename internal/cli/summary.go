package cli

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"brinefield/internal/app"
)

// printSummary prints findings for a person at a terminal: the headline first,
// then what simpler methods would have said, then preference.
func printSummary(w io.Writer, f app.Findings) error {
	s := &summary{w: tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)}
	if len(f.Detection)+len(f.Thresholds)+len(f.Descriptive)+len(f.Preference)+len(f.Curve)+len(f.Passes)+len(f.Uncertainty) == 0 {
		s.line("Nothing was asked for that a summary shows; add --json.")
	}
	s.detection(f.Detection)
	s.thresholds(f.Thresholds)
	s.descriptive(f.Descriptive)
	s.preference(f.Preference)
	s.curve(f.Curve)
	s.uncertainty(f.Uncertainty)
	s.passes(f.Passes)
	for i, reason := range s.reasons {
		s.line("\n(%d) Not estimable: %s.", i+1, strings.TrimSuffix(reason, "."))
	}
	for _, warning := range f.Warnings {
		s.line("\nNote: %s.", strings.TrimSuffix(warning, "."))
	}
	return s.w.Flush()
}

type summary struct {
	w       *tabwriter.Writer
	reasons []string // of what could not be estimated, in order of first use
}

func (s *summary) line(format string, args ...any) { fmt.Fprintf(s.w, format+"\n", args...) }

func (s *summary) detection(rows []app.Detection) {
	for i := range rows {
		d := &rows[i]
		if d.NotEstimable != "" {
			s.line("%s: the detection threshold is not estimable: %s.", d.Species, d.NotEstimable)
			continue
		}
		s.line("%s: half of the passes would turn by %s nV/cm (95 %% interval %s).", d.Species, number(d.Median), span(d.CI95))
		s.line("  %s, %s, %d of the passes by animals not recognised; lapses %s; %s spontaneous turns a minute watched.",
			plural(d.Passes, "pass", "passes"), plural(d.Individuals, "animal", "animals"), d.PassesUnidentified, percent(d.Lapse), scaled(d.SpontaneousPerS, 60))
		var parts []string
		for _, at := range d.Sensitivity {
			parts = append(parts, fmt.Sprintf("%g s: %s", at.ReactionTimeS, number(at.Median)))
		}
		if len(parts) > 0 {
			s.line("  Were the reaction time another, the median would be: %s nV/cm.", strings.Join(parts, "; "))
		}
	}
}

func (s *summary) thresholds(rows []app.Thresholds) {
	if len(rows) == 0 {
		return
	}
	s.line("\nWhat simpler methods say, from passes at the active pair (nV/cm):")
	s.line("species\tpasses\tanimals\tstep curve\tlognormal\twith individuals")
	for i := range rows {
		t := &rows[i]
		s.line("%s\t%d\t%d\t%s\t%s\t%s", t.Species, t.Passes, t.Individuals,
			s.orWhy(t.NPMLE.Median, t.NPMLE.NotEstimable), s.orWhy(t.Lognormal.Median, t.Lognormal.NotEstimable), s.orWhy(t.LognormalIndividual.Median, t.LognormalIndividual.NotEstimable))
	}
}

func (s *summary) descriptive(rows []app.Descriptive) {
	if len(rows) == 0 {
		return
	}
	s.line("\nWhat the trade publishes: the field at the onset of turns to the active pair (nV/cm):")
	s.line("species\tturns\tmedian\tquartiles\tsmallest\tlongest distance\tbelow 5\ttextbook median\ttextbook smallest")
	for i := range rows {
		d := &rows[i]
		s.line("%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s", d.Species, d.N, number(d.Median), between(d.Q1, d.Q3), number(d.Smallest),
			withUnit(d.LongestDistanceCm, "cm"), percent(d.ShareBelow5), number(d.Textbook.Median), number(d.Textbook.Smallest))
	}
}

func (s *summary) preference(rows []app.Preference) {
	if len(rows) == 0 {
		return
	}
	s.line("\nPreference:")
	s.line("species\tturns at active\tturns at control\trandomisation p\todds ratio (log)\texact p (naive: counts passes)")
	for i := range rows {
		p := &rows[i]
		odds := s.orWhy(p.Mixed.LogOddsRatio, p.Mixed.NotEstimable)
		if p.Mixed.NotEstimable == "" {
			odds = number(p.Mixed.LogOddsRatio) + " (se " + number(p.Mixed.SE) + ")"
		}
		if p.Penalised != nil && p.Penalised.NotEstimable == "" {
			odds += "; penalised " + number(p.Penalised.LogOddsRatio)
		}
		s.line("%s\t%d of %d\t%d of %d\t%s\t%s\t%s", p.Species, p.TurnsActive, p.PassesActive, p.TurnsControl, p.PassesControl,
			s.orWhy(p.RandomisationP, p.RandomisationWhy), odds, number(p.ExactP))
	}
}

func (s *summary) curve(rows []app.Curve) {
	for i := range rows {
		c := &rows[i]
		if c.NotEstimable != "" {
			s.line("\n%s: the response curve is not estimable: %s.", c.Species, c.NotEstimable)
			continue
		}
		s.line("\n%s: response curve: half-way at %s nV/cm, slope %s, guess %s, lapse %s.", c.Species, number(c.Median), number(c.Slope), percent(c.Guess), percent(c.Lapse))
	}
}

func (s *summary) uncertainty(rows []app.Uncertainty) {
	if len(rows) == 0 {
		return
	}
	s.line("\nThe detection median (nV/cm) with the season's own inputs off by one standard deviation:")
	s.line("input\tstandard deviation\tspecies\tfrom–to")
	for i := range rows {
		for _, of := range rows[i].Species {
			s.line("%s\t%s\t%s\t%s", rows[i].What, withUnit(rows[i].SD, rows[i].Unit), of.Species, span(&of.Detection))
		}
	}
}

func (s *summary) passes(rows []app.PassExposure) {
	var disagree []string
	unused := 0
	for i := range rows {
		if rows[i].PairFromTrack != "" {
			disagree = append(disagree, fmt.Sprintf("%s (%s, by its track %s)", rows[i].Pass, rows[i].Pair, rows[i].PairFromTrack))
		}
		if rows[i].NotUsedBecause != "" {
			unused++
		}
	}
	if len(rows) > 0 {
		s.line("\n%s; %d left out of the estimates.", plural(len(rows), "pass", "passes"), unused)
	}
	if n := len(disagree); n > 0 {
		s.line("%s whose track enters another pair's circle first than the one recorded: %s.", plural(n, "pass", "passes"), strings.Join(disagree[:min(n, 10)], ", "))
	}
}

func number(v *float64) string {
	if v == nil {
		return "–"
	}
	return strconv.FormatFloat(*v, 'g', 3, 64)
}

func between(low, high *float64) string {
	if low == nil || high == nil {
		return "–"
	}
	return number(low) + "–" + number(high)
}

func withUnit(v *float64, unit string) string {
	if v == nil {
		return "–"
	}
	return number(v) + " " + unit
}

func scaled(v *float64, factor float64) string {
	if v == nil {
		return "–"
	}
	x := *v * factor
	return number(&x)
}

func percent(v *float64) string {
	if v == nil {
		return "–"
	}
	return strconv.FormatFloat(*v*100, 'f', 0, 64) + " %"
}

func span(s *app.Span) string {
	switch {
	case s == nil:
		return "–"
	case s.NotEstimable != "":
		return "not estimable: " + s.NotEstimable
	}
	return number(&s.Low) + "–" + number(&s.High)
}

// orWhy is a number, or the mark of the reason why there is none.
func (s *summary) orWhy(v *float64, why string) string {
	if v != nil || why == "" {
		return number(v)
	}
	i := slices.Index(s.reasons, why)
	if i < 0 {
		i = len(s.reasons)
		s.reasons = append(s.reasons, why)
	}
	return fmt.Sprintf("– (%d)", i+1)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
