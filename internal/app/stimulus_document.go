package app

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
)

// What the page Stimulus and the command range say and are told. All of it is
// in the season frame: metres, z = 0 the plate's top face, or the bottom where
// there is no plate.

// StimulusKnobs is everything that makes the field: water, bottom, plates,
// electrodes, bodies and current.
type StimulusKnobs struct {
	Water           KnobWater       `json:"water"`
	DepthM          *float64        `json:"depth_m" nullable:"true" doc:"Depth of the bottom; null: unbounded above."`
	Bottom          KnobBottom      `json:"bottom"`
	Enclosure       *KnobEnclosure  `json:"enclosure"`
	Plates          []KnobPlate     `json:"plates"`
	TopAboveBottomM float64         `json:"top_above_bottom_m" doc:"Height of the plates' top face above the bottom; negative is buried. Ignored without plates."`
	SandOverPlateMM float64         `json:"sand_over_plate_mm" doc:"Sand over the plate's top, in mm: the bottom is raised by it."`
	CurrentUA       float64         `json:"current_uA" doc:"Peak of the waveform."`
	Pairs           []KnobPair      `json:"pairs"`
	Electrodes      []KnobElectrode `json:"electrodes"`
	ElectrodeShape  string          `json:"electrode_shape" doc:"disc or hemisphere."`
	Bodies          []KnobBody      `json:"bodies"`
	Waveform        KnobWaveform    `json:"waveform"`
}

// KnobWater states the water: a conductivity, or temperature and salinity. A
// conductivity that is given is used as it is.
type KnobWater struct {
	TemperatureC      *float64 `json:"temperature_C" nullable:"true"`
	Salinity          *float64 `json:"salinity" nullable:"true"`
	ConductivitySPerM *float64 `json:"conductivity_S_per_m" nullable:"true"`
}

// KnobBottom states what lies under the water, with the keys of study.toml.
type KnobBottom struct {
	Kind                string   `json:"kind" doc:"insulating or sediment."`
	ConductivitySPerM   *float64 `json:"conductivity_S_per_m" nullable:"true"`
	Porosity            *float64 `json:"porosity" nullable:"true"`
	CementationExponent *float64 `json:"cementation_exponent" nullable:"true"`
	ThicknessM          *float64 `json:"thickness_m" nullable:"true"`
	BasementSPerM       *float64 `json:"basement_S_per_m" nullable:"true"`
}

// KnobEnclosure is a tank: a rectangle with a size, or a circle with a diameter.
type KnobEnclosure struct {
	_         struct{}  `nullable:"true"`
	SizeM     []float64 `json:"size_m" nullable:"true"`
	DiameterM *float64  `json:"diameter_m" nullable:"true"`
	CentreM   []float64 `json:"centre_m"`
}

// KnobPlate is an insulating plate.
type KnobPlate struct {
	Shape      string    `json:"shape" doc:"rectangle or disc."`
	SizeM      []float64 `json:"size_m" nullable:"true"`
	DiameterM  *float64  `json:"diameter_m" nullable:"true"`
	ThicknessM float64   `json:"thickness_m"`
	CentreM    []float64 `json:"centre_m"`
	YawDeg     float64   `json:"yaw_deg"`
}

// KnobPair is two electrodes. Its share times the current flows through it; 0
// lies there and is silent, a negative share is reversed.
type KnobPair struct {
	Label              string    `json:"label"`
	CentreM            []float64 `json:"centre_m"`
	AzimuthDeg         float64   `json:"azimuth_deg"`
	SeparationM        float64   `json:"separation_m"`
	ElectrodeDiameterM float64   `json:"electrode_diameter_m"`
	HeightM            float64   `json:"height_m"`
	Share              float64   `json:"share"`
}

// KnobElectrode is a further single electrode.
type KnobElectrode struct {
	AtM       []float64 `json:"at_m"`
	Share     float64   `json:"share"`
	DiameterM float64   `json:"diameter_m"`
}

// KnobBody is a solid near the electrodes: insulating where S_per_m is 0,
// perfectly conducting where it is null.
type KnobBody struct {
	Shape    string    `json:"shape" doc:"box, cylinder or spheroid."`
	CentreM  []float64 `json:"centre_m"`
	SizeM    []float64 `json:"size_m" doc:"Full lengths along the body's own axes before turning; a cylinder and a spheroid: length, diameter, diameter."`
	YawDeg   float64   `json:"yaw_deg"`
	PitchDeg float64   `json:"pitch_deg"`
	SPerM    *float64  `json:"S_per_m" nullable:"true" doc:"0 insulates, null conducts perfectly."`
	Label    string    `json:"label"`
}

