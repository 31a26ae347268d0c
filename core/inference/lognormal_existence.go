package inference

import "math"

// existence says whether the lognormal likelihood of sorted, checked rows has
// a maximum, and if not, why. In (1/sigma, mu/sigma) it is concave, so it has
// one unless it rises for ever in some direction:
//
//   - all rows bounded on one side only: mu runs off;
//   - a value common to all closed intervals: sigma runs to 0;
//   - rows of the kinds "below" and "above" alone, where the passes that turned
//     met no larger fields than those that did not: sigma runs off.
func existence(rows []Interval) error {
	var below, above, both int
	highestLow, lowestHigh := 0.0, math.Inf(1)
	for _, r := range rows {
		switch {
		case r.Low == 0 && math.IsInf(r.High, 1): // says nothing
			continue
		case r.Low == 0:
			below++
		case math.IsInf(r.High, 1):
			above++
		default:
			both++
		}
		highestLow = math.Max(highestLow, r.Low)
		lowestHigh = math.Min(lowestHigh, r.High)
	}
	switch informative := below + above + both; {
	case len(rows) == 0:
		return notEstimable("no passes")
	case informative == 0:
		return notEstimable("no pass says anything about the threshold")
	case above == informative:
		return notEstimable("no pass turned in a field that can have caused it: thresholds are only known to lie above %.4g nV/cm and more", highestLow)
	case below == informative:
		return notEstimable("every pass turned at once: thresholds are only known to lie below %.4g nV/cm", lowestHigh)
	case highestLow <= lowestHigh:
		return notEstimable("all %d passes agree on one threshold (%s): the spread runs to 0 and the median is only known to lie there", informative, spanText(highestLow, lowestHigh))
	case both == 0 && !turnsRiseWithField(rows):
		return notEstimable("the passes that turned met no larger fields than those that did not: the spread of the thresholds has no bound")
	}
	return nil
}

func spanText(low, high float64) string {
	if low == high {
		return numberText(low) + " nV/cm"
	}
	return "between " + numberText(low) + " and " + numberText(high) + " nV/cm"
}

// turnsRiseWithField is for rows that only say "below" or "above": probit
// regression on ln field. Its log-likelihood is concave, so the slope is
// positive exactly if it rises from slope 0, where the best intercept is the
// share of turns: if turned passes met larger fields on average.
func turnsRiseWithField(rows []Interval) bool {
	var n, mean float64
	for _, r := range rows {
		if x, _, ok := probitRow(r); ok {
			n++
			mean += x
		}
	}
	mean /= n
	var covariance, scale float64
	for _, r := range rows {
		if x, turned, ok := probitRow(r); ok {
			covariance += (x - mean) * turned
			scale += math.Abs(x - mean)
		}
	}
	return covariance > 1e-12*scale
}

func probitRow(r Interval) (lnField, turned float64, ok bool) {
	switch {
	case r.Low == 0 && math.IsInf(r.High, 1):
		return 0, 0, false
	case r.Low == 0:
		return math.Log(r.High), 1, true
	}
	return math.Log(r.Low), 0, true
}
