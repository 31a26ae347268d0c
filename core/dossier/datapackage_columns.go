package dossier

import "strings"

// knownField is one column of a file that the program itself writes but this room
// may not read the rules of: the season folder and what lies beside it.
type knownField struct {
	kind     columnKind
	required bool // no cell is blank
	least    *float64
	what     string
}

// knownFields are the columns of docs/formats/season.md and of what an export puts
// beside a season, by file. A column that stands in none is described by its cells.
var knownFields = map[string]map[string]knownField{
	"season/trials.csv": {
		"trial":              {textColumn, true, nil, "Name of the trial."},
		"start":              {timeColumn, true, nil, "Beginning; in the site's time zone, or with an offset."},
		"end":                {timeColumn, true, nil, "End; in the site's time zone, or with an offset."},
		"active_pair":        {textColumn, true, nil, "Label of the driven pair, several joined by +; none: a silent trial; sealed: not opened."},
		"current_uA":         {numberColumn, false, nil, "Through each active pair; in a silent trial the current that would have flowed. Blank only where sealed."},
		"block":              {integerColumn, false, one, "Permuted block that the trial was drawn in, from 1."},
		"plate":              {textColumn, false, nil, "Label of the plate that the trial was run on."},
		"waveform":           {textColumn, false, nil, "Waveform of the current."},
		"frequency_Hz":       {numberColumn, false, nil, "Frequency of the current."},
		"current_before_uA":  {numberColumn, false, nil, "Measured before the trial."},
		"current_after_uA":   {numberColumn, false, nil, "Measured after the trial."},
		"water_S_per_m":      {numberColumn, false, zero, "Conductivity of this trial's water."},
		"temperature_C":      {numberColumn, false, nil, "Temperature of the water (ITS-90)."},
		"salinity":           {numberColumn, false, zero, "Practical salinity (PSS-78), without a unit."},
		"tide_m":             {numberColumn, false, nil, "Added to the site's depth."},
		"flow_m_per_s":       {numberColumn, false, nil, "Speed of the water."},
		"flow_bearing_deg":   {numberColumn, false, nil, "Bearing that the water flows to, clockwise from true north."},
		"sand_over_plate_mm": {numberColumn, false, zero, "Sand over the plate's top."},
		"bait":               {textColumn, false, nil, "Bait, in the study's words."},
		"odour":              {textColumn, false, nil, "Odour, in the study's words."},
		"visibility_m":       {numberColumn, false, zero, "Visibility under water."},
		"observers":          {textColumn, false, nil, "Who observed."},
		"note":               {textColumn, false, nil, "Note."},
	},
	"season/passes.csv": {
		"pass":                {textColumn, true, nil, "Name of the pass."},
		"trial":               {textColumn, true, nil, "Trial that it belongs to."},
		"time":                {timeColumn, true, nil, "The clock at t_s = 0; in the site's time zone, or with an offset."},
		"individual":          {textColumn, false, nil, "Animal recognised on sight; blank: not identified."},
		"species":             {textColumn, true, nil, "Accepted scientific name."},
		"pair":                {textColumn, true, nil, "Pair whose circle the head crossed first."},
		"turned":              {yesNoColumn, false, nil, "yes, no; blank: not scored."},
		"bit":                 {yesNoColumn, false, nil, "yes, no; blank: not scored."},
		"visit":               {textColumn, false, nil, "Passes of one animal that belong together."},
		"turn_pair":           {textColumn, false, nil, "Pair that it turned to; blank: its own."},
		"onset_s":             {numberColumn, false, zero, "When the turn began, on the clock of the track."},
		"watched_s":           {numberColumn, false, zero, "How long it was watched."},
		"bite_electrode":      {textColumn, false, nil, "Electrode that was bitten."},
		"response":            {textColumn, false, nil, "Response, in the study's words."},
		"height_class":        {textColumn, false, nil, "Height as an eye told it on deck, in the study's words."},
		"sex":                 {textColumn, false, nil, "Sex."},
		"total_length_cm":     {numberColumn, false, zero, "Total length."},
		"disc_width_cm":       {numberColumn, false, zero, "Disc width."},
		"animals_in_view":     {numberColumn, false, zero, "Animals in view."},
		"clip":                {textColumn, false, nil, "Clip of footage."},
		"scorer":              {textColumn, false, nil, "Who scored it."},
		"second_scorer":       {textColumn, false, nil, "Who scored it again."},
		"onset_distance_cm":   {numberColumn, false, zero, "Old data: distance from the pair's centre when the turn began."},
		"onset_angle_deg":     {numberColumn, false, zero, "Old data: angle to the pair's axis when the turn began."},
		"onset_height_cm":     {numberColumn, false, zero, "Old data: height when the turn began."},
		"closest_distance_cm": {numberColumn, false, zero, "Old data: smallest distance from the pair's centre."},
		"closest_angle_deg":   {numberColumn, false, zero, "Old data: angle to the pair's axis, closest."},
		"closest_height_cm":   {numberColumn, false, zero, "Old data: height, closest."},
		"note":                {textColumn, false, nil, "Note."},
	},
	"season/tracks.csv": {
		"pass":           {textColumn, true, nil, "Pass that the position belongs to."},
		"t_s":            {numberColumn, true, zero, "Seconds since the pass began to be watched."},
		"x_cm":           {numberColumn, true, nil, "x of the head in the frame of the season."},
		"y_cm":           {numberColumn, true, nil, "y of the head in the frame of the season."},
		"height_cm":      {numberColumn, false, zero, "Height of the head above the plate's top face, or the bottom; blank: not known."},
		"height_low_cm":  {numberColumn, false, zero, "Lower bound of an unknown height."},
		"height_high_cm": {numberColumn, false, zero, "Upper bound of an unknown height."},
		"point":          {textColumn, false, nil, "Part of the head; blank: the study's reference point."},
	},
	"season/individuals.csv": {
		"individual":      {textColumn, true, nil, "Name of the animal."},
		"species":         {textColumn, true, nil, "Accepted scientific name."},
		"sex":             {textColumn, false, nil, "Sex."},
		"total_length_cm": {numberColumn, false, zero, "Total length."},
		"disc_width_cm":   {numberColumn, false, zero, "Disc width."},
		"head_width_cm":   {numberColumn, false, zero, "Head width."},
		"mark":            {textColumn, false, nil, "What it is recognised by."},
		"experience":      {textColumn, false, nil, "What it had met before."},
	},
	"season/clips.csv": {
		"clip":           {textColumn, true, nil, "Name of the clip."},
		"file":           {textColumn, true, nil, "Name of its file."},
		"start":          {timeColumn, true, nil, "Clock of its camera at the first frame."},
		"clock_offset_s": {numberColumn, false, nil, "Added to the camera's clock."},
		"drift_ppm":      {numberColumn, false, nil, "Drift of the camera's clock."},
		"frame_rate":     {numberColumn, false, zero, "Frames per second."},
	},
	"season/water.csv": castFields,
	"study/fixes.csv": {
		"pass":           {textColumn, true, nil, "Pass."},
		"clip":           {textColumn, false, nil, "Clip."},
		"point":          {textColumn, false, nil, "Part of the head; blank: the study's reference point."},
		"frame":          {integerColumn, false, zero, "Frame of the clip, from 0."},
		"clip_s":         {numberColumn, false, nil, "Time in the clip."},
		"t_s":            {numberColumn, false, nil, "Time on the track's clock."},
		"x_px":           {numberColumn, false, nil, "Column in the picture; 0 is the centre of the top left pixel."},
		"y_px":           {numberColumn, false, nil, "Row in the picture."},
		"how":            {textColumn, false, nil, "How it was marked: placed, carried or filled."},
		"by":             {textColumn, false, nil, "Who marked it."},
		"x_cm":           {numberColumn, false, nil, "x in the frame of the season."},
		"y_cm":           {numberColumn, false, nil, "y in the frame of the season."},
		"height_cm":      {numberColumn, false, nil, "Height that it was placed with."},
		"height_low_cm":  {numberColumn, false, nil, "Lower bound of its height."},
		"height_high_cm": {numberColumn, false, nil, "Upper bound of its height."},
		"sd_cm":          {numberColumn, false, zero, "Standard deviation in the plane, in one direction."},
		"cov_xx_cm2":     {numberColumn, false, nil, "Covariance."},
		"cov_xy_cm2":     {numberColumn, false, nil, "Covariance."},
		"cov_xz_cm2":     {numberColumn, false, nil, "Covariance."},
		"cov_yy_cm2":     {numberColumn, false, nil, "Covariance."},
		"cov_yz_cm2":     {numberColumn, false, nil, "Covariance."},
		"cov_zz_cm2":     {numberColumn, false, nil, "Covariance."},
		"why_no_place":   {textColumn, false, nil, "Why it has no place."},
	},
	"study/changed-after-opening.csv": {
		"kind":   {textColumn, false, nil, "What kind of record."},
		"id":     {textColumn, false, nil, "Its name."},
		"trial":  {textColumn, false, nil, "Trial that it belongs to."},
		"field":  {textColumn, false, nil, "Which field."},
		"from":   {textColumn, false, nil, "Value before."},
		"to":     {textColumn, false, nil, "Value after."},
		"when":   {textColumn, false, nil, "When it was written."},
		"by":     {textColumn, false, nil, "By whom."},
		"reason": {textColumn, false, nil, "Why."},
		"entry":  {textColumn, false, nil, "Entry of the journal."},
		"made":   {textColumn, false, nil, "When the entry was made."},
	},
	CastTable: {
		"cast":                 {integerColumn, true, one, "Number of the cast, from 1 in order of its time of first reading."},
		"time":                 {timeColumn, true, nil, "Time of the cast."},
		"depth_m":              {numberColumn, true, zero, "Depth below the surface."},
		"temperature_C":        {numberColumn, false, nil, "sea_water_temperature (ITS-90)."},
		"salinity":             {numberColumn, false, zero, "sea_water_practical_salinity (PSS-78), without a unit."},
		"conductivity_S_per_m": {numberColumn, false, zero, "sea_water_electrical_conductivity."},
	},
}