// KnobWaveform is the course of the current in time.
type KnobWaveform struct {
	Kind        string   `json:"kind" doc:"direct, sine, square or pulses."`
	FrequencyHz *float64 `json:"frequency_Hz" nullable:"true"`
	Duty        *float64 `json:"duty" nullable:"true" doc:"Share of the time that a pulse lasts."`
}

// StimulusUncertainty is what a season says of its own inputs, as standard
// deviations.
type StimulusUncertainty struct {
	BottomSPerMSD    *float64 `json:"bottom_S_per_m_sd" nullable:"true"`
	PositionSDCm     *float64 `json:"position_sd_cm" nullable:"true"`
	HeightSDCm       *float64 `json:"height_sd_cm" nullable:"true"`
	CurrentSDPercent *float64 `json:"current_sd_percent" nullable:"true"`
}

// StimulusStart is what the page begins with: the knobs as the study has them.
type StimulusStart struct {
	Knobs             StimulusKnobs       `json:"knobs"`
	KnobsFrom         []string            `json:"knobs_from" doc:"Sentences: where each knob was taken from."`
	ThresholdsNVPerCm []float64           `json:"thresholds_nV_per_cm"`
	Uncertainty       StimulusUncertainty `json:"uncertainty"`
	Cautions          []string            `json:"cautions"`
	Warnings          []string            `json:"warnings"`
}

// StimulusAsk is the part that most questions share.
type StimulusAsk struct {
	Knobs     StimulusKnobs `json:"knobs"`
	Form      string        `json:"form" doc:"real, endless_plate, no_plate or textbook."`
	Tolerance float64       `json:"tolerance,omitempty" doc:"Relative error asked of plates and bodies; 0 or absent: 0.01."`
}

// StimulusQuality is how an answer was worked out and how good it is.
type StimulusQuality struct {
	Form          string   `json:"form"`
	RelativeError *float64 `json:"relative_error" nullable:"true" doc:"Estimated; null for the textbook's formula, which has none."`
	Method        string   `json:"method"`
	Reached       bool     `json:"reached" doc:"Whether the tolerance asked for was reached."`
	Warnings      []string `json:"warnings"`
	TookS         float64  `json:"took_s"`
}

// SectionRequest asks for a picture of the field in one plane.
type SectionRequest struct {
	StimulusAsk
	Section SectionPlane `json:"section"`
}

// SectionPlane is a plane and its grid. Vertical: u runs along the azimuth
// through (0, 0), the plane shifted by offset_m to its left, v = z.
// Horizontal: u = x, v = y, at z = height_m. u runs half_width_m to both sides
// of middle_m.
type SectionPlane struct {
	Plane      string  `json:"plane" doc:"vertical or horizontal."`
	AzimuthDeg float64 `json:"azimuth_deg"`
	OffsetM    float64 `json:"offset_m"`
	HeightM    float64 `json:"height_m"`
	MiddleM    float64 `json:"middle_m,omitempty" doc:"u of the picture's middle."`
	HalfWidthM float64 `json:"half_width_m"`
	LowestM    float64 `json:"lowest_m"`
	HighestM   float64 `json:"highest_m"`
	Columns    int     `json:"columns"`
	Rows       int     `json:"rows"`
}

// StimulusSection is that picture.
type StimulusSection struct {
	StimulusQuality
	Columns   int     `json:"columns"`
	Rows      int     `json:"rows"`
	UM        Figures `json:"u_m"`
	VM        Figures `json:"v_m"`
	Magnitude Figures `json:"magnitude_nV_per_cm" doc:"Row by row from the lowest v; null inside plates, bodies, electrodes and insulators, and outside the water."`
}

// PointsRequest asks for the field at places.
type PointsRequest struct {
	StimulusAsk
	PointsM [][]float64 `json:"points_m"`
}

// StimulusPoints is the field at places.
type StimulusPoints struct {
	StimulusQuality
	Points []StimulusPoint `json:"points"`
}

// StimulusPoint is the field at one place. Distance and angle are from the
// centre and the axis of the driven pair of the largest share.
type StimulusPoint struct {
	PotentialV       *float64 `json:"potential_V" nullable:"true"`
	ENVPerCm         Figures  `json:"E_nV_per_cm" doc:"x, y, z."`
	MagnitudeNVPerCm *float64 `json:"magnitude_nV_per_cm" nullable:"true"`
	TextbookNVPerCm  *float64 `json:"textbook_nV_per_cm" nullable:"true"`
	DistanceCm       *float64 `json:"distance_cm" nullable:"true"`
	AngleDeg         *float64 `json:"angle_deg" nullable:"true"`
	Inside           string   `json:"inside,omitempty" doc:"Where there is no field: plate, body, electrode, outside."`
}

