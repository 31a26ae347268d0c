package dossier

import "strings"

// columnKind is what a column holds, in the words of Frictionless Table Schema.
type columnKind string

const (
	textKind    columnKind = "string"
	numberKind  columnKind = "number"
	integerKind columnKind = "integer"
	yesNoKind   columnKind = "boolean" // yes, no
	timeKind    columnKind = "datetime"
	dateKind    columnKind = "date"
)

// columnFact is what is known of a column by its name, wherever it stands.
type columnFact struct {
	Title, What string
	Kind        columnKind
	Least       *float64 // no value is smaller
	Most        *float64
	Enum        []string
}

func atLeast(v float64) *float64 { return &v }

var (
	zero = atLeast(0)
	one  = atLeast(1)
)

// columnFacts are the columns of the derived tables. Units stand in the names, and
// [unitOf] reads them.
var columnFacts = map[string]columnFact{
	"pass":                   {"Pass", "Name of the pass: joins with season/passes.csv and season/tracks.csv.", textKind, nil, nil, nil},
	"trial":                  {"Trial", "Name of the trial: joins with season/trials.csv.", textKind, nil, nil, nil},
	"species":                {"Species", "Accepted scientific name; \"all\" where all species are taken together.", textKind, nil, nil, nil},
	"individual":             {"Individual", "Animal recognised on sight; blank where it was not identified.", textKind, nil, nil, nil},
	"sex":                    {"Sex", "As recorded at the pass, else of the individual.", textKind, nil, nil, nil},
	"time":                   {"Time", "Beginning of the pass, with the offset of the site's time zone.", timeKind, nil, nil, nil},
	"start":                  {"Start", "Beginning, with the offset of the site's time zone.", timeKind, nil, nil, nil},
	"end":                    {"End", "End, with the offset of the site's time zone.", timeKind, nil, nil, nil},
	"pair":                   {"Pair", "Pair of electrodes that the pass belongs to.", textKind, nil, nil, nil},
	"role":                   {"Role", "What the pass's pair was in its trial: active (driven), control (another pair was driven) or silent (none was). Blank: the trial is sealed.", textKind, nil, nil, []string{"active", "control", "silent"}},
	"turned":                 {"Turned", "Did the animal turn? Blank: not scored.", yesNoKind, nil, nil, nil},
	"bit":                    {"Bit", "Did the animal bite? Blank: not scored.", yesNoKind, nil, nil, nil},
	"responded":              {"Responded", "Counts as a turn: it turned, or it bit and nothing was scored of a turn.", yesNoKind, nil, nil, nil},
	"used":                   {"Used", "Is the pass used in the estimates? Blank: the trial is sealed.", yesNoKind, nil, nil, nil},
	"not_used_because":       {"Not used because", "Why the pass has no place in the estimates.", textKind, nil, nil, nil},
	"visit":                  {"Visit", "Visit of an animal, in which passes may follow each other.", textKind, nil, nil, nil},
	"clip":                   {"Clip", "Clip in which the pass was seen.", textKind, nil, nil, nil},
	"scorer":                 {"Scorer", "Who scored it.", textKind, nil, nil, nil},
	"watched_s":              {"Watched", "How long the animal was watched.", numberKind, zero, nil, nil},
	"current_uA":             {"Current", "Current through each driven pair; in a silent trial the current that would have flowed.", numberKind, nil, nil, nil},
	"stated_current_uA":      {"Current stated", "As season/trials.csv states it.", numberKind, nil, nil, nil},
	"current_before_uA":      {"Measured before", "Measured before the trial.", numberKind, nil, nil, nil},
	"current_after_uA":       {"Measured after", "Measured after the trial.", numberKind, nil, nil, nil},
	"field_low_nV_per_cm":    {"Field, lower bound", "Largest field at the head before the response could have begun; without a turn, the largest on the whole track.", numberKind, zero, nil, nil},
	"field_high_nV_per_cm":   {"Field, upper bound", "Largest field while the response could have begun. Blank without a turn: the threshold lies above the lower bound.", numberKind, zero, nil, nil},
	"phantom_low_nV_per_cm":  {"Phantom, lower bound", "As field_low_nV_per_cm, with the trial's current moved to the pass's own pair.", numberKind, zero, nil, nil},
	"phantom_high_nV_per_cm": {"Phantom, upper bound", "As field_high_nV_per_cm, with the trial's current moved to the pass's own pair.", numberKind, zero, nil, nil},
	"textbook_nV_per_cm":     {"Textbook field", "Point-dipole formula: resistivity × current × separation × |cos angle| / (π distance³), of the pass's own pair.", numberKind, zero, nil, nil},
	"position_nV_per_cm":     {"Field at the position", "Field of the trial's current at the pass's own pair, as solved, at the position of this row: to be compared with textbook_nV_per_cm.", numberKind, zero, nil, nil},
	"falling_field":          {"Falling field", "There was an onset and the field was falling: it cannot have caused the turn.", yesNoKind, nil, nil, nil},
	"after_opening":          {"Recorded after the opening", "Something of this pass was recorded or changed after the active pairs were opened.", yesNoKind, nil, nil, nil},
	"distance_cm":            {"Distance", "From the pair's centre to the head, in three dimensions, at the onset less the reaction time, or in the largest field.", numberKind, zero, nil, nil},
	"horizontal_cm":          {"Horizontal distance", "The same along the bottom.", numberKind, zero, nil, nil},
	"angle_deg":              {"Angle", "Between the pair's axis and the line from its centre to the head.", numberKind, zero, atLeast(180), nil},
	"height_cm":              {"Height", "Of the head above the plate's top face, or the bottom where there is no plate.", numberKind, nil, nil, nil},
	"head_x_cm":              {"Head x", "x of the head in the frame of the season, there.", numberKind, nil, nil, nil},
	"head_y_cm":              {"Head y", "y of the head in the frame of the season, there.", numberKind, nil, nil, nil},
	"has_track":              {"Track", "Does season/tracks.csv hold the path of this pass?", yesNoKind, nil, nil, nil},

	"active_pair":         {"Active pair", "Pair that was driven, several joined by +; none in a silent trial; sealed where it is not opened.", textKind, nil, nil, nil},
	"silent":              {"Silent", "Was no pair driven? Blank: the trial is sealed.", yesNoKind, nil, nil, nil},
	"sealed":              {"Sealed", "Is the active pair still sealed?", yesNoKind, nil, nil, nil},
	"water_S_per_m":       {"Water", "Conductivity of the water that the fields were worked out with.", numberKind, zero, nil, nil},
	"water_from":          {"Water from", "How the conductivity was known.", textKind, nil, nil, nil},
	"temperature_C":       {"Temperature", "Temperature of the water (ITS-90).", numberKind, nil, nil, nil},
	"salinity":            {"Salinity", "Practical salinity (PSS-78), without a unit.", numberKind, zero, nil, nil},
	"passes":              {"Passes", "Number of passes.", integerKind, zero, nil, nil},
	"passes_active":       {"Passes, active", "Passes at active pairs.", integerKind, zero, nil, nil},
	"passes_control":      {"Passes, control", "Passes at control pairs.", integerKind, zero, nil, nil},
	"passes_silent":       {"Passes, silent", "Passes in silent trials.", integerKind, zero, nil, nil},
	"turns_active":        {"Turns, active", "Turns at active pairs.", integerKind, zero, nil, nil},
	"turns_control":       {"Turns, control", "Turns at control pairs.", integerKind, zero, nil, nil},
	"turns_silent":        {"Turns, silent", "Turns in silent trials.", integerKind, zero, nil, nil},
	"bites_active":        {"Bites, active", "Bites at active pairs.", integerKind, zero, nil, nil},
	"bites_control":       {"Bites, control", "Bites at control pairs.", integerKind, zero, nil, nil},
	"individuals":         {"Individuals", "Number of animals recognised on sight.", integerKind, zero, nil, nil},
	"passes_unidentified": {"Passes, unidentified", "Passes of animals that were not recognised.", integerKind, zero, nil, nil},

	"lowest_turn_nV_per_cm":     {"Lowest field with a turn", "Smallest upper bound of the animal's turns.", numberKind, zero, nil, nil},
	"highest_no_turn_nV_per_cm": {"Highest field without", "Largest field that the animal passed without a turn.", numberKind, zero, nil, nil},

	"exact_p":                         {"p, exact", "Fisher's exact test, two-sided, of passes; it takes passes of one animal as independent.", numberKind, zero, one, nil},
	"randomisation_p":                 {"p, randomisation", "Randomisation test: the active pairs redrawn by the rule of the schedule.", numberKind, zero, one, nil},
	"redraws":                         {"Redraws", "How often the active pairs were redrawn.", integerKind, zero, nil, nil},
	"log_odds_ratio":                  {"Log odds ratio", "Mixed logistic model: turns at the active pair against control pairs, natural logarithm.", numberKind, nil, nil, nil},
	"log_odds_ratio_se":               {"Standard error", "Of the log odds ratio.", numberKind, zero, nil, nil},
	"intercept":                       {"Intercept", "Of the mixed model: log odds of a turn at a control pair.", numberKind, nil, nil, nil},
	"individual_sd":                   {"Between individuals", "Standard deviation between individuals, in log odds.", numberKind, zero, nil, nil},
	"penalised_log_odds_ratio":        {"Log odds ratio, penalised", "Given where the plain estimate does not exist.", numberKind, nil, nil, nil},
	"penalised_ci95_low":              {"Penalised, lower end", "95 % interval. Blank: no lower end.", numberKind, nil, nil, nil},
	"penalised_ci95_high":             {"Penalised, upper end", "95 % interval. Blank: no upper end.", numberKind, nil, nil, nil},
	"randomisation_not_estimable":     {"Randomisation: why not", "Why there is no value.", textKind, nil, nil, nil},
	"mixed_not_estimable":             {"Mixed model: why not", "Why there is no estimate.", textKind, nil, nil, nil},
	"penalised_ci95_not_estimable":    {"Penalised interval: why not", "Why there is no interval.", textKind, nil, nil, nil},
	"boundary":                        {"On the boundary", "Parameters on the boundary of what they can be.", textKind, nil, nil, nil},
	"warnings":                        {"Warnings", "What to mind.", textKind, nil, nil, nil},
	"model":                           {"Model", "step: the maximum-likelihood step curve; lognormal; lognormal_individual: with individuals that differ.", textKind, nil, nil, []string{"step", "lognormal", "lognormal_individual"}},
	"median_nV_per_cm":                {"Median", "Field from which half of the passes are turned.", numberKind, zero, nil, nil},
	"ci95_low_nV_per_cm":              {"95 % interval, lower end", "Of the median; of the step curve, the interval that its median lies in.", numberKind, zero, nil, nil},
	"ci95_high_nV_per_cm":             {"95 % interval, upper end", "As the lower end. Blank: unbounded or not estimable.", numberKind, zero, nil, nil},
	"ci95_not_estimable":              {"Interval: why not", "Why there is no interval.", textKind, nil, nil, nil},
	"mu":                              {"mu", "Mean of the natural logarithm of the threshold in nV/cm.", numberKind, nil, nil, nil},
	"sigma":                           {"sigma", "Standard deviation of the natural logarithm of the threshold.", numberKind, zero, nil, nil},
	"sigma_individual":                {"sigma, individuals", "Standard deviation between individuals, on the same scale.", numberKind, zero, nil, nil},
	"log_likelihood":                  {"Log likelihood", "At the maximum.", numberKind, nil, nil, nil},
	"not_estimable":                   {"Why not", "Why there is no estimate.", textKind, nil, nil, nil},
	"lapse":                           {"Lapse", "Share of passes that no field turns.", numberKind, zero, one, nil},
	"spontaneous_per_s":               {"Spontaneous turns", "Turns per second that no field caused.", numberKind, zero, nil, nil},
	"reaction_time_s":                 {"Reaction time", "Assumed time between cause and turn.", numberKind, zero, nil, nil},
	"n":                               {"n", "Turns with an onset at the active pair, in a field that was not falling.", integerKind, zero, nil, nil},
	"q1_nV_per_cm":                    {"Lower quartile", "Of the upper bounds, type 7.", numberKind, zero, nil, nil},
	"q3_nV_per_cm":                    {"Upper quartile", "Of the upper bounds, type 7.", numberKind, zero, nil, nil},
	"smallest_nV_per_cm":              {"Smallest", "Smallest upper bound.", numberKind, zero, nil, nil},
	"longest_distance_cm":             {"Longest distance", "From the pair's centre.", numberKind, zero, nil, nil},
	"share_below_5":                   {"Below 5 nV/cm", "Share of the upper bounds below 5 nV/cm.", numberKind, zero, one, nil},
	"share_below_20":                  {"Below 20 nV/cm", "Share of the upper bounds below 20 nV/cm.", numberKind, zero, one, nil},
	"textbook_median_nV_per_cm":       {"Median, textbook", "Of the point-dipole formula.", numberKind, zero, nil, nil},
	"textbook_q1_nV_per_cm":           {"Lower quartile, textbook", "Of the point-dipole formula, type 7.", numberKind, zero, nil, nil},
	"textbook_q3_nV_per_cm":           {"Upper quartile, textbook", "Of the point-dipole formula, type 7.", numberKind, zero, nil, nil},
	"textbook_smallest_nV_per_cm":     {"Smallest, textbook", "Of the point-dipole formula.", numberKind, zero, nil, nil},
	"textbook_share_below_20":         {"Below 20 nV/cm, textbook", "Share of the point-dipole values below 20 nV/cm.", numberKind, zero, one, nil},
	"what":                            {"What", "Which input is uncertain.", textKind, nil, nil, nil},
	"how":                             {"How", "How it was varied.", textKind, nil, nil, nil},
	"sd":                              {"Standard deviation", "Of the input, in the unit beside it.", numberKind, zero, nil, nil},
	"unit":                            {"Unit", "Of the standard deviation.", textKind, nil, nil, nil},
	"detection_median_low_nV_per_cm":  {"Median, lower", "Detection median at the lower end of what it becomes.", numberKind, zero, nil, nil},
	"detection_median_high_nV_per_cm": {"Median, upper", "Detection median at the upper end of what it becomes.", numberKind, zero, nil, nil},
}