var castFields = map[string]knownField{
	"time":                 {timeColumn, true, nil, "Time of the reading."},
	"depth_m":              {numberColumn, true, zero, "Depth below the surface."},
	"temperature_C":        {numberColumn, false, nil, "Temperature of the water (ITS-90)."},
	"salinity":             {numberColumn, false, zero, "Practical salinity (PSS-78), without a unit."},
	"conductivity_S_per_m": {numberColumn, false, zero, "Conductivity of the water."},
}

// tableKeys are the columns that name a row, by file. They are stated where they do.
var tableKeys = map[string][]string{
	"season/trials.csv":         {"trial"},
	"season/passes.csv":         {"pass"},
	"season/individuals.csv":    {"individual"},
	"season/clips.csv":          {"clip"},
	"tables/passes.csv":         {"pass"},
	"tables/trials.csv":         {"trial"},
	"tables/individuals.csv":    {"individual"},
	"tables/preference.csv":     {"species"},
	"tables/detection.csv":      {"species"},
	"tables/descriptive.csv":    {"species"},
	"tables/thresholds.csv":     {"species", "model"},
	"tables/sensitivity.csv":    {"species", "reaction_time_s"},
	darwinFolder + eventTable:   {"eventID"},
	darwinFolder + occurTable:   {"occurrenceID"},
	darwinFolder + measureTable: {"measurementID"},
}

