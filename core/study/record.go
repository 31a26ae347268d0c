package study

// Kind names what a record is about.
type Kind string

// The kinds of records that a season folder is made of, in its order.
const (
	KindStudy       Kind = "study" // title, question
	KindSite        Kind = "site"
	KindWater       Kind = "water"
	KindBottom      Kind = "bottom"
	KindEnclosure   Kind = "enclosure"
	KindPlate       Kind = "plate"
	KindPair        Kind = "pair"
	KindSpecies     Kind = "species"
	KindSchedule    Kind = "schedule"
	KindAnalysis    Kind = "analysis"
	KindUncertainty Kind = "uncertainty"
	KindCast        Kind = "cast" // the readings of one time
	KindTrial       Kind = "trial"
	KindIndividual  Kind = "individual"
	KindClip        Kind = "clip"
	KindPass        Kind = "pass"
	KindTrack       Kind = "track" // the fixes of one pass
)

// SeasonKinds are the kinds of a season folder, in its order: a record refers
// only to records of kinds before its own.
var SeasonKinds = []Kind{
	KindStudy, KindSite, KindWater, KindBottom, KindEnclosure, KindPlate, KindPair, KindSpecies, KindSchedule,
	KindAnalysis, KindUncertainty, KindCast, KindTrial, KindIndividual, KindClip, KindPass, KindTrack,
}

// The kinds of records that a study has beside its season.
const (
	KindAssignment Kind = "assignment" // of one trial: which pairs were active; holds a reference, never the pairs
	KindProtocol   Kind = "protocol"   // what is asked, who does it and how
	KindPermit     Kind = "permit"
	KindCaution    Kind = "caution" // one caution, ticked or not
	KindImport     Kind = "import"
	KindOpening    Kind = "opening" // the active pairs were shown to people
	KindErasure    Kind = "erasure" // something personal was erased

	KindRig         Kind = "rig"         // what feeds the pairs, as one document
	KindBench       Kind = "bench"       // a current that was measured on the bench or on site
	KindCalibration Kind = "calibration" // potentials measured round a pair, as one document
	KindBackground  Kind = "background"  // fields that the stimulus does not make, as one document

	KindSeal            Kind = "seal"            // a sealed schedule, as one document
	KindRehearsal       Kind = "rehearsal"       // a key was seen to open it
	KindCard            Kind = "card"            // what the operator does in a trial was shown to somebody
	KindLock            Kind = "lock"            // scoring is locked
	KindGuess           Kind = "guess"           // which pair somebody who scored took for the active one
	KindPreregistration Kind = "preregistration" // what was planned, as one document

	KindDeck       Kind = "deck"       // how the study logs on a boat, as one document
	KindCheck      Kind = "check"      // what was found before a trial
	KindReading    Kind = "reading"    // a current that was read before or after a trial; holds a reference, never the current
	KindEvent      Kind = "event"      // an adverse event, or a note
	KindCount      Kind = "count"      // animals and hours, counted against a permit
	KindAttachment Kind = "attachment" // a photo or a voice note; holds a reference
	KindClock      Kind = "clock"      // how far a device's clock was ahead
	KindDistinct   Kind = "distinct"   // two passes that are not one

	KindCamera  Kind = "camera"  // a camera of the study, as one document
	KindFootage Kind = "footage" // the files, clock and poses of one clip
	KindFixes   Kind = "fixes"   // what was measured of one pass in a clip

	KindDossier Kind = "dossier" // the words and rights of what is handed over
)

// FootageKinds are the kinds that the page Footage writes.
var FootageKinds = []Kind{KindCamera, KindFootage, KindFixes}

// OwnKinds are the kinds that people write beside the season.
var OwnKinds = []Kind{
	KindProtocol, KindPermit, KindCaution, KindRig, KindBench, KindCalibration, KindBackground, KindGuess,
	KindCheck, KindReading, KindEvent, KindCount, KindAttachment, KindClock, KindDistinct, KindDossier,
}

// Record is one thing of a study as it is written down: text under the names
// of the season folder, which carry the units. Numbers stay decimal text, so
// that what was recorded is kept to its last digit.
type Record struct {
	Kind Kind
	// ID is unique within the kind; "" where a study has only one.
	ID string
	// Fields holds what was recorded; a field that is blank is absent.
	Fields map[string]string
	// Table holds rows where the record is a series: a track, a cast.
	Table *Table
}

// Table is rows of text under column names; every row has as many cells.
type Table struct {
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

// GuardedFields are the fields of a trial that tell, or help to tell, which
// pair was active. They are kept apart, under [KindAssignment].
var GuardedFields = []string{"active_pair", "current_uA", "current_before_uA", "current_after_uA", "waveform", "frequency_Hz"}

// PersonFields are the fields that name people, by kind. What they hold is
// kept where it can be erased.
var PersonFields = map[Kind][]string{
	KindTrial:    {"observers"},
	KindPass:     {"scorer", "second_scorer"},
	KindProtocol: {"people", "contact"},
	KindPermit:   {"holder"},
	KindCaution:  {"by"},
	KindBench:    {"by"},
	KindGuess:    {"by"},
	KindCheck:    {"by"}, KindReading: {"by"}, KindEvent: {"by"}, KindCount: {"by"}, KindAttachment: {"by"}, KindDistinct: {"by"},
	KindFixes:   {"by_1", "by_2", "by_3", "by_4", "by_5", "by_6", "by_7", "by_8"},
	KindDossier: {"people"},
	KindSeal:    {"holder_1", "holder_2", "holder_3", "holder_4", "holder_5", "holder_6", "holder_7", "holder_8"},
}