// units by the ending of a column's name, longest first where one ends another.
var units = []struct{ ending, unit string }{
	{"_nV_per_cm_per_uA", "nV/cm/µA"},
	{"_nV_per_cm", "nV/cm"},
	{"_nV_per_cm_sd", "nV/cm"},
	{"_S_per_m", "S/m"},
	{"_m_per_s", "m/s"},
	{"_per_s", "1/s"},
	{"_uA", "µA"},
	{"_Hz", "Hz"},
	{"_deg", "°"},
	{"_ppm", "ppm"},
	{"_percent", "%"},
	{"_px", "px"},
	{"_mm", "mm"},
	{"_cm2", "cm²"},
	{"_cm", "cm"},
	{"_km", "km"},
	{"_C", "°C"},
	{"_m", "m"},
	{"_s", "s"},
	{"_V", "V"},
}

// unitOf is the unit that a column's name ends with; "" where it ends with none.
func unitOf(name string) string {
	if name == "frame_rate" {
		return "1/s"
	}
	for _, u := range units {
		if strings.HasSuffix(name, u.ending) {
			return u.unit
		}
	}
	return ""
}

// columnsOf makes columns of names that columnFacts knows.
func columnsOf(names ...string) []Column {
	out := make([]Column, len(names))
	for i, n := range names {
		f := columnFacts[n]
		out[i] = Column{
			Name: n, Title: f.Title, Unit: unitOf(n), What: f.What,
			Numbers: f.Kind == numberKind || f.Kind == integerKind,
		}
	}
	return out
}