// RangeRequest asks how far the field reaches.
type RangeRequest struct {
	StimulusAsk
	ThresholdsNVPerCm []float64 `json:"thresholds_nV_per_cm"`
	HeightsM          []float64 `json:"heights_m"`
	Directions        int       `json:"directions,omitempty" doc:"0 or absent: 72."`
}

// StimulusRange is how far the field reaches, by threshold.
type StimulusRange struct {
	StimulusQuality
	Thresholds []ThresholdRange `json:"thresholds"`
}

// ThresholdRange is the range of one threshold.
type ThresholdRange struct {
	ThresholdNVPerCm float64       `json:"threshold_nV_per_cm"`
	Largest          *RangePlace   `json:"largest"`
	HighestM         *float64      `json:"highest_m" nullable:"true" doc:"Largest height above z = 0 at which the field is still as large."`
	Beyond           bool          `json:"beyond" doc:"It reaches beyond the distance that was looked at."`
	Heights          []HeightRange `json:"heights"`
}

// RangePlace is the place farthest from the pair's centre at which the field
// is still at least the threshold.
type RangePlace struct {
	_         struct{}  `nullable:"true"`
	DistanceM float64   `json:"distance_m"`
	AtM       []float64 `json:"at_m"`
}

// HeightRange is the range of one threshold at one height.
type HeightRange struct {
	HeightM      float64  `json:"height_m"`
	AreaM2       *float64 `json:"area_m2" nullable:"true"`
	AreaUnsureM2 *float64 `json:"area_unsure_m2" nullable:"true" doc:"About the most by which the area may be off, beyond 1 in 1000: near the edges of plates and bodies."`
	FarthestM    *float64 `json:"farthest_m" nullable:"true"`
	NearestM     *float64 `json:"nearest_m" nullable:"true"`
	ByDirectionM Figures  `json:"by_direction_m" doc:"From direction 0 (+x) anticlockwise; null where the field is below the threshold on the whole line."`
}

// TargetRequest asks which current gives a field at a place, or the field of a
// natural prey.
type TargetRequest struct {
	StimulusAsk
	Target StimulusTarget `json:"target"`
}

// StimulusTarget is a field at a place relative to the centre of the driven
// pair of the largest share. A prey's field is taken at its own distance on
// the pair's axis, at its height, where no place is given.
type StimulusTarget struct {
	NVPerCm    *float64 `json:"nV_per_cm,omitempty" nullable:"true"`
	AboveCm    *float64 `json:"above_cm,omitempty" nullable:"true"`
	BesideCm   *float64 `json:"beside_cm,omitempty" nullable:"true"`
	AzimuthDeg *float64 `json:"azimuth_deg,omitempty" nullable:"true" doc:"Direction of beside_cm, anticlockwise from +x."`
	Prey       string   `json:"prey,omitempty"`
}

// TargetAnswer is the current that each separation needs, and what the knobs
// give now.
type TargetAnswer struct {
	StimulusQuality
	TargetNVPerCm float64         `json:"target_nV_per_cm"`
	AtM           []float64       `json:"at_m"`
	Currents      []TargetCurrent `json:"currents"`
	Now           TargetNow       `json:"now"`
}

// TargetCurrent is the current of one separation; null where no current of it
// can be laid out there, and says why.
type TargetCurrent struct {
	SeparationM     float64  `json:"separation_m"`
	CurrentUA       *float64 `json:"current_uA" nullable:"true"`
	DipoleMomentNAM *float64 `json:"dipole_moment_nA_m" nullable:"true"`
	Own             bool     `json:"own" doc:"The knob's own separation."`
	Says            string   `json:"says,omitempty"`
}

// TargetNow is what the knobs give at the place.
type TargetNow struct {
	NVPerCm *float64 `json:"nV_per_cm" nullable:"true"`
}

// ErrorsRequest asks what an error of each knob does to range and field.
type ErrorsRequest struct {
	StimulusAsk
	ThresholdNVPerCm float64             `json:"threshold_nV_per_cm"`
	At               StimulusPlace       `json:"at"`
	Percent          float64             `json:"percent,omitempty" doc:"0 or absent: 10."`
	Uncertainty      StimulusUncertainty `json:"uncertainty" required:"false"`
}

// StimulusPlace is a place relative to the centre of the driven pair of the
// largest share.
type StimulusPlace struct {
	AboveCm    float64 `json:"above_cm"`
	BesideCm   float64 `json:"beside_cm"`
	AzimuthDeg float64 `json:"azimuth_deg"`
}

