// Package optics turns pixels of a fixed camera into positions under water,
// with their uncertainty: a pinhole with radial and tangential distortion, a
// flat port with Snell's law, and where the camera stood, from marks at known
// places. Start with [Fit]; [Posed.Locate] then answers for a pixel and a height.
//
// Frames: the camera's is x to the right of the picture, y down, z along the
// axis, origin in the pinhole. The season's is that of the study, z up from the
// plate. Lengths are metres, pixels are counted from the centre of the top left
// one.
package optics

// Camera is a pinhole with radial-tangential distortion, as it is in air, and
// the port before it.
type Camera struct {
	WidthPx  int     `json:"width_px"`
	HeightPx int     `json:"height_px"`
	FxPx     float64 `json:"fx_px"`
	FyPx     float64 `json:"fy_px"`
	CxPx     float64 `json:"cx_px"`
	CyPx     float64 `json:"cy_px"`
	K1       float64 `json:"k1"`
	K2       float64 `json:"k2"`
	K3       float64 `json:"k3"`
	P1       float64 `json:"p1"`
	P2       float64 `json:"p2"`
	Port     *Port   `json:"port,omitempty" doc:"Absent: none, the numbers hold in the water."`
}

// Port is a flat window square to the axis.
type Port struct {
	AirGapM    float64 `json:"air_gap_m" doc:"From the pinhole to the glass."`
	GlassM     float64 `json:"glass_m"`
	GlassIndex float64 `json:"glass_index"`
	WaterIndex float64 `json:"water_index"`
}

// Mark is a place that is known, and where it is seen.
type Mark struct {
	AtM   [3]float64 `json:"at_m" doc:"In the season frame."`
	Pixel [2]float64 `json:"pixel"`
}

// Pose is where the camera is: a point p of the season is R·p + T in the camera's
// frame.
type Pose struct {
	R [3][3]float64
	T [3]float64
}

// Posed is a camera with the pose that its marks tell.
type Posed struct {
	Camera Camera
	Pose   Pose
	// Covariance of the pose: three of a small rotation (radians, about the
	// camera's axes, applied after R) and three of T (metres).
	Covariance [6][6]float64
	RMSPx      float64      // root mean square distance of the marks from where they are seen
	ResidualPx [][2]float64 // seen minus expected, per mark
	// SecondRMSPx is the root mean square of another pose that explains the marks
	// nearly as well, as it may be with flat ones; 0 where there is none.
	SecondRMSPx float64
	// Bend is how far χ², two standard deviations away from the pose, departs from
	// the parabola that Covariance stands for, as a share. Above [LooseBend] the
	// deviations are too small.
	Bend      float64
	ClickSDPx float64 // of a click, in each direction, as stated
	lens      lens    // of Camera, worked out once
}

// Position is a place in the season frame, with its covariance in m².
type Position struct {
	AtM          [3]float64
	CovarianceM2 [3][3]float64
}
