package app

import "brinefield/core/optics"

// FootageView is what the page Footage begins with. It holds nothing that tells
// which pair was active.
type FootageView struct {
	ReadOnly      bool                 `json:"read_only"`
	Blind         bool                 `json:"blind"`
	Locked        bool                 `json:"locked" doc:"Scoring is locked: fixes are shown, and not changed."`
	Position      int64                `json:"position" doc:"Of the journal."`
	Tools         MediaTools           `json:"tools"`
	Clips         []FootageClip        `json:"clips"`
	Cameras       []FootageCamera      `json:"cameras"`
	Passes        []FootagePass        `json:"passes" doc:"In the season's order."`
	KnownMarks    []FootageKnownMark   `json:"known_marks" doc:"Places that the study states: electrodes, and corners of plates."`
	Points        []FootagePoint       `json:"points" doc:"What can be fixed on an animal, in their order."`
	HeightClasses []FootageHeightClass `json:"height_classes"`
	FixSDCm       *float64             `json:"fix_sd_cm" nullable:"true" doc:"Of the study's analysis; null: it smooths nothing."`
	Jobs          []FootageJob         `json:"jobs" doc:"At work, waiting, or failed and not dismissed."`
}

// MediaTools says whether ffmpeg and ffprobe are there.
type MediaTools struct {
	Found   bool   `json:"found"`
	Version string `json:"version"`
	Why     string `json:"why" doc:"What is missing, and what works without it; empty where nothing is."`
	Remedy  string `json:"remedy" doc:"How to get it."`
}

// FootageClip is one recording: one file, or the chapters that a camera split it
// into, in order.
type FootageClip struct {
	Clip        string           `json:"clip"`
	ETag        string           `json:"etag" doc:"Of what is stated of the clip: sent back when that is changed."`
	Start       string           `json:"start" doc:"Of its first frame by the camera's clock, RFC 3339; empty: not stated."`
	OffsetS     *float64         `json:"clock_offset_s" nullable:"true" doc:"To be added to the camera's clock."`
	DriftPPM    *float64         `json:"drift_ppm" nullable:"true"`
	WidthPx     int              `json:"width_px" doc:"As it is shown, turned upright; 0: not looked into yet."`
	HeightPx    int              `json:"height_px"`
	Codec       string           `json:"codec"`
	RotationDeg int              `json:"rotation_deg"`
	Frames      int              `json:"frames"`
	DurationS   float64          `json:"duration_s"`
	FrameRateHz *float64         `json:"frame_rate_Hz" nullable:"true" doc:"Of the median interval."`
	Variable    bool             `json:"variable" doc:"The intervals between frames differ."`
	Gaps        [][2]float64     `json:"gaps" doc:"From and to, seconds of the clip."`
	Chapters    []FootageChapter `json:"chapters"`
	Notes       []string         `json:"notes"`
	Sync        []FootageSync    `json:"sync" doc:"Events that were seen in the clip and on a clock."`
	Poses       []FootagePose    `json:"poses" doc:"In order of their first frame."`
	Passes      []string         `json:"passes" doc:"That name this clip, or fall into its time by the clock."`
}

// FootageChapter is one file of a clip.
type FootageChapter struct {
	Name      string     `json:"name"`
	SHA256    string     `json:"sha256"`
	Bytes     int64      `json:"bytes"`
	Frames    int        `json:"frames"`
	FromFrame int        `json:"from_frame" doc:"Counted through the clip."`
	FromS     float64    `json:"from_s" doc:"Seconds of the clip."`
	Place     string     `json:"place" enum:"copy,reference,missing,changed" doc:"Where the file is on this laptop: copied into the study, where it was, or neither."`
	Proxy     MediaProxy `json:"proxy"`
}

// MediaProxy is the small copy of a chapter that a browser can step through.
type MediaProxy struct {
	State string  `json:"state" enum:"none,waiting,running,ready,failed"`
	Done  float64 `json:"done" doc:"0 to 1."`
	Why   string  `json:"why" doc:"Why it is needed, or why it failed."`
}

// FootageJob is long work on footage.
type FootageJob struct {
	ID    string  `json:"id"`
	What  string  `json:"what" enum:"import,proxy,check,find" doc:"Files made into a clip, a small copy made, a file read again because it was written since, a missing file looked for."`
	Clip  string  `json:"clip"`
	File  string  `json:"file"`
	State string  `json:"state" enum:"waiting,running,failed"`
	Stage string  `json:"stage" doc:"In words."`
	Done  float64 `json:"done" doc:"0 to 1."`
	Why   string  `json:"why" doc:"Of a failure."`
}