// StimulusErrors is the answer: rows by size of their effect on the range.
type StimulusErrors struct {
	StimulusQuality
	RangeBase *float64   `json:"range_m_base" nullable:"true"`
	FieldBase *float64   `json:"field_base" nullable:"true" doc:"nV/cm"`
	Rows      []ErrorRow `json:"rows"`
	Season    []ErrorRow `json:"season" doc:"The same with the season's own standard deviations; empty where it states none."`
}

// ErrorRow is what one knob does when it is off.
type ErrorRow struct {
	What      string   `json:"what"`
	Change    string   `json:"change"`
	RangeM    Figures  `json:"range_m" doc:"With the knob low and high; null where the field stays below the threshold."`
	Field     Figures  `json:"field_nV_per_cm" doc:"With the knob low and high."`
	RangeBase *float64 `json:"range_m_base" nullable:"true"`
	FieldBase *float64 `json:"field_base" nullable:"true"`
	Says      string   `json:"says,omitempty" doc:"Why there are no figures."`
}

// VolumeRequest asks for the field in a box round the driven pair.
type VolumeRequest struct {
	StimulusAsk
	HalfWidthM float64 `json:"half_width_m"`
	HighestM   float64 `json:"highest_m"`
	Points     []int   `json:"points" doc:"nx, ny, nz, each up to 64."`
}

// StimulusVolume is the field in that box, x fastest.
type StimulusVolume struct {
	StimulusQuality
	XM        Figures `json:"x_m"`
	YM        Figures `json:"y_m"`
	ZM        Figures `json:"z_m"`
	Magnitude Figures `json:"magnitude_nV_per_cm" doc:"nz·ny·nx numbers, x fastest; null inside."`
}

// PreyList is what is published of natural prey.
type PreyList struct {
	Prey []PreyView `json:"prey"`
}

// PreyView is one published source.
type PreyView struct {
	Name           string   `json:"name"`
	DipoleMomentAM *float64 `json:"dipole_moment_A_m" nullable:"true"`
	FieldNVPerCm   *float64 `json:"field_nV_per_cm" nullable:"true"`
	AtCm           *float64 `json:"at_cm" nullable:"true" doc:"Straight in front of the animal."`
	SurfaceUV      Figures  `json:"surface_uV" doc:"Lowest and highest potential at the body's surface; empty where none is published."`
	ModulationHz   Figures  `json:"modulation_Hz" doc:"One frequency, or lowest and highest; empty where none is published."`
	Source         string   `json:"source"`
	Note           string   `json:"note,omitempty"`
}

// WaveformRequest asks whether the field of this waveform is that of a steady
// current.
type WaveformRequest struct {
	Knobs     StimulusKnobs `json:"knobs"`
	DistanceM float64       `json:"distance_m,omitempty" doc:"0 or absent: 1 m."`
}

// WaveformAnswer says so.
type WaveformAnswer struct {
	SkinDepthM            *float64 `json:"skin_depth_m" nullable:"true" doc:"At the highest frequency that matters; null for a direct current."`
	HighestHz             *float64 `json:"highest_Hz" nullable:"true"`
	LargestRelativeChange *float64 `json:"largest_relative_change" nullable:"true"`
	StaticWithin1PercentM *float64 `json:"static_within_1_percent_to_m" nullable:"true"`
	PeakUA                *float64 `json:"peak_uA" nullable:"true"`
	RMSUA                 *float64 `json:"rms_uA" nullable:"true"`
	MeanUA                *float64 `json:"mean_uA" nullable:"true"`
	Says                  string   `json:"says"`
	Warnings              []string `json:"warnings"`
}

// Figures is a list of numbers that is written with six digits; one that is
// not a number, or is infinite, is null.
type Figures []float64

// MarshalJSON writes six digits, and null for what is no number.
func (f Figures) MarshalJSON() ([]byte, error) {
	out := make([]byte, 0, 2+9*len(f))
	out = append(out, '[')
	for i, v := range f {
		if i > 0 {
			out = append(out, ',')
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			out = append(out, "null"...)
			continue
		}
		out = appendFigure(out, v)
	}
	return append(out, ']'), nil
}

// appendFigure writes six digits in a form that JSON allows.
func appendFigure(out []byte, v float64) []byte {
	start := len(out)
	out = strconv.AppendFloat(out, v, 'g', 6, 64)
	if bytes.Equal(out[start:], []byte("-0")) {
		out = append(out[:start], '0')
	}
	return out
}

// UnmarshalJSON reads what MarshalJSON writes; null is not a number.
func (f *Figures) UnmarshalJSON(data []byte) error {
	var list []*float64
	if err := json.Unmarshal(data, &list); err != nil {
		return err
	}
	*f = make(Figures, len(list))
	for i, v := range list {
		(*f)[i] = math.NaN()
		if v != nil {
			(*f)[i] = *v
		}
	}
	return nil
}
