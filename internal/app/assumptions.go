package app

// What each method takes for granted or leaves out, in the words that every
// screen and report prints.
var (
	assumptionsDetection = []string{
		"thresholds of a species are lognormal over animals and passes together",
		"a pass is answered when the field first exceeds the threshold, unless it lapses; lapses are equally likely on every pass",
		"turns that no field caused come at a constant rate per second watched",
		"animals are independent of one another; passes of one animal need not be",
	}
	assumptionsMixed = []string{
		"each animal has its own readiness to turn, normal over animals on the logit scale",
		"the active pair multiplies every animal's odds of turning by the same factor",
	}
	assumptionsSteps = []string{"no form of the distribution is taken for granted"}
	ignoresSteps     = []string{
		"lapses: an animal that would never have answered counts as one with a high threshold",
		"spontaneous turns: they count as answers",
		"individuals: the passes of one animal count as so many animals",
	}
	assumptionsLognormal = []string{"thresholds are lognormal"}
	ignoresLognormal     = []string{
		"lapses: an animal that would never have answered counts as one with a high threshold",
		"spontaneous turns: they count as answers",
		"individuals, in the estimate; its interval allows for them",
	}
	assumptionsLognormalIndividual = []string{"thresholds are lognormal, with a normal difference between animals on the log scale"}
	ignoresLognormalIndividual     = []string{
		"lapses: an animal that would never have answered counts as one with a high threshold",
		"spontaneous turns: they count as answers",
	}
	ignoresDescriptive = []string{
		"every pass without a turn",
		"the interval between two frames: the field at its upper end stands for the threshold",
		"spontaneous turns and individuals",
	}
)