// FootageSync is an event that was seen in the clip and on the trial's clock.
type FootageSync struct {
	Frame     int      `json:"frame"`
	ClipS     float64  `json:"clip_s"`
	Clock     string   `json:"clock" doc:"RFC 3339."`
	What      string   `json:"what" doc:"Such as: torch switched on."`
	ResidualS *float64 `json:"residual_s" nullable:"true" doc:"Of the line through all events; null where there is one."`
}

// FootageCamera is a camera of the study.
type FootageCamera struct {
	ID   string        `json:"id"`
	ETag string        `json:"etag"`
	Spec optics.Camera `json:"spec"`
	Note string        `json:"note" doc:"Such as: how it was calibrated."`
	Used int           `json:"used" doc:"Poses that name it."`
}

// FootageKnownMark is a place that the study states.
type FootageKnownMark struct {
	Name string     `json:"name"`
	AtM  [3]float64 `json:"at_m"`
}

// FootagePoseMark is a mark as it was clicked.
type FootagePoseMark struct {
	Name  string     `json:"name"`
	AtM   [3]float64 `json:"at_m"`
	Pixel [2]float64 `json:"pixel"`
}

// FootagePoseSpec is what a pose is made of.
type FootagePoseSpec struct {
	FromFrame int               `json:"from_frame" doc:"The first frame that it holds for; it holds until the next."`
	Camera    string            `json:"camera"`
	ClickSDPx float64           `json:"click_sd_px"`
	Marks     []FootagePoseMark `json:"marks"`
	Note      string            `json:"note" doc:"Such as: knocked by a ray."`
}

// FootagePose is a pose with what comes of it.
type FootagePose struct {
	FootagePoseSpec
	Why        string            `json:"why" doc:"Why there is none; empty where there is."`
	CentreM    *[3]float64       `json:"camera_centre_m" nullable:"true"`
	CentreSDM  *[3]float64       `json:"camera_centre_sd_m" nullable:"true"`
	TiltDeg    *float64          `json:"tilt_deg" nullable:"true" doc:"Of the axis from straight down."`
	RMSPx      *float64          `json:"reprojection_rms_px" nullable:"true"`
	ResidualPx [][2]float64      `json:"residual_px" doc:"Seen minus expected, per mark; empty where there is no pose."`
	ExpectedPx []FootagePoseMark `json:"expected" doc:"Where the marks and all known marks in the picture should be seen."`
	GroundSDCm *float64          `json:"ground_sd_cm" nullable:"true" doc:"Of a fix on the plate in the middle of the marks, one direction."`
	Notes      []string          `json:"notes"`
	Sight      *FootageSight     `json:"sight,omitempty" doc:"What the camera sees of the plane of the plate; absent where there is no pose."`
}

// FootagePass is a pass as the page lists it.
type FootagePass struct {
	Pass       string   `json:"pass"`
	Trial      string   `json:"trial"`
	Time       string   `json:"time"`
	Individual string   `json:"individual"`
	Species    string   `json:"species"`
	Pair       string   `json:"pair"`
	Clip       string   `json:"clip" doc:"That it names."`
	StartFrame *int     `json:"start_frame" nullable:"true" doc:"As it was fixed, else where its time falls in its clip."`
	EndFrame   *int     `json:"end_frame" nullable:"true"`
	Fixes      int      `json:"fixes" doc:"Measured in footage."`
	Track      int      `json:"track" doc:"Rows of the track that stands."`
	Turned     string   `json:"turned"`
	OnsetS     *float64 `json:"onset_s" nullable:"true"`
	// What is written down of the animal's size: heights can be measured by it.
	HeadWidthCm   *float64 `json:"head_width_cm" nullable:"true" doc:"Of its individual."`
	TotalLengthCm *float64 `json:"total_length_cm" nullable:"true" doc:"Of the pass, else of its individual."`
}

// FootagePoint is something on an animal that can be fixed.
type FootagePoint struct {
	Name  string `json:"name"`
	Track bool   `json:"track" doc:"It becomes a part of the track; the others only measure."`
}

// FootageHeightClass is a height that an eye can tell.
type FootageHeightClass struct {
	Name   string  `json:"name"`
	LowCm  float64 `json:"low_cm"`
	HighCm float64 `json:"high_cm"`
}

