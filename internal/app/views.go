package app

// SeasonView is what the app shows of a season before any result.
type SeasonView struct {
	Program           Program        `json:"program"`
	Folder            string         `json:"folder" doc:"Name of the folder, without its path."`
	Title             string         `json:"title"`
	Question          string         `json:"question"`
	SiteName          string         `json:"site_name"`
	Timezone          string         `json:"timezone"`
	Invented          bool           `json:"invented" doc:"True for the demo season."`
	WaterText         string         `json:"water_text"`
	BottomText        string         `json:"bottom_text"`
	ReactionTimeS     *float64       `json:"reaction_time_s" nullable:"true"`
	PassRadiusCm      float64        `json:"pass_radius_cm"`
	Enclosure         *EnclosureView `json:"enclosure,omitempty"`
	Plates            []PlateView    `json:"plates"`
	Pairs             []PairView     `json:"pairs"`
	Species           []string       `json:"species"`
	Individuals       []string       `json:"individuals"`
	Trials            []TrialView    `json:"trials"`
	PassCount         int            `json:"pass_count"`
	StatesUncertainty bool           `json:"states_uncertainty" doc:"The season says how well it knows its own inputs, so that the uncertainty can be asked for."`
	Faults            []FaultView    `json:"faults"`
	FaultRows         []FaultRows    `json:"fault_rows" doc:"The rows of the files that hold faults, as they stand."`
}

// PairView is a pair on the plan; positions in the season frame.
type PairView struct {
	Label        string  `json:"label"`
	XCm          float64 `json:"x_cm"`
	YCm          float64 `json:"y_cm"`
	AzimuthDeg   float64 `json:"azimuth_deg"`
	SeparationCm float64 `json:"separation_cm"`
	HeightCm     float64 `json:"height_cm"`
}

// EnclosureView is a tank's wall on the plan: a rectangle, or a circle where
// the diameter is not null.
type EnclosureView struct {
	SizeXCm    float64  `json:"size_x_cm"`
	SizeYCm    float64  `json:"size_y_cm"`
	DiameterCm *float64 `json:"diameter_cm" nullable:"true"`
	CentreXCm  float64  `json:"centre_x_cm"`
	CentreYCm  float64  `json:"centre_y_cm"`
}

// PlateView is a plate on the plan: a rectangle, or a disc where the diameter
// is not null. Turned anticlockwise from +x about its centre.
type PlateView struct {
	Label       string   `json:"label"`
	SizeXCm     float64  `json:"size_x_cm"`
	SizeYCm     float64  `json:"size_y_cm"`
	DiameterCm  *float64 `json:"diameter_cm" nullable:"true"`
	CentreXCm   float64  `json:"centre_x_cm"`
	CentreYCm   float64  `json:"centre_y_cm"`
	YawDeg      float64  `json:"yaw_deg"`
	ThicknessCm float64  `json:"thickness_cm"`
}

// TrialView is one trial as a list shows it.
type TrialView struct {
	Trial       string   `json:"trial"`
	Start       string   `json:"start"`
	ActivePairs []string `json:"active_pairs"`
	Silent      bool     `json:"silent"`
	Sealed      bool     `json:"sealed"`
	CurrentUA   *float64 `json:"current_uA" nullable:"true"`
	Passes      int      `json:"passes"`
}

// FaultView is one fault of a season folder.
type FaultView struct {
	File     string `json:"file"`
	Row      int    `json:"row" doc:"1 is the header; in study.toml the line; 0 the whole file."`
	Column   string `json:"column"`
	Wrong    string `json:"wrong"`
	Expected string `json:"expected"`
}

// FaultRows are the rows of one file that hold faults, beside their header.
type FaultRows struct {
	File   string     `json:"file"`
	Header []string   `json:"header"`
	Rows   []FaultRow `json:"rows"`
}

// FaultRow is one row as it stands in the file.
type FaultRow struct {
	Row   int      `json:"row"`
	Cells []string `json:"cells"`
}

