package app

// What the page Background and the command background are told and say. Fields
// are in nV/cm, gradients in nV/cm per cm, places in metres in the season
// frame (z = 0 the plate's top face, or the bottom where there is no plate),
// bearings in degrees clockwise from true north, azimuths in degrees
// anticlockwise from +x. Two kinds of background are never added: the field of
// moving water and of swimming is nearly uniform, is an upper bound, and has no
// standoff; the fields of gear are local, and have one.

// BackgroundSpec states where and when, what moves, and what lies about. It is
// what the command reads, what is posted to /api/background and what a study
// keeps as its record of the kind background.
type BackgroundSpec struct {
	Site       BackgroundSite      `json:"site"`
	Date       string              `json:"date" doc:"A day such as 2026-06-01, from 2025-01-01 to 2030-01-01: the years of the magnetic model."`
	WaterSPerM float64             `json:"water_S_per_m" doc:"What the water conducts where it is."`
	WaterSD    *float64            `json:"water_S_per_m_sd,omitempty" nullable:"true" doc:"Standard deviation of it; absent: not stated."`
	Stream     *BackgroundStream   `json:"stream,omitempty"`
	SwimMPerS  *float64            `json:"swim_m_per_s,omitempty" nullable:"true" doc:"The animal's own speed through the water."`
	Pairs      []BackgroundPair    `json:"pairs,omitempty"`
	HeightM    *float64            `json:"height_m,omitempty" nullable:"true" doc:"At which height over the pairs the fields are told; absent: 0."`
	Stimulus   *BackgroundStimulus `json:"stimulus,omitempty"`
	Sources    []BackgroundSource  `json:"sources,omitempty"`
	Meter      *BackgroundMeter    `json:"meter,omitempty"`
	Cable      *BackgroundCable    `json:"cable,omitempty"`
}

// BackgroundSite is the place. Without latitude and longitude nothing is said
// of the Earth's field; without depth the water has no surface.
type BackgroundSite struct {
	Latitude  *float64 `json:"latitude,omitempty" nullable:"true" doc:"Degrees north, WGS 84."`
	Longitude *float64 `json:"longitude,omitempty" nullable:"true" doc:"Degrees east, WGS 84."`
	XAxisDeg  *float64 `json:"x_axis_bearing_deg,omitempty" nullable:"true" doc:"Bearing of +x from true north; absent: fields are told north, east, down only."`
	DepthM    *float64 `json:"depth_m,omitempty" nullable:"true" doc:"Depth of the bottom: the surface holds fields in."`
}

// BackgroundStream is the water's motion in the course of one day: a table, or
// a tide as a sine.
type BackgroundStream struct {
	_              struct{}              `nullable:"true"`
	Table          []BackgroundStreamRow `json:"table,omitempty" doc:"A stream atlas as typed; in between, the components north and east run straight. With a table the other keys stay away."`
	FloodPeakMPerS *float64              `json:"flood_peak_m_per_s,omitempty" nullable:"true"`
	FloodBearing   *float64              `json:"flood_bearing_deg,omitempty" nullable:"true" doc:"Where the flood runs to."`
	Slack          string                `json:"slack,omitempty" doc:"Time HH:MM at which the flood begins."`
	PeriodH        *float64              `json:"period_h,omitempty" nullable:"true" doc:"From slack to the same slack; absent: 12.42 (the moon's half-day tide)."`
	EbbPeakMPerS   *float64              `json:"ebb_peak_m_per_s,omitempty" nullable:"true" doc:"Absent: as the flood. The ebb runs the opposite way."`
}

// BackgroundStreamRow is one line of a stream atlas.
type BackgroundStreamRow struct {
	Time       string  `json:"time" doc:"HH:MM, rising."`
	SpeedMPerS float64 `json:"speed_m_per_s"`
	Bearing    float64 `json:"bearing_deg" doc:"Where the water runs to."`
}

// BackgroundPair is one pair of the plate.
type BackgroundPair struct {
	Label   string    `json:"label"`
	CentreM []float64 `json:"centre_m" doc:"[x, y]."`
}

// BackgroundStimulus says what a local source may add: share_percent of
// threshold_nV_per_cm. Absent: 10 % of 5 nV/cm.
type BackgroundStimulus struct {
	_                struct{} `nullable:"true"`
	ThresholdNVPerCm float64  `json:"threshold_nV_per_cm"`
	SharePercent     float64  `json:"share_percent"`
}

