package app

// Format is the version of the season folder and of every document.
const Format = 1

// Program says which build made a document.
type Program struct {
	Version string `json:"version"`
	Commit  string `json:"commit"`
	OSArch  string `json:"os_arch"`
}

// Heading opens every document: what made it, from which bytes, with which
// seed. A document with a heading can be made again, bit for bit, by the same
// build.
type Heading struct {
	Format       int               `json:"format"`
	Program      Program           `json:"program"`
	InputsSHA256 map[string]string `json:"inputs_sha256"`
	Seed         *uint64           `json:"seed,omitempty" doc:"Seed of the randomisation test and of simulated positions."`
	Warnings     []string          `json:"warnings"`
}

// Findings is the document of analyse and infer. Sections that were not asked
// for are absent.
type Findings struct {
	Heading
	Water       []TrialWater   `json:"water,omitempty"`
	Passes      []PassExposure `json:"passes,omitempty"`
	Preference  []Preference   `json:"preference,omitempty"`
	Descriptive []Descriptive  `json:"descriptive,omitempty"`
	Thresholds  []Thresholds   `json:"thresholds,omitempty"`
	Detection   []Detection    `json:"detection,omitempty"`
	Individuals []Individual   `json:"individuals,omitempty"`
	Curve       []Curve        `json:"curve,omitempty"`
	Uncertainty []Uncertainty  `json:"uncertainty,omitempty" doc:"What the season's own uncertainties do to the medians; only where it is asked for by name and the season states some."`
}

// TrialWater is what the water of one trial conducts.
type TrialWater struct {
	Trial             string  `json:"trial"`
	ConductivitySPerM float64 `json:"conductivity_S_per_m"`
	From              string  `json:"from" doc:"Where the value comes from, in words."`
}

// PassExposure is what one animal met on one pass. Null means not known.
type PassExposure struct {
	Pass           string      `json:"pass"`
	Trial          string      `json:"trial"`
	Pair           string      `json:"pair"`
	Role           *string     `json:"role" nullable:"true"`
	Used           *bool       `json:"used" nullable:"true"`
	FieldLow       *float64    `json:"field_low_nV_per_cm" nullable:"true"`
	FieldHigh      *float64    `json:"field_high_nV_per_cm" nullable:"true"`
	FallingField   bool        `json:"falling_field"`
	PhantomLow     *float64    `json:"phantom_low_nV_per_cm" nullable:"true"`
	PhantomHigh    *float64    `json:"phantom_high_nV_per_cm" nullable:"true"`
	Textbook       *float64    `json:"textbook_nV_per_cm" nullable:"true"`
	Position       *float64    `json:"position_nV_per_cm" nullable:"true" doc:"Field of the trial's current at the pass's own pair, as solved, at the printed position: where textbook_nV_per_cm is the textbook's."`
	Components     *[3]float64 `json:"position_components_nV_per_cm" nullable:"true" doc:"The same along the pair's axis, across it (90° anticlockwise seen from above), and up."`
	DistanceCm     *float64    `json:"distance_cm" nullable:"true"`
	HorizontalCm   *float64    `json:"horizontal_cm" nullable:"true"`
	AngleDeg       *float64    `json:"angle_deg" nullable:"true"`
	HeightCm       *float64    `json:"height_cm" nullable:"true"`
	WatchedS       *float64    `json:"watched_s" nullable:"true"`
	NotUsedBecause string      `json:"not_used_because,omitempty"`
	PairFromTrack  string      `json:"pair_from_track,omitempty" doc:"The pair whose circle the track enters first, where it disagrees with the recorded one."`
	AfterOpening   bool        `json:"after_opening,omitempty" doc:"True where the pass or its track was recorded or changed after the active pair of its trial was opened; left out elsewhere."`
	Warnings       []string    `json:"warnings,omitempty"`
}

// Reason is the part of an estimate that says why there is none.
type Reason struct {
	NotEstimable string `json:"not_estimable,omitempty"`
}

// Made says how an estimate was made and what it takes for granted.
type Made struct {
	Method      string   `json:"method,omitempty" doc:"Key of the method's explanation."`
	Assumptions []string `json:"assumptions,omitempty"`
	Ignores     []string `json:"ignores,omitempty" doc:"What this simpler method leaves out."`
	Warnings    []string `json:"warnings,omitempty"`
}