// FootageHeights says where the heights of a pass come from.
type FootageHeights struct {
	How      string   `json:"how" enum:"class,limits,head width,body length" doc:"What holds where a fix states none of its own."`
	Class    string   `json:"class"`
	LowCm    *float64 `json:"low_cm" nullable:"true"`
	HighCm   *float64 `json:"high_cm" nullable:"true"`
	LengthCm *float64 `json:"length_cm" nullable:"true" doc:"Head width or body length."`
	SDCm     *float64 `json:"sd_cm" nullable:"true" doc:"Of that length."`
}

// FootageFix is a point of an animal in a frame.
type FootageFix struct {
	Point        string     `json:"point"`
	Frame        int        `json:"frame" doc:"Counted through the clip, from 0."`
	Pixel        [2]float64 `json:"pixel" doc:"Of the picture as it is shown, upright."`
	How          string     `json:"how" enum:"placed,carried,filled" doc:"By a person, by the program from frame to frame, or in between two others. Whatever pixel is sent of a filled one, it is worked out anew from the placed and carried ones of its point round it; without one on both sides it is left out."`
	By           string     `json:"by" doc:"Who placed it, or had it carried or filled."`
	HeightLowCm  *float64   `json:"height_low_cm" nullable:"true" doc:"Stated for this fix; null: what holds for the pass."`
	HeightHighCm *float64   `json:"height_high_cm" nullable:"true"`
}

// FootageLocated is a fix with where it is.
type FootageLocated struct {
	FootageFix
	ClipS    float64        `json:"clip_s"`
	TS       *float64       `json:"t_s" nullable:"true" doc:"Since the pass began to be watched."`
	Why      string         `json:"why" doc:"Why it has no place; empty where it has."`
	XCm      *float64       `json:"x_cm" nullable:"true"`
	YCm      *float64       `json:"y_cm" nullable:"true"`
	HeightCm *float64       `json:"height_cm" nullable:"true"`
	LowCm    *float64       `json:"low_cm" nullable:"true" doc:"Limits of the height."`
	HighCm   *float64       `json:"high_cm" nullable:"true"`
	SDCm     *float64       `json:"sd_cm" nullable:"true" doc:"In the plane, one direction, of click and pose alone."`
	CovCm2   *[3][3]float64 `json:"covariance_cm2" nullable:"true" doc:"Of click, pose and height."`
}

// FootagePassView is a pass as it was measured in a clip.
type FootagePassView struct {
	Pass         string           `json:"pass"`
	Clip         string           `json:"clip"`
	ETag         string           `json:"etag"`
	StartFrame   *int             `json:"start_frame" nullable:"true" doc:"When it began to be watched: t_s = 0."`
	OnsetFrame   *int             `json:"onset_frame" nullable:"true" doc:"The first frame of the turn."`
	EndFrame     *int             `json:"end_frame" nullable:"true" doc:"The last that was watched."`
	Heights      FootageHeights   `json:"heights"`
	Fixes        []FootageLocated `json:"fixes" doc:"By frame, then by point."`
	Track        []TrackPoint     `json:"track" doc:"Dense, with the field met and the phantom field, or the phantom field of each µA while the trial is sealed."`
	TrackWhy     string           `json:"track_why" doc:"Why there is no track or no field; empty where there is."`
	FieldPending bool             `json:"field_pending" doc:"The field is being worked out for the first time: ask again in a second or two."`
	FixSDCm      *float64         `json:"suggested_fix_sd_cm" nullable:"true" doc:"Root mean square of sd_cm: what fix_sd_cm of the analysis could be."`
	Notes        []string         `json:"notes"`
	Saved        bool             `json:"saved" doc:"This is what stands in the study."`
	OtherTrack   bool             `json:"other_track" doc:"A track stands in the season that was not measured here: it is replaced only where the request says so."`
}

// FootageFrames are the times of every frame of a clip, chapter after chapter.
type FootageFrames struct {
	Clip     string                 `json:"clip"`
	Chapters []FootageChapterFrames `json:"chapters"`
}

// FootageChapterFrames are the presentation times of the frames of one file.
type FootageChapterFrames struct {
	TimeBase  [2]int64   `json:"time_base"`
	First     int64      `json:"first" doc:"Presentation time of the first frame, units of the file."`
	Runs      [][2]int64 `json:"runs" doc:"Interval and how often it follows itself."`
	Keyframes []int      `json:"keyframes" doc:"Frames of the file from which a decoder can start."`
	FromFrame int        `json:"from_frame"`
	FromS     float64    `json:"from_s" doc:"Seconds of the clip at its first frame."`
}