// BackgroundSource is one thing that makes a field of its own. Which keys count
// depends on its kind:
//
//   - dipole: moment_A_m [axis_deg]
//   - couple: metals, areas_cm2 or radii_cm, apart_m [painted_percent, axis_deg]
//   - measured: field_nV_per_cm, distance_m
//   - cable: current_nA, length_m; at_m is the end next to the pairs
//   - diver, camera, boat, chain, weight: ready-made dipoles [moment_A_m, axis_deg]
type BackgroundSource struct {
	Label          string    `json:"label"`
	Kind           string    `json:"kind" doc:"dipole, couple, measured, cable, diver, camera, boat, chain or weight."`
	AtM            []float64 `json:"at_m" doc:"[x, y, z]."`
	Bottom         string    `json:"bottom,omitempty" doc:"insulating (the bottom throws the whole field back: the largest that any bottom can do; absent: this) or none (open water)."`
	MomentAM       *float64  `json:"moment_A_m,omitempty" nullable:"true" doc:"Current times distance. For a ready-made kind: in the place of its own."`
	AxisDeg        *float64  `json:"axis_deg,omitempty" nullable:"true" doc:"Azimuth of a level axis; absent: the axis that makes the largest field."`
	Metals         []string  `json:"metals,omitempty" doc:"Two names of the galvanic table."`
	AreasCm2       []float64 `json:"areas_cm2,omitempty" doc:"Surface of each metal in the water, paint included."`
	RadiiCm        []float64 `json:"radii_cm,omitempty" doc:"Or each metal as a ball of this radius."`
	ApartM         *float64  `json:"apart_m,omitempty" nullable:"true" doc:"Between the middles of the two metals."`
	PaintedPercent *float64  `json:"painted_percent,omitempty" nullable:"true" doc:"Share of both surfaces under paint or varnish that insulates; absent: 0."`
	FieldNVPerCm   *float64  `json:"field_nV_per_cm,omitempty" nullable:"true"`
	DistanceM      *float64  `json:"distance_m,omitempty" nullable:"true" doc:"From the source, where that field was measured."`
	CurrentNA      *float64  `json:"current_nA,omitempty" nullable:"true" doc:"What leaks."`
	LengthM        *float64  `json:"length_m,omitempty" nullable:"true" doc:"From where it leaves to where it comes back."`
}

// BackgroundMeter is a reading of a conductivity meter, and the question that
// decides what it means.
type BackgroundMeter struct {
	_            struct{} `nullable:"true"`
	ReadingSPerM float64  `json:"reading_S_per_m"`
	Compensated  string   `json:"compensated_to_25C" doc:"yes (the meter shows what the water would conduct at 25 °C), no (what it conducts) or unknown."`
	TemperatureC float64  `json:"temperature_C"`
	PercentPerC  *float64 `json:"percent_per_C,omitempty" nullable:"true" doc:"Absent: 1.91."`
}

// BackgroundCable asks whether the silent plate is silent: the supply's voltage
// stands on the cable to it, and leaks.
type BackgroundCable struct {
	_           struct{}  `nullable:"true"`
	LeakMohm    float64   `json:"leak_to_water_Mohm" doc:"Insulation between the conductors and the water, measured with the cable under water."`
	VoltageV    float64   `json:"voltage_V"`
	LengthM     float64   `json:"length_m" doc:"Of the cable in the water."`
	PlateEndAtM []float64 `json:"plate_end_at_m" doc:"[x, y, z] of the cable's end at the plate, where the leak is taken to be."`
}

// BackgroundStart is what the page begins with: the specification as saved, or
// one made from the study.
type BackgroundStart struct {
	Spec     BackgroundSpec    `json:"spec"`
	From     []string          `json:"from" doc:"Sentences: where each value was taken from."`
	Saved    bool              `json:"saved" doc:"Whether the study keeps this specification."`
	SpecText string            `json:"spec_text" doc:"The text as it is kept (the from of an edit); empty where none is."`
	Kinds    []BackgroundKind  `json:"kinds" doc:"The ready-made sources."`
	Metals   []BackgroundMetal `json:"metals" doc:"The galvanic table."`
	Cautions []string          `json:"cautions"`
	Warnings []string          `json:"warnings"`
}

// BackgroundKind is a ready-made source.
type BackgroundKind struct {
	Kind     string  `json:"kind"`
	Name     string  `json:"name"`
	MomentAM float64 `json:"moment_A_m"`
	From     string  `json:"from" doc:"Where that moment comes from."`
	Advice   string  `json:"advice" doc:"What makes it less."`
}

// BackgroundMetal is one metal of the galvanic table: its potential in flowing
// sea water against a saturated calomel electrode.
type BackgroundMetal struct {
	Metal string  `json:"metal"`
	LowV  float64 `json:"low_V"`
	HighV float64 `json:"high_V"`
	From  string  `json:"from"`
}

