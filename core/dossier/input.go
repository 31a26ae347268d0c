package dossier

import (
	"time"

	"brinefield/core/study"
)

// Input is everything that a dossier is made of.
type Input struct {
	Name   string            // of the study's folder
	Study  *study.Study      // without faults; what is sealed is sealed in it
	Season map[string][]byte // the season folder of the package, canonical
	Beside map[string][]byte // what an export puts beside it: schedule.json, fixes.csv, …; by name
	Photos map[string][]byte // cleaned of place and person; by name

	Facts    Facts
	Findings Findings
	Results  map[string][]byte // documents as JSON: findings.json, curves.json
	Passes   []Pass
	Maps     []FieldMap
	Ranges   []RangeCurve
	Waters   []TrialWater

	Spec     Choices
	People   []Person
	Program  Build
	Made     time.Time // of the dossier, in the site's zone
	Invented bool      // demo data: said on every page
	Sealed   int       // trials whose active pair is sealed
}

// Build is the program that made the dossier.
type Build struct {
	Version string `json:"version"`
	Commit  string `json:"commit"`
	OSArch  string `json:"os_arch"`
}

// Choices are what the study says of its dossiers: the words and the rights that no
// measurement gives. The zero value is allowed: what is blank is printed as not
// recorded.
type Choices struct {
	Title        string   `json:"title,omitempty" maxLength:"500" doc:"Blank: the study's title."`
	Abstract     string   `json:"abstract,omitempty" maxLength:"10000"`
	Keywords     []string `json:"keywords,omitempty" maxItems:"50"`
	Licence      string   `json:"licence,omitempty" maxLength:"100" doc:"SPDX identifier: CC-BY-4.0, CC0-1.0, CC-BY-NC-4.0 or ODC-By-1.0. Blank: none is granted, and the package says so."`
	Funding      string   `json:"funding,omitempty" maxLength:"2000"`
	Ethics       string   `json:"ethics,omitempty" maxLength:"5000" doc:"Ethical statement, in the study's own words."`
	Interests    string   `json:"interests,omitempty" maxLength:"2000" doc:"Statement of interests."`
	SampleSize   string   `json:"sample_size,omitempty" maxLength:"5000" doc:"How the number of trials and animals was decided."`
	Housing      string   `json:"housing,omitempty" maxLength:"5000" doc:"How animals were kept, where any were."`
	DOI          string   `json:"doi,omitempty" maxLength:"200" doc:"Reserved for the package, 10.…/…"`
	Language     string   `json:"language,omitempty" maxLength:"20" doc:"ISO 639-1; blank: en."`
	NamesOf      string   `json:"names_of,omitempty" enum:",authors,all" doc:"Whose names stand in the package: authors alone (blank), or also those who scored and observed. Others are Person 1, Person 2, …"`
	CoarsenKm    float64  `json:"coarsen_km,omitempty" minimum:"0" maximum:"500" doc:"Edge of the square to whose middle coordinates are moved; 0: as recorded."`
	PlaceName    string   `json:"place_name,omitempty" maxLength:"200" doc:"Name of the site in the package; blank: its own."`
	WithoutNotes bool     `json:"without_notes,omitempty" doc:"Leaves free text of trials and passes out."`
	Photos       bool     `json:"photos,omitempty" doc:"Takes photos in, cleaned of place and person."`
}

// Person is somebody who is named with their wish.
type Person struct {
	Given       string `json:"given" maxLength:"200"`
	Family      string `json:"family" maxLength:"200"`
	ORCID       string `json:"orcid,omitempty" maxLength:"40" doc:"0000-0002-1825-0097"`
	Affiliation string `json:"affiliation,omitempty" maxLength:"500"`
	Email       string `json:"email,omitempty" maxLength:"200"`
	Role        string `json:"role,omitempty" enum:",author,contributor,contact" doc:"Blank: author."`
}

// Pass is one pass with what it met, ready for tables and figures. A pointer is
// nil where the number is not known.
type Pass struct {
	ID, Trial, Pair, Role string // Role "" where sealed
	Species, Individual   string // Individual "" = not identified
	Time                  time.Time
	Visit, Clip, Scorer   string
	Turned, Bit           study.Answer
	Responded             bool
	Used                  *bool
	NotUsedBecause        string
	LowNVPerCm            *float64
	HighNVPerCm           *float64
	PhantomLowNVPerCm     *float64
	PhantomHighNVPerCm    *float64
	TextbookNVPerCm       *float64
	PositionNVPerCm       *float64
	FallingField          bool
	AfterOpening          bool
	DistanceCm            *float64
	HorizontalCm          *float64
	AngleDeg              *float64
	HeightCm              *float64
	WatchedS              *float64
	CurrentUA             *float64
	HeadXCm, HeadYCm      *float64 // in the season frame, at the onset less the reaction time, or in the largest field
	HasTrack              bool
}

// TrialWater is what the water of one trial conducts.
type TrialWater struct {
	Trial string
	SPerM float64
	From  string
}

// FieldMap is the field of one pair on a plane, for a current of its own.
type FieldMap struct {
	Pair      string
	CurrentUA float64
	WaterSPM  float64
	Plane     string  // "plan" (x, y at a height) or "section" (along the pair's axis, height)
	HeightCm  float64 // of a plan
	X, Y      []float64
	NVPerCm   [][]float64 // [row of Y][column of X]; NaN inside a plate
	XCentreCm float64     // of a section: where the pair's centre is on its x
	Method    string      // how it was solved, and its own estimate of its error
	Error     float64     // relative
	Why       string      // why there is none
}

// RangeCurve is how far from the pair's centre, measured along the bottom, the
// field of one pair reaches at each height: the furthest place of any bearing at
// which it is at least the threshold.
type RangeCurve struct {
	Pair            string
	CurrentUA       float64
	ThresholdNVPerC float64
	Of              string // what the threshold is: "detection median of Scyliorhinus canicula", "5 nV/cm"
	HeightCm        []float64
	ReachCm         []*float64 // nil: nowhere at this height
	Why             string
}