// FootageLook is a folder of this laptop, for choosing files.
type FootageLook struct {
	Folder  string        `json:"folder"`
	Up      string        `json:"up" doc:"The folder above; empty at the top."`
	Folders []string      `json:"folders" doc:"Names in it."`
	Files   []FootageFile `json:"files"`
	Places  []string      `json:"places" doc:"Folders to begin from: home, videos, cards and drives."`
	Notes   []string      `json:"notes" doc:"What is left out, and why."`
}

// FootageFile is a file that may be footage.
type FootageFile struct {
	Name     string `json:"name"`
	Path     string `json:"path"`
	Bytes    int64  `json:"bytes"`
	Modified string `json:"modified"`
	Clip     string `json:"clip" doc:"That it is a part of already; empty: none."`
}

// FootageLookRequest asks for a folder; "" is where footage usually is.
type FootageLookRequest struct {
	Folder string `json:"folder"`
}

// FootageImportRequest makes a clip of files, in order.
type FootageImportRequest struct {
	Author string   `json:"author"`
	Clip   string   `json:"clip" doc:"Its name; empty: that of the first file. A clip that the season names already gets its files."`
	Files  []string `json:"files" doc:"Paths on this laptop, or names that an upload gave."`
	Copy   bool     `json:"copy" doc:"Into the study, so that it goes into backups; else the files are read where they are."`
	Start  string   `json:"start" doc:"Of the first frame by the camera's clock, RFC 3339; empty: what the file says, if it says."`
}

// FootageStopRequest ends or dismisses a job.
type FootageStopRequest struct {
	Job string `json:"job"`
}

// FootageProxyRequest asks for proxies of a clip, though a browser may not need them.
type FootageProxyRequest struct {
	Clip string `json:"clip"`
}

// FootageFindRequest says where a file that is missing is now.
type FootageFindRequest struct {
	Clip string `json:"clip"`
	Path string `json:"path" doc:"Of the file, or of a folder in which to look for all that are missing; checked by hash."`
}

// FootageSyncRequest states all events of a clip anew.
type FootageSyncRequest struct {
	Author string         `json:"author"`
	Clip   string         `json:"clip"`
	ETag   string         `json:"etag"`
	Start  string         `json:"start" doc:"Of the first frame by the camera's clock."`
	Events []FootageEvent `json:"events"`
}

// FootageEvent is an event that was seen in the clip and on the trial's clock.
type FootageEvent struct {
	Frame int    `json:"frame"`
	Clock string `json:"clock"`
	What  string `json:"what"`
}

// FootagePoseRequest states all poses of a clip anew, or tries them.
type FootagePoseRequest struct {
	Author string             `json:"author"`
	Clip   string             `json:"clip"`
	ETag   string             `json:"etag"`
	Poses  []FootagePoseSpec  `json:"poses"`
	Save   bool               `json:"save"`
	Ghosts []FootageKnownMark `json:"ghosts,omitempty" doc:"Places that were not clicked: where they should be seen is answered with the expected marks. Never kept."`
}

// FootagePoses is what comes of poses.
type FootagePoses struct {
	Clip  string        `json:"clip"`
	ETag  string        `json:"etag"`
	Poses []FootagePose `json:"poses"`
	Saved bool          `json:"saved"`
}

// FootageCameraRequest states a camera, or withdraws it.
type FootageCameraRequest struct {
	Author string        `json:"author"`
	ID     string        `json:"id"`
	ETag   string        `json:"etag" doc:"Empty for a new one."`
	Spec   optics.Camera `json:"spec"`
	Note   string        `json:"note"`
	Remove bool          `json:"remove"`
}

// FootageFixesRequest states everything that was measured of a pass anew, or tries
// it.
type FootageFixesRequest struct {
	Author     string         `json:"author"`
	Pass       string         `json:"pass"`
	Clip       string         `json:"clip"`
	ETag       string         `json:"etag"`
	StartFrame *int           `json:"start_frame" nullable:"true"`
	OnsetFrame *int           `json:"onset_frame" nullable:"true"`
	EndFrame   *int           `json:"end_frame" nullable:"true"`
	Heights    FootageHeights `json:"heights"`
	Fixes      []FootageFix   `json:"fixes"`
	Save       bool           `json:"save"`
	Replace    bool           `json:"replace_track,omitempty" doc:"A track that was not measured here may be replaced."`
}