// BackgroundDocument is the answer.
type BackgroundDocument struct {
	Heading
	Magnetic *BackgroundMagnetic     `json:"magnetic"`
	Motional *BackgroundMotional     `json:"motional"`
	Stimulus BackgroundStimulus      `json:"stimulus" doc:"As it was taken."`
	LimitNV  *float64                `json:"limit_nV_per_cm" nullable:"true" doc:"What one local source may add."`
	Sources  []BackgroundSourceFound `json:"sources" doc:"Local sources, in the order of the specification."`
	Pairs    []BackgroundPairFound   `json:"pairs" doc:"All local sources together at each pair; moving water is not in it."`
	Silent   *BackgroundSilent       `json:"silent"`
	Meter    *BackgroundMeterFound   `json:"meter"`
	Notes    []string                `json:"notes" doc:"What the numbers mean and what is not in them."`
}

// BackgroundMagnetic is the Earth's field at the site and day.
type BackgroundMagnetic struct {
	_               struct{} `nullable:"true"`
	Model           string   `json:"model"`
	From            string   `json:"from"`
	Year            float64  `json:"year" doc:"The day as a decimal year."`
	NorthNT         float64  `json:"north_nT" doc:"X."`
	EastNT          float64  `json:"east_nT" doc:"Y."`
	DownNT          float64  `json:"down_nT" doc:"Z."`
	HorizontalNT    float64  `json:"horizontal_nT" doc:"H."`
	TotalNT         float64  `json:"total_nT" doc:"F."`
	Declination     *float64 `json:"declination_deg" nullable:"true" doc:"D, east of true north; null at a magnetic pole."`
	Inclination     *float64 `json:"inclination_deg" nullable:"true" doc:"I, downwards."`
	NorthRate       float64  `json:"north_nT_per_year"`
	EastRate        float64  `json:"east_nT_per_year"`
	DownRate        float64  `json:"down_nT_per_year"`
	HorizontalRate  *float64 `json:"horizontal_nT_per_year" nullable:"true"`
	TotalRate       *float64 `json:"total_nT_per_year" nullable:"true"`
	DeclinationRate *float64 `json:"declination_deg_per_year" nullable:"true"`
	InclinationRate *float64 `json:"inclination_deg_per_year" nullable:"true"`
}

// BackgroundMotional is the field of water that moves through the Earth's
// field, E = v × B: the most that it can be. The bottom and the sea short-circuit
// part of it.
type BackgroundMotional struct {
	_        struct{}           `nullable:"true"`
	Rows     []BackgroundMoving `json:"rows" doc:"Every half hour of the day that the stream is known for; empty without a stream."`
	Largest  *BackgroundMoving  `json:"largest" doc:"The largest of the day, at its own time."`
	Smallest *BackgroundMoving  `json:"smallest" doc:"The smallest of the rows."`
	Swim     *BackgroundSwim    `json:"swim"`
	PerMPerS *float64           `json:"per_m_per_s_nV_per_cm" nullable:"true" doc:"The most that water makes at 1 m/s, whatever its direction: 1 m/s times the total field."`
	Bound    string             `json:"bound" doc:"Why it is an upper bound."`
}

// BackgroundMoving is the motional field at one time.
type BackgroundMoving struct {
	_             struct{}    `nullable:"true"`
	Time          string      `json:"time"`
	SpeedMPerS    float64     `json:"speed_m_per_s"`
	Bearing       float64     `json:"bearing_deg" doc:"Where the water runs to."`
	NorthEastDown Figures     `json:"E_north_east_down_nV_per_cm"`
	Season        *[3]float64 `json:"E_season_nV_per_cm" nullable:"true" doc:"x, y, z; null where the bearing of +x is not known."`
	MagnitudeNV   *float64    `json:"magnitude_nV_per_cm" nullable:"true"`
	Thresholds    *float64    `json:"thresholds" nullable:"true" doc:"How many times the threshold."`
}

// BackgroundSwim is the field that an animal makes by its own swimming, level.
type BackgroundSwim struct {
	_          struct{} `nullable:"true"`
	SpeedMPerS float64  `json:"speed_m_per_s"`
	LargestNV  *float64 `json:"largest_nV_per_cm" nullable:"true" doc:"Towards magnetic east or west."`
	SmallestNV *float64 `json:"smallest_nV_per_cm" nullable:"true" doc:"Towards magnetic north or south."`
	Thresholds *float64 `json:"thresholds" nullable:"true" doc:"The largest: how many times the threshold."`
}

