package dossier

// Facts are what a study recorded beside its season, as it is printed and as it
// is kept in the package (study/facts.json), so that the texts can be made again
// from it. A part that is nil or empty was not recorded. People are named as the
// package names them.
type Facts struct {
	Format          int               `json:"format"`
	Journal         *JournalFacts     `json:"journal,omitempty"` // absent: made of a season folder alone
	Protocol        ProtocolFacts     `json:"protocol"`
	Permits         []PermitFact      `json:"permits,omitempty"`
	Cautions        []CautionFact     `json:"cautions,omitempty"`
	Rig             *RigFacts         `json:"rig,omitempty"`
	Bench           []BenchFact       `json:"bench,omitempty"`
	Calibration     *CalibrationFacts `json:"calibration,omitempty"`
	Background      *BackgroundFacts  `json:"background,omitempty"`
	Schedule        *ScheduleFacts    `json:"schedule,omitempty"`
	Blinding        BlindingFacts     `json:"blinding"`
	Preregistration []RegisteredFact  `json:"preregistration,omitempty"`
	Scorers         []ScorerFact      `json:"scorers,omitempty"`
	Footage         *FootageFacts     `json:"footage,omitempty"`
	Deck            *DeckFacts        `json:"deck,omitempty"`
	Privacy         []string          `json:"privacy,omitempty"` // sentences: what was done to names, places and notes
	Place           PlaceFacts        `json:"place"`
}

// JournalFacts say how the study was kept.
type JournalFacts struct {
	Entries int64        `json:"entries"`
	From    string       `json:"from"` // RFC 3339: of its first entry and its last
	To      string       `json:"to"`
	Devices []DeviceFact `json:"devices"`
}

// DeviceFact is the end of one device's chain of entries.
type DeviceFact struct {
	Device  string `json:"device"`
	Entries int64  `json:"entries"`
	Head    string `json:"head"` // SHA-256 of its last entry
}

// ProtocolFacts are the study's own words.
type ProtocolFacts struct {
	Method       string `json:"method,omitempty"`
	Start        string `json:"start,omitempty"`
	End          string `json:"end,omitempty"`
	Hypotheses   string `json:"hypotheses,omitempty"`
	Criteria     string `json:"criteria,omitempty"`
	StoppingRule string `json:"stopping_rule,omitempty"`
	AnalysisPlan string `json:"analysis_plan,omitempty"`
}

// PermitFact is one permit.
type PermitFact struct {
	What        string   `json:"what"`
	Authority   string   `json:"authority,omitempty"`
	Number      string   `json:"number,omitempty"`
	ValidFrom   string   `json:"valid_from,omitempty"`
	ValidTo     string   `json:"valid_to,omitempty"`
	AnimalsMost *float64 `json:"animals_most,omitempty"`
	HoursMost   *float64 `json:"hours_most,omitempty"`
	Animals     *float64 `json:"animals,omitempty"` // counted against it
	Hours       *float64 `json:"hours,omitempty"`
	Note        string   `json:"note,omitempty"`
}

// CautionFact is one caution of the page Question.
type CautionFact struct {
	About  string `json:"about"` // Diving, Electricity in water, …
	Text   string `json:"text"`
	Rests  string `json:"rests"` // the published document that it rests on
	Ticked bool   `json:"ticked"`
	Note   string `json:"note,omitempty"`
}

// RigFacts are what the rig was worked out to deliver.
type RigFacts struct {
	Supply     string        `json:"supply"` // in words
	Cable      string        `json:"cable"`
	Electrodes string        `json:"electrodes"`
	Positions  []RigPosition `json:"positions"`
	Safety     []string      `json:"safety"`
	Methods    []string      `json:"methods"`
}

// RigPosition is one position of the switch: the current through a driven pair, in
// µA, with its 95 % interval over tolerances.
type RigPosition struct {
	Label     string  `json:"label"`
	NominalUA float64 `json:"nominal_uA"`
	LowUA     float64 `json:"low_uA"`
	HighUA    float64 `json:"high_uA"`
}

// BenchFact is a current that was measured on the bench or on site.
type BenchFact struct {
	Date      string   `json:"date,omitempty"`
	Position  string   `json:"position,omitempty"`
	Pair      string   `json:"pair,omitempty"`
	CurrentUA *float64 `json:"current_uA,omitempty"`
	SilentUA  *float64 `json:"silent_uA,omitempty"`
	WaterSPM  *float64 `json:"water_S_per_m,omitempty"`
	Note      string   `json:"note,omitempty"`
}

// CalibrationFacts are what potentials measured round a pair say.
type CalibrationFacts struct {
	Pair      string   `json:"pair"`
	Readings  int      `json:"readings"`
	Sentences []string `json:"sentences"` // current, conductivity and offset with their intervals; how well they fit
}

// BackgroundFacts are fields that the stimulus did not make.
type BackgroundFacts struct {
	Sources []BackgroundSource `json:"sources"`
	Methods []string           `json:"methods"`
}

