package dossier

// Findings are the estimates, lean. Fields are in nV/cm, unless a name says
// another unit; nil is not known; Why says why there is no estimate.
type Findings struct {
	Seed        *uint64
	Warnings    []string
	Preference  []Preference
	Descriptive []Descriptive
	Thresholds  []Thresholds
	Detection   []Detection
	Individuals []Individual
	Curves      []Curves
	Uncertainty []Uncertainty // nil: not worked out
}

// Interval is a range; an end is nil where it is unbounded.
type Interval struct {
	Low, High *float64
	Why       string // why it cannot be estimated
}

// Preference compares turns at active and control pairs.
type Preference struct {
	Species                                   string // "all", or a scientific name
	PassesActive, PassesControl               int
	TurnsActive, TurnsControl                 int
	BitesActive, BitesControl                 int
	ExactP, RandomisationP                    *float64
	RandomisationN                            int
	RandomisationWhy                          string
	LogOddsRatio, SE, Intercept, IndividualSD *float64
	MixedWhy                                  string
	PenalisedLogOddsRatio                     *float64
	PenalisedCI95                             Interval
	Boundary, Warnings                        []string
}

// Descriptive is what the trade publishes.
type Descriptive struct {
	Species                                                                   string
	N                                                                         int
	Median, Q1, Q3, Smallest, LongestDistanceCm                               *float64
	ShareBelow5, ShareBelow20                                                 *float64
	TextbookMedian, TextbookQ1, TextbookQ3, TextbookSmallest, TextbookBelow20 *float64
}

// Thresholds are the simpler estimates of one species.
type Thresholds struct {
	Species                                 string
	Passes, Individuals, PassesUnidentified int
	Step, Lognormal, Individual             Estimate
}

// Estimate is one median with its interval.
type Estimate struct {
	Median                                   *float64
	CI95                                     Interval // of the step curve: the interval of its median
	Mu, Sigma, SigmaIndividual               *float64
	LogLikelihood                            *float64
	Why                                      string
	Boundary, Assumptions, Ignores, Warnings []string
}

// Detection is the headline: the detection model of one species.
type Detection struct {
	Species                                 string
	Passes, Individuals, PassesUnidentified int
	Estimate
	Lapse, SpontaneousPerS *float64
	Sensitivity            []Sensitivity
}

// Sensitivity is the detection median had the reaction time been another.
type Sensitivity struct {
	ReactionTimeS float64
	Median        *float64
	Why           string
}

// Individual is what one recognised animal did.
type Individual struct {
	ID, Species                                            string
	PassesActive, TurnsActive, PassesControl, TurnsControl int
	PassesSilent, TurnsSilent                              int
	LowestTurn, HighestNoTurn                              *float64
}

// Curves are the distributions of thresholds of one species over one grid.
type Curves struct {
	Species                                string
	Field                                  []float64
	Detection, DetectionLow, DetectionHigh []float64 // nil: none
	Lognormal, LognormalIndividual         []float64
	Steps                                  []Step
}

// Step is one rise of the step curve: between Low and High it climbs from Before
// to After, where in between the data do not say.
type Step struct {
	Low           float64
	High          *float64
	Before, After float64
}

// Uncertainty is what one thing that the season says of its own inputs does to
// the detection medians.
type Uncertainty struct {
	What, Unit, How string
	SD              *float64
	Species         []UncertainMedian
}

// UncertainMedian is the detection median from the lower to the higher of what
// it becomes.
type UncertainMedian struct {
	Species string
	Median  Interval
}