// ProgressView says how far the analysis is.
type ProgressView struct {
	State string `json:"state" enum:"running,done,failed"`
	Stage string `json:"stage"`
	Done  int    `json:"done"`
	Total int    `json:"total"`
	Error string `json:"error,omitempty"`
}

// ExposureRow is one pass in the table and on the plan of Exposures.
type ExposureRow struct {
	PassExposure
	Time       string   `json:"time"`
	Individual string   `json:"individual"`
	Species    string   `json:"species"`
	Turned     string   `json:"turned" enum:"yes,no,"`
	Bit        string   `json:"bit" enum:"yes,no,"`
	Responded  bool     `json:"responded"`
	Visit      string   `json:"visit"`
	Scorer     string   `json:"scorer"`
	CurrentUA  *float64 `json:"current_uA" nullable:"true"`
	HeadXCm    *float64 `json:"head_x_cm" nullable:"true" doc:"Where the head was at the onset less the reaction time, or in the largest field."`
	HeadYCm    *float64 `json:"head_y_cm" nullable:"true"`
}

// ExposuresView is the whole table.
type ExposuresView struct {
	Heading
	Rows []ExposureRow `json:"rows"`
}

// PassView is one pass in full: its track and the field along it.
type PassView struct {
	Row    ExposureRow  `json:"row"`
	Track  []TrackPoint `json:"track" doc:"Dense, along the straight lines between fixes."`
	Fixes  []TrackPoint `json:"fixes" doc:"The fixes themselves."`
	T0S    *float64     `json:"t0_s" nullable:"true" doc:"Last row before the onset."`
	OnsetS *float64     `json:"onset_s" nullable:"true"`
	DelayS float64      `json:"reaction_time_s"`
	Note   string       `json:"note"`
}

// TrackPoint is a position of the head and the field there; fields are null
// at recorded fixes of unknown height. While the trial is sealed only the
// phantom field for each µA is known, and afterwards it is null.
type TrackPoint struct {
	TimeS    float64  `json:"t_s"`
	XCm      float64  `json:"x_cm"`
	YCm      float64  `json:"y_cm"`
	HeightCm *float64 `json:"height_cm" nullable:"true"`
	Field    *float64 `json:"field_nV_per_cm" nullable:"true"`
	Phantom  *float64 `json:"phantom_nV_per_cm" nullable:"true"`
	PerUA    *float64 `json:"phantom_nV_per_cm_per_uA" nullable:"true" doc:"Of each µA through the pass's own pair: only while the trial is sealed."`
}

// CurvesView are the curves of Findings, one per species, on a shared
// logarithmic grid of fields: the share of passes that a field of x is enough
// to turn.
type CurvesView struct {
	Species []SpeciesCurves `json:"species"`
}

// SpeciesCurves are the curves of one species.
type SpeciesCurves struct {
	Species             string    `json:"species"`
	FieldNVPerCm        []float64 `json:"field_nV_per_cm"`
	Detection           []float64 `json:"detection,omitempty" doc:"Fitted distribution of thresholds, lapses left out."`
	DetectionLow        []float64 `json:"detection_low,omitempty" doc:"Pointwise 95 % band, from the cluster sandwich."`
	DetectionHigh       []float64 `json:"detection_high,omitempty"`
	Lognormal           []float64 `json:"lognormal,omitempty"`
	LognormalIndividual []float64 `json:"lognormal_individual,omitempty"`
	Steps               []StepRow `json:"steps,omitempty"`
}

// StepRow is one rise of the step curve: between low and high it climbs from
// before to after, where in between the data do not say.
type StepRow struct {
	LowNVPerCm  float64  `json:"low_nV_per_cm"`
	HighNVPerCm *float64 `json:"high_nV_per_cm" nullable:"true"`
	Before      float64  `json:"before"`
	After       float64  `json:"after"`
}
