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
		"trial":              {textKind, true, nil, "Name of the trial."},
		"start":              {timeKind, true, nil, "Beginning; in the site's time zone, or with an offset."},
		"end":                {timeKind, true, nil, "End; in the site's time zone, or with an offset."},
		"active_pair":        {textKind, true, nil, "Label of the driven pair, several joined by +; none: a silent trial; sealed: not opened."},
		"current_uA":         {numberKind, false, nil, "Through each active pair; in a silent trial the current that would have flowed. Blank only where sealed."},
		"block":              {integerKind, false, one, "Permuted block that the trial was drawn in, from 1."},
		"plate":              {textKind, false, nil, "Label of the plate that the trial was run on."},
		"waveform":           {textKind, false, nil, "Waveform of the current."},
		"frequency_Hz":       {numberKind, false, nil, "Frequency of the current."},
		"current_before_uA":  {numberKind, false, nil, "Measured before the trial."},
		"current_after_uA":   {numberKind, false, nil, "Measured after the trial."},
		"water_S_per_m":      {numberKind, false, zero, "Conductivity of this trial's water."},
		"temperature_C":      {numberKind, false, nil, "Temperature of the water (ITS-90)."},
		"salinity":           {numberKind, false, zero, "Practical salinity (PSS-78), without a unit."},
		"tide_m":             {numberKind, false, nil, "Added to the site's depth."},
		"flow_m_per_s":       {numberKind, false, nil, "Speed of the water."},
		"flow_bearing_deg":   {numberKind, false, nil, "Bearing that the water flows to, clockwise from true north."},
		"sand_over_plate_mm": {numberKind, false, zero, "Sand over the plate's top."},
		"bait":               {textKind, false, nil, "Bait, in the study's words."},
		"odour":              {textKind, false, nil, "Odour, in the study's words."},
		"visibility_m":       {numberKind, false, zero, "Visibility under water."},
		"observers":          {textKind, false, nil, "Who observed."},
		"note":               {textKind, false, nil, "Note."},
	},
	"season/passes.csv": {
		"pass":                {textKind, true, nil, "Name of the pass."},
		"trial":               {textKind, true, nil, "Trial that it belongs to."},
		"time":                {timeKind, true, nil, "The clock at t_s = 0; in the site's time zone, or with an offset."},
		"individual":          {textKind, false, nil, "Animal recognised on sight; blank: not identified."},
		"species":             {textKind, true, nil, "Accepted scientific name."},
		"pair":                {textKind, true, nil, "Pair whose circle the head crossed first."},
		"turned":              {yesNoKind, false, nil, "yes, no; blank: not scored."},
		"bit":                 {yesNoKind, false, nil, "yes, no; blank: not scored."},
		"visit":               {textKind, false, nil, "Passes of one animal that belong together."},
		"turn_pair":           {textKind, false, nil, "Pair that it turned to; blank: its own."},
		"onset_s":             {numberKind, false, zero, "When the turn began, on the clock of the track."},
		"watched_s":           {numberKind, false, zero, "How long it was watched."},
		"bite_electrode":      {textKind, false, nil, "Electrode that was bitten."},
		"response":            {textKind, false, nil, "Response, in the study's words."},
		"height_class":        {textKind, false, nil, "Height as an eye told it on deck, in the study's words."},
		"sex":                 {textKind, false, nil, "Sex."},
		"total_length_cm":     {numberKind, false, zero, "Total length."},
		"disc_width_cm":       {numberKind, false, zero, "Disc width."},
		"animals_in_view":     {numberKind, false, zero, "Animals in view."},
		"clip":                {textKind, false, nil, "Clip of footage."},
		"scorer":              {textKind, false, nil, "Who scored it."},
		"second_scorer":       {textKind, false, nil, "Who scored it again."},
		"onset_distance_cm":   {numberKind, false, zero, "Old data: distance from the pair's centre when the turn began."},
		"onset_angle_deg":     {numberKind, false, zero, "Old data: angle to the pair's axis when the turn began."},
		"onset_height_cm":     {numberKind, false, zero, "Old data: height when the turn began."},
		"closest_distance_cm": {numberKind, false, zero, "Old data: smallest distance from the pair's centre."},
		"closest_angle_deg":   {numberKind, false, zero, "Old data: angle to the pair's axis, closest."},
		"closest_height_cm":   {numberKind, false, zero, "Old data: height, closest."},
		"note":                {textKind, false, nil, "Note."},
	},
	"season/tracks.csv": {
		"pass":           {textKind, true, nil, "Pass that the position belongs to."},
		"t_s":            {numberKind, true, zero, "Seconds since the pass began to be watched."},
		"x_cm":           {numberKind, true, nil, "x of the head in the frame of the season."},
		"y_cm":           {numberKind, true, nil, "y of the head in the frame of the season."},
		"height_cm":      {numberKind, false, zero, "Height of the head above the plate's top face, or the bottom; blank: not known."},
		"height_low_cm":  {numberKind, false, zero, "Lower bound of an unknown height."},
		"height_high_cm": {numberKind, false, zero, "Upper bound of an unknown height."},
		"point":          {textKind, false, nil, "Part of the head; blank: the study's reference point."},
	},
	"season/individuals.csv": {
		"individual":      {textKind, true, nil, "Name of the animal."},
		"species":         {textKind, true, nil, "Accepted scientific name."},
		"sex":             {textKind, false, nil, "Sex."},
		"total_length_cm": {numberKind, false, zero, "Total length."},
		"disc_width_cm":   {numberKind, false, zero, "Disc width."},
		"head_width_cm":   {numberKind, false, zero, "Head width."},
		"mark":            {textKind, false, nil, "What it is recognised by."},
		"experience":      {textKind, false, nil, "What it had met before."},
	},
	"season/clips.csv": {
		"clip":           {textKind, true, nil, "Name of the clip."},
		"file":           {textKind, true, nil, "Name of its file."},
		"start":          {timeKind, true, nil, "Clock of its camera at the first frame."},
		"clock_offset_s": {numberKind, false, nil, "Added to the camera's clock."},
		"drift_ppm":      {numberKind, false, nil, "Drift of the camera's clock."},
		"frame_rate":     {numberKind, false, zero, "Frames per second."},
	},
	"season/water.csv": castFields,
	"study/fixes.csv": {
		"pass":           {textKind, true, nil, "Pass."},
		"clip":           {textKind, false, nil, "Clip."},
		"point":          {textKind, false, nil, "Part of the head; blank: the study's reference point."},
		"frame":          {integerKind, false, zero, "Frame of the clip, from 0."},
		"clip_s":         {numberKind, false, nil, "Time in the clip."},
		"t_s":            {numberKind, false, nil, "Time on the track's clock."},
		"x_px":           {numberKind, false, nil, "Column in the picture; 0 is the centre of the top left pixel."},
		"y_px":           {numberKind, false, nil, "Row in the picture."},
		"how":            {textKind, false, nil, "How it was marked: placed, carried or filled."},
		"by":             {textKind, false, nil, "Who marked it."},
		"x_cm":           {numberKind, false, nil, "x in the frame of the season."},
		"y_cm":           {numberKind, false, nil, "y in the frame of the season."},
		"height_cm":      {numberKind, false, nil, "Height that it was placed with."},
		"height_low_cm":  {numberKind, false, nil, "Lower bound of its height."},
		"height_high_cm": {numberKind, false, nil, "Upper bound of its height."},
		"sd_cm":          {numberKind, false, zero, "Standard deviation in the plane, in one direction."},
		"cov_xx_cm2":     {numberKind, false, nil, "Covariance."},
		"cov_xy_cm2":     {numberKind, false, nil, "Covariance."},
		"cov_xz_cm2":     {numberKind, false, nil, "Covariance."},
		"cov_yy_cm2":     {numberKind, false, nil, "Covariance."},
		"cov_yz_cm2":     {numberKind, false, nil, "Covariance."},
		"cov_zz_cm2":     {numberKind, false, nil, "Covariance."},
		"why_no_place":   {textKind, false, nil, "Why it has no place."},
	},
	"study/changed-after-opening.csv": {
		"kind":   {textKind, false, nil, "What kind of record."},
		"id":     {textKind, false, nil, "Its name."},
		"trial":  {textKind, false, nil, "Trial that it belongs to."},
		"field":  {textKind, false, nil, "Which field."},
		"from":   {textKind, false, nil, "Value before."},
		"to":     {textKind, false, nil, "Value after."},
		"when":   {textKind, false, nil, "When it was written."},
		"by":     {textKind, false, nil, "By whom."},
		"reason": {textKind, false, nil, "Why."},
		"entry":  {textKind, false, nil, "Entry of the journal."},
		"made":   {textKind, false, nil, "When the entry was made."},
	},
	CastTable: {
		"cast":                 {integerKind, true, one, "Number of the cast, from 1 in order of its time of first reading."},
		"time":                 {timeKind, true, nil, "Time of the cast."},
		"depth_m":              {numberKind, true, zero, "Depth below the surface."},
		"temperature_C":        {numberKind, false, nil, "sea_water_temperature (ITS-90)."},
		"salinity":             {numberKind, false, zero, "sea_water_practical_salinity (PSS-78), without a unit."},
		"conductivity_S_per_m": {numberKind, false, zero, "sea_water_electrical_conductivity."},
	},
}

var castFields = map[string]knownField{
	"time":                 {timeKind, true, nil, "Time of the reading."},
	"depth_m":              {numberKind, true, zero, "Depth below the surface."},
	"temperature_C":        {numberKind, false, nil, "Temperature of the water (ITS-90)."},
	"salinity":             {numberKind, false, zero, "Practical salinity (PSS-78), without a unit."},
	"conductivity_S_per_m": {numberKind, false, zero, "Conductivity of the water."},
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