// Preference compares turns at active and control pairs of one species, or of
// all.
type Preference struct {
	Species          string         `json:"species"`
	PassesActive     int            `json:"passes_active"`
	PassesControl    int            `json:"passes_control"`
	TurnsActive      int            `json:"turns_active"`
	TurnsControl     int            `json:"turns_control"`
	BitesActive      int            `json:"bites_active"`
	BitesControl     int            `json:"bites_control"`
	ExactP           *float64       `json:"exact_p" nullable:"true"`
	RandomisationP   *float64       `json:"randomisation_p" nullable:"true"`
	RandomisationWhy string         `json:"randomisation_not_estimable,omitempty"`
	RandomisationN   int            `json:"randomisation_draws,omitempty"`
	Mixed            Mixed          `json:"mixed"`
	Penalised        *PenalisedOdds `json:"penalised,omitempty" doc:"Beside a mixed model that separation keeps from an estimate."`
	Warnings         []string       `json:"warnings,omitempty"`
}

// Mixed is the logistic model with a random individual.
type Mixed struct {
	Reason
	LogOddsRatio  *float64 `json:"log_odds_ratio,omitempty"`
	SE            *float64 `json:"se,omitempty"`
	Intercept     *float64 `json:"intercept,omitempty"`
	IndividualSD  *float64 `json:"individual_sd,omitempty"`
	LogLikelihood *float64 `json:"log_likelihood,omitempty"`
	Boundary      []string `json:"boundary,omitempty"`
	Made
}

// PenalisedOdds is a finite estimate under separation.
type PenalisedOdds struct {
	Reason
	LogOddsRatio *float64 `json:"log_odds_ratio,omitempty"`
	SE           *float64 `json:"se,omitempty"`
	CI95         *Span    `json:"ci95,omitempty"`
	P            *float64 `json:"p,omitempty"`
	AtLeast      *float64 `json:"at_least,omitempty" doc:"Exact one-sided 95 % lower bound of the log odds ratio."`
	AtMost       *float64 `json:"at_most,omitempty" doc:"Exact one-sided 95 % upper bound of the log odds ratio."`
	Made
}

// Descriptive is what the trade publishes.
type Descriptive struct {
	Species           string   `json:"species"`
	N                 int      `json:"n"`
	Median            *float64 `json:"median_nV_per_cm" nullable:"true"`
	Q1                *float64 `json:"q1_nV_per_cm" nullable:"true"`
	Q3                *float64 `json:"q3_nV_per_cm" nullable:"true"`
	Smallest          *float64 `json:"smallest_nV_per_cm" nullable:"true"`
	LongestDistanceCm *float64 `json:"longest_distance_cm" nullable:"true"`
	ShareBelow5       *float64 `json:"share_below_5" nullable:"true"`
	ShareBelow20      *float64 `json:"share_below_20" nullable:"true"`
	Textbook          Textbook `json:"textbook"`
	Made
}

// Textbook repeats the descriptive numbers with the textbook form of the field.
type Textbook struct {
	Median       *float64 `json:"median_nV_per_cm" nullable:"true"`
	Q1           *float64 `json:"q1_nV_per_cm" nullable:"true"`
	Q3           *float64 `json:"q3_nV_per_cm" nullable:"true"`
	Smallest     *float64 `json:"smallest_nV_per_cm" nullable:"true"`
	ShareBelow5  *float64 `json:"share_below_5" nullable:"true"`
	ShareBelow20 *float64 `json:"share_below_20" nullable:"true"`
}

// Thresholds are the simpler estimates of one species, from passes at the
// active pair.
type Thresholds struct {
	Species             string              `json:"species"`
	Passes              int                 `json:"passes"`
	Individuals         int                 `json:"individuals"`
	PassesUnidentified  int                 `json:"passes_unidentified"`
	NPMLE               StepEstimate        `json:"npmle"`
	Lognormal           Lognormal           `json:"lognormal"`
	LognormalIndividual LognormalIndividual `json:"lognormal_individual"`
}