// BackgroundSourceFound is one local source.
type BackgroundSourceFound struct {
	Label         string             `json:"label"`
	Kind          string             `json:"kind"`
	AtM           []float64          `json:"at_m"`
	MomentAM      *float64           `json:"moment_A_m" nullable:"true" doc:"Current times distance; of a measured field, that of the dipole that would make it along its axis."`
	MomentFrom    string             `json:"moment_from"`
	CurrentUA     *float64           `json:"current_uA" nullable:"true" doc:"Of a couple or a leak."`
	VoltageV      *float64           `json:"voltage_V" nullable:"true" doc:"Largest difference between the metals of a couple."`
	ResistanceOhm *float64           `json:"resistance_ohm" nullable:"true" doc:"Of the water between the metals of a couple."`
	Pairs         []BackgroundAtPair `json:"pairs" doc:"In the order of the specification."`
	StandoffM     *float64           `json:"standoff_m" nullable:"true" doc:"From this distance on it adds less than the limit, whatever its axis and direction. Null: it cannot be told."`
	StandoffHighM *float64           `json:"standoff_high_m" nullable:"true" doc:"The same in water that conducts two standard deviations less; null where none is stated or it makes no difference."`
	HalfSpaceM    *float64           `json:"standoff_half_space_m" nullable:"true" doc:"The same without the sea surface, from the formula alone."`
	NearestM      *float64           `json:"nearest_m" nullable:"true" doc:"Distance to the nearest pair."`
	Formula       string             `json:"formula"`
	Limits        []string           `json:"limits" doc:"Where the formula holds and where not."`
	OK            *bool              `json:"ok" nullable:"true" doc:"Whether it adds less than the limit at every pair; null where that cannot be told."`
	Verdict       string             `json:"verdict"`
}

// BackgroundAtPair is what one source, or all of them, make at one pair.
type BackgroundAtPair struct {
	Pair         string   `json:"pair"`
	DistanceM    *float64 `json:"distance_m" nullable:"true"`
	FieldNV      *float64 `json:"field_nV_per_cm" nullable:"true" doc:"The most; null where the source lies at the place itself."`
	FieldSDNV    *float64 `json:"field_sd_nV_per_cm" nullable:"true" doc:"From the water's standard deviation alone."`
	GradientNV   *float64 `json:"gradient_nV_per_cm_per_cm" nullable:"true" doc:"The most that the field changes over one cm."`
	SharePercent *float64 `json:"share_percent" nullable:"true" doc:"Of the threshold."`
	OK           *bool    `json:"ok" nullable:"true" doc:"Less than the limit."`
}

// BackgroundPairFound is all local sources at one pair: the sum of their
// magnitudes, which is the worst that they can do together.
type BackgroundPairFound struct {
	Pair         string   `json:"pair"`
	FieldNV      *float64 `json:"field_nV_per_cm" nullable:"true"`
	GradientNV   *float64 `json:"gradient_nV_per_cm_per_cm" nullable:"true"`
	SharePercent *float64 `json:"share_percent" nullable:"true" doc:"Of the threshold."`
	Largest      string   `json:"largest" doc:"Label of the source that makes most of it; empty without sources."`
	OK           *bool    `json:"ok" nullable:"true" doc:"Whether all together stay below the limit of one."`
	Verdict      string   `json:"verdict"`
}

// BackgroundSilent answers: is the silent plate silent?
type BackgroundSilent struct {
	_       struct{}              `nullable:"true"`
	LeakNA  *float64              `json:"leak_nA" nullable:"true"`
	Source  BackgroundSourceFound `json:"source"`
	Needed  *float64              `json:"needed_Mohm" nullable:"true" doc:"Insulation with which the leak would stay below the limit at every pair."`
	OK      *bool                 `json:"ok" nullable:"true"`
	Verdict string                `json:"verdict"`
}

// BackgroundMeterFound is what a reading means, both ways.
type BackgroundMeterFound struct {
	_                     struct{} `nullable:"true"`
	SPerM                 *float64 `json:"conductivity_S_per_m" nullable:"true" doc:"What the water conducts; null while it is unknown what the meter shows."`
	IfCompensated         *float64 `json:"if_compensated_S_per_m" nullable:"true"`
	IfActual              *float64 `json:"if_actual_S_per_m" nullable:"true"`
	SalinityIfCompensated *float64 `json:"salinity_if_compensated" nullable:"true" doc:"Null where it is beyond sea water."`
	SalinityIfActual      *float64 `json:"salinity_if_actual" nullable:"true"`
	TooHighPercent        *float64 `json:"conductivity_error_percent" nullable:"true" doc:"Error of the conductivity where a compensated reading is used as it is."`
	FieldErrorPercent     *float64 `json:"field_error_percent" nullable:"true" doc:"Error of every field of a known current that follows."`
	RangeErrorPercent     *float64 `json:"range_error_percent" nullable:"true" doc:"Error of every range that follows (cube root)."`
	Verdict               string   `json:"verdict"`
}
