package app

import "brinefield/core/optics"

// LocateSpec is the specification of `brinefield footage locate`. All keys are
// needed but format, port and seed.
type LocateSpec struct {
	Format    *int          `json:"format,omitempty"`
	Camera    optics.Camera `json:"camera"`
	Marks     []optics.Mark `json:"marks" doc:"At least four, at different places that are not on one line."`
	Fixes     []LocateFix   `json:"fixes"`
	ClickSDPx float64       `json:"click_sd_px" doc:"Standard deviation of a click in each direction, on marks and on fixes; 0: exact."`
	Seed      int64         `json:"seed,omitempty" doc:"Not used: nothing is left to chance here."`
}

// LocateFix is a pixel and how high above the plate it is.
type LocateFix struct {
	Pixel     [2]float64 `json:"pixel"`
	HeightM   float64    `json:"height_m"`
	HeightSDM float64    `json:"height_sd_m" doc:"0: exact."`
}

// LocateDocument is what `brinefield footage locate` prints.
type LocateDocument struct {
	Heading
	CameraCentreM           [3]float64    `json:"camera_centre_m"`
	CameraCentreCovariance  [3][3]float64 `json:"camera_centre_covariance_m2"`
	ReprojectionRMSPx       float64       `json:"reprojection_rms_px" doc:"Root mean square distance per mark."`
	SecondReprojectionRMSPx *float64      `json:"second_reprojection_rms_px" nullable:"true" doc:"Of another pose that explains the marks nearly as well; null where there is none."`
	ResidualPx              [][2]float64  `json:"residual_px" doc:"Of each mark: clicked minus expected."`
	Fixes                   []LocatedFix  `json:"fixes"`
}

// LocatedFix is where a fix is.
type LocatedFix struct {
	AtM          [3]float64    `json:"at_m"`
	CovarianceM2 [3][3]float64 `json:"covariance_m2"`
}

// ProbeDocument is what `brinefield footage probe` prints.
type ProbeDocument struct {
	Format      int          `json:"format"`
	Frames      int          `json:"frames"`
	WidthPx     int          `json:"width_px" doc:"As it is stored, before it is turned."`
	HeightPx    int          `json:"height_px" doc:"As it is stored, before it is turned."`
	Codec       string       `json:"codec"`
	RotationDeg int          `json:"rotation_deg" doc:"To be turned by, clockwise, to be upright: 0, 90, 180 or 270."`
	TimeBase    [2]int64     `json:"time_base"`
	PTS         []int64      `json:"pts"`
	Gaps        [][2]float64 `json:"gaps" doc:"From and to, seconds after the first frame."`
	SHA256      string       `json:"sha256"`
	Notes       []string     `json:"notes" doc:"What is odd about the file, such as frames that are cut off."`
}