// tableLinks are columns whose cells stand in a column of another file, or are
// blank. They are stated where they do.
var tableLinks = []struct{ file, column, to, key string }{
	{"season/passes.csv", "trial", "season/trials.csv", "trial"},
	{"season/tracks.csv", "pass", "season/passes.csv", "pass"},
	{"season/passes.csv", "individual", "season/individuals.csv", "individual"},
	{"season/passes.csv", "clip", "season/clips.csv", "clip"},
	{"study/fixes.csv", "pass", "season/passes.csv", "pass"},
	{"tables/passes.csv", "pass", "season/passes.csv", "pass"},
	{"tables/passes.csv", "trial", "tables/trials.csv", "trial"},
	{"tables/trials.csv", "trial", "season/trials.csv", "trial"},
	{darwinFolder + eventTable, "parentEventID", darwinFolder + eventTable, "eventID"},
	{darwinFolder + occurTable, "eventID", darwinFolder + eventTable, "eventID"},
	{darwinFolder + measureTable, "eventID", darwinFolder + eventTable, "eventID"},
	{darwinFolder + measureTable, "occurrenceID", darwinFolder + occurTable, "occurrenceID"},
}

// whatOfColumn is one sentence on a column that is described nowhere else.
func whatOfColumn(name string) string { return strings.ReplaceAll(name, "_", " ") + "." }