// StepEstimate is the step curve that takes no form for granted.
type StepEstimate struct {
	Reason
	Median         *float64      `json:"median_nV_per_cm,omitempty"`
	MedianInterval *Span         `json:"median_interval_nV_per_cm,omitempty"`
	Support        [][3]*float64 `json:"support,omitempty" doc:"Rows of low, high (null = unbounded) and mass."`
	LogLikelihood  *float64      `json:"log_likelihood,omitempty"`
	Gap            *float64      `json:"gap,omitempty" doc:"Karush-Kuhn-Tucker gap of the maximum."`
	Made
}

// Lognormal is the lognormal threshold without individuals.
type Lognormal struct {
	Reason
	Mu            *float64 `json:"mu,omitempty"`
	Sigma         *float64 `json:"sigma,omitempty"`
	LogLikelihood *float64 `json:"log_likelihood,omitempty"`
	Median        *float64 `json:"median_nV_per_cm,omitempty"`
	CI95          *Span    `json:"ci95_nV_per_cm,omitempty"`
	SEMu          *float64 `json:"se_mu,omitempty"`
	Made
}

// LognormalIndividual is the lognormal threshold with a random individual.
type LognormalIndividual struct {
	Reason
	Mu              *float64 `json:"mu,omitempty"`
	SigmaWithin     *float64 `json:"sigma_within,omitempty"`
	SigmaIndividual *float64 `json:"sigma_individual,omitempty"`
	LogLikelihood   *float64 `json:"log_likelihood,omitempty"`
	Median          *float64 `json:"median_nV_per_cm,omitempty"`
	CI95            *Span    `json:"ci95_nV_per_cm,omitempty"`
	Boundary        []string `json:"boundary,omitempty"`
	Made
}

// Detection is the headline: the detection model of one species.
type Detection struct {
	Reason
	Species            string         `json:"species"`
	Passes             int            `json:"passes"`
	Individuals        int            `json:"individuals"`
	PassesUnidentified int            `json:"passes_unidentified"`
	Mu                 *float64       `json:"mu,omitempty"`
	Sigma              *float64       `json:"sigma,omitempty"`
	Lapse              *float64       `json:"lapse,omitempty"`
	SpontaneousPerS    *float64       `json:"spontaneous_per_s,omitempty"`
	LogLikelihood      *float64       `json:"log_likelihood,omitempty"`
	Median             *float64       `json:"median_nV_per_cm,omitempty"`
	CI95               *Span          `json:"ci95_nV_per_cm,omitempty"`
	SEMu               *float64       `json:"se_mu,omitempty"`
	Covariance         *[2][2]float64 `json:"covariance,omitempty" doc:"Cluster sandwich (CR3) of mu and ln sigma."`
	Boundary           []string       `json:"boundary"`
	Sensitivity        []Sensitivity  `json:"sensitivity,omitempty"`
	Made

	bandFactor float64 // quantile of t for the band of the curve
}

// Sensitivity is the detection median had the reaction time been another.
type Sensitivity struct {
	ReactionTimeS float64  `json:"reaction_time_s"`
	Median        *float64 `json:"median_nV_per_cm" nullable:"true"`
	Reason
}

// Individual is what one recognised animal did.
type Individual struct {
	Individual    string   `json:"individual"`
	Species       string   `json:"species"`
	PassesActive  int      `json:"passes_active"`
	TurnsActive   int      `json:"turns_active"`
	PassesControl int      `json:"passes_control"`
	TurnsControl  int      `json:"turns_control"`
	PassesSilent  int      `json:"passes_silent"`
	TurnsSilent   int      `json:"turns_silent"`
	LowestTurn    *float64 `json:"lowest_turn_nV_per_cm" nullable:"true" doc:"Smallest field by which it had turned at the active pair."`
	HighestNoTurn *float64 `json:"highest_no_turn_nV_per_cm" nullable:"true" doc:"Largest field it met at the active pair without turning."`
}

// Curve is the response curve to levels that the experimenter set.
type Curve struct {
	Reason
	Species       string   `json:"species"`
	Guess         *float64 `json:"guess,omitempty"`
	Lapse         *float64 `json:"lapse,omitempty"`
	Median        *float64 `json:"median_nV_per_cm,omitempty"`
	Slope         *float64 `json:"slope,omitempty"`
	LogLikelihood *float64 `json:"log_likelihood,omitempty"`
	Boundary      []string `json:"boundary,omitempty"`
	Made
}