// BackgroundSource is one of them.
type BackgroundSource struct {
	What    string   `json:"what"`
	NVPerCm *float64 `json:"field_nV_per_cm,omitempty"`
	Where   string   `json:"where"` // at which place or distance
	Note    string   `json:"note,omitempty"`
}

// StampFact is when, who and why.
type StampFact struct {
	When   string `json:"when"` // RFC 3339, at the site
	By     string `json:"by,omitempty"`
	Reason string `json:"reason,omitempty"`
}

// ScheduleFacts are how the active pairs were drawn, sealed and opened.
type ScheduleFacts struct {
	Sealed    bool        `json:"sealed"` // to keys; else it was written down openly
	Seal      string      `json:"seal,omitempty"`
	Written   *StampFact  `json:"written,omitempty"`
	Rule      string      `json:"rule"` // in words
	Trials    int         `json:"trials"`
	Spare     int         `json:"spare"`
	TrialsRun int         `json:"trials_run"`
	Keys      int         `json:"keys"`
	Rehearsed int         `json:"rehearsed"`
	Locked    *StampFact  `json:"locked,omitempty"`
	Openings  []StampFact `json:"openings,omitempty"`
	AllOpened bool        `json:"all_opened"`
	Problems  []string    `json:"problems,omitempty"` // what the check against the seal found
	Balance   string      `json:"balance,omitempty"`  // in words, once all is opened
}

// BlindingFacts are who could have known what.
type BlindingFacts struct {
	Guesses      []GuessFact  `json:"guesses,omitempty"`
	Knowers      []KnowerFact `json:"knowers,omitempty"`
	AfterOpening int          `json:"after_opening"` // values recorded or changed after the opening
	Warnings     []string     `json:"warnings,omitempty"`
}

// GuessFact compares guesses of the active pair with chance.
type GuessFact struct {
	By       string   `json:"by"`
	Guesses  int      `json:"guesses"`
	Hits     int      `json:"hits"`
	Expected *float64 `json:"expected,omitempty"`
	P        *float64 `json:"p,omitempty"`
	Why      string   `json:"not_estimable,omitempty"`
}

// KnowerFact is somebody who could have known which pair was active.
type KnowerFact struct {
	Who    string `json:"who"`
	How    string `json:"how"`
	Since  string `json:"since"`
	Trials int    `json:"trials"` // 0: all
	Scored int    `json:"scored"`
}

// RegisteredFact is a plan that was written down beforehand.
type RegisteredFact struct {
	ID     string `json:"id"`
	When   string `json:"when"`
	SHA256 string `json:"sha256"`
	Late   bool   `json:"late"` // after the first trial began
}

// ScorerFact is one person who scored.
type ScorerFact struct {
	Who    string `json:"who"`
	Passes int    `json:"passes"` // as the first scorer
	Second int    `json:"second"` // as the second
}

// FootageFacts are how positions were measured.
type FootageFacts struct {
	Cameras        []CameraFact   `json:"cameras"`
	Clips          int            `json:"clips"`
	ClipsWithPose  int            `json:"clips_with_pose"`
	ClipsWithClock int            `json:"clips_with_clock"`
	Passes         int            `json:"passes"` // measured in footage
	Placed         int            `json:"fixes_placed"`
	Carried        int            `json:"fixes_carried"`
	Filled         int            `json:"fixes_filled"`
	Heights        map[string]int `json:"heights,omitempty"`      // passes, by how their heights were found, in words
	MedianSDCm     *float64       `json:"median_sd_cm,omitempty"` // of a fix in the plane, the larger axis
	LargestSDCm    *float64       `json:"largest_sd_cm,omitempty"`
	People         int            `json:"people"`
}

// CameraFact is one camera.
type CameraFact struct {
	Name              string   `json:"name"`
	What              string   `json:"what"` // size, focal length, window, in words
	Poses             int      `json:"poses"`
	LargestResidualPX *float64 `json:"largest_rms_px,omitempty"` // root mean square per mark of the worst pose
	Note              string   `json:"note,omitempty"`
}

// DeckFacts are what was logged on the boat.
type DeckFacts struct {
	Devices int         `json:"devices"`
	Checks  []CheckFact `json:"checks,omitempty"`
	Events  []EventFact `json:"events,omitempty"`
	Photos  int         `json:"photos"`
}

// CheckFact is one check before trials: in how many it was answered, and how.
type CheckFact struct {
	Check string `json:"check"`
	Done  int    `json:"done"`
	Other int    `json:"other"` // answered otherwise: skipped, or not in order
}

// EventFact is an adverse event, or a note.
type EventFact struct {
	What  string `json:"what"`
	Trial string `json:"trial,omitempty"`
	When  string `json:"when"`
	Text  string `json:"text,omitempty"`
}

// PlaceFacts say how exact the place is in the package.
type PlaceFacts struct {
	Latitude     *float64 `json:"latitude,omitempty"` // as the package gives it
	Longitude    *float64 `json:"longitude,omitempty"`
	UncertaintyM *float64 `json:"uncertainty_m,omitempty"` // radius; nil: as recorded, of unknown accuracy
	Coarsened    bool     `json:"coarsened"`
	Name         string   `json:"name"`
}
