package app

import "brinefield/core/optics"

// LocateSpec is the specification of `brinefield footage locate`.
type LocateSpec struct {
	Camera    optics.Camera `json:"camera"`
	Marks     []optics.Mark `json:"marks"`
	Fixes     []LocateFix   `json:"fixes"`
	ClickSDPx float64       `json:"click_sd_px"`
	Seed      int64         `json:"seed"`
}

// LocateFix is a pixel and how high above the plate it is.
type LocateFix struct {
	Pixel     [2]float64 `json:"pixel"`
	HeightM   float64    `json:"height_m"`
	HeightSDM float64    `json:"height_sd_m" doc:"0: exact."`
}

// LocateDocument is what `brinefield footage locate` prints.
type LocateDocument struct {
	Format            int          `json:"format"`
	CameraCentreM     [3]float64   `json:"camera_centre_m"`
	ReprojectionRMSPx float64      `json:"reprojection_rms_px"`
	Fixes             []LocatedFix `json:"fixes"`
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
	WidthPx     int          `json:"width_px"`
	HeightPx    int          `json:"height_px"`
	Codec       string       `json:"codec"`
	RotationDeg int          `json:"rotation_deg"`
	TimeBase    [2]int64     `json:"time_base"`
	PTS         []int64      `json:"pts"`
	Gaps        [][2]float64 `json:"gaps"`
	SHA256      string       `json:"sha256"`
}
