package season

import (
	"slices"
	"strconv"
	"strings"

	"brinefield/core/study"
)

// Field is something that a record of a kind may hold.
type Field struct {
	Name     string // with its unit, as the season folder calls it
	Optional bool   // may be blank; what stands in its place, or beside it, the reader tells
	Guarded  bool   // tells, or helps to tell, which pair was active
}

// FieldsOf lists the fields that a kind of [study.SeasonKinds] may hold, in
// canonical order: those of a record's Fields, and of a cast and a track the
// columns of its Table. What is the record's ID is not among them, nor is the
// label of a plate, which is the ID as a rule (see [Records]). nil for any
// other kind.
func FieldsOf(kind study.Kind) []Field {
	var out []Field
	for _, k := range sectionKeys[kind] {
		out = append(out, Field{Name: k.name, Optional: !k.needed})
	}
	if of, ok := recordTables[kind]; ok {
		for _, c := range of.specs[1:] {
			out = append(out, Field{
				Name: c.name, Optional: c.need != cellNeeded,
				Guarded: kind == study.KindTrial && slices.Contains(study.GuardedFields, c.name),
			})
		}
	}
	return out
}

// keySpec is a key of a section of study.toml.
type keySpec struct {
	name   string
	kind   keyKind
	needed bool
}

// sectionKeys are the keys of study.toml by kind of record, in canonical
// order, without those that are the record's ID.
var sectionKeys = map[study.Kind][]keySpec{
	study.KindStudy: {{"title", textKey, true}, {"question", textKey, false}},
	study.KindSite: {
		{"name", textKey, true},
		{"timezone", textKey, true},
		{"depth_m", numberKey, true},
		{"latitude", numberKey, false},
		{"longitude", numberKey, false},
		{"x_axis_bearing_deg", numberKey, false},
	},
	study.KindWater: {
		{"conductivity_S_per_m", numberKey, false},
		{"conductivity_at_25C_S_per_m", numberKey, false},
		{"temperature_C", numberKey, false},
		{"percent_per_C", numberKey, false},
		{"salinity", numberKey, false},
		{"pressure_dbar", numberKey, false},
		{"cast", textKey, false},
	},
	study.KindBottom: {
		{"kind", textKey, true},
		{"conductivity_S_per_m", numberKey, false},
		{"porosity", numberKey, false},
		{"cementation_exponent", numberKey, false},
		{"thickness_m", numberKey, false},
		{"basement_S_per_m", numberKey, false},
	},
	study.KindEnclosure: {{"size_m", listKey, false}, {"diameter_m", numberKey, false}, {"centre_m", listKey, false}},
	study.KindPlate: {
		{"shape", textKey, true},
		{"size_m", listKey, false},
		{"diameter_m", numberKey, false},
		{"thickness_m", numberKey, true},
		{"top_above_bottom_m", numberKey, true},
		{"centre_m", listKey, false},
		{"yaw_deg", numberKey, false},
	},
	study.KindPair: {
		{"centre_m", listKey, true},
		{"azimuth_deg", numberKey, true},
		{"separation_m", numberKey, true},
		{"electrode_diameter_m", numberKey, true},
		{"height_m", numberKey, false},
	},
	study.KindSpecies:  {{"aliases", listKey, false}},
	study.KindSchedule: {{"rule", textKey, false}, {"block", numberKey, false}, {"most_alike", numberKey, false}},
	study.KindAnalysis: {
		{"pass_radius_cm", numberKey, true},
		{"reaction_time_s", numberKey, false},
		{"reaction_time_sd_s", numberKey, false},
		{"fix_sd_cm", numberKey, false},
		{"height_range_cm", listKey, false},
		{"field_at", textKey, false},
	},
	study.KindUncertainty: {
		{"bottom_S_per_m_sd", numberKey, false},
		{"position_sd_cm", numberKey, false},
		{"height_sd_cm", numberKey, false},
		{"current_sd_percent", numberKey, false},
	},
}

// idKeys are the keys of study.toml that are the ID of a record. The kinds
// that have one stand in double brackets.
var idKeys = map[study.Kind]string{study.KindPlate: "label", study.KindPair: "label", study.KindSpecies: "name"}

// recordTable is the table that holds the records of a kind. Its first column
// is the ID.
type recordTable struct {
	file   string
	specs  []columnSpec
	what   string // in a fault
	series bool   // a record has as many rows as its own table
}

var recordTables = map[study.Kind]recordTable{
	study.KindCast:       {WaterFile, waterColumns, "cast", true},
	study.KindTrial:      {TrialsFile, trialColumns, "trial", false},
	study.KindIndividual: {IndividualsFile, individualColumns, "individual", false},
	study.KindClip:       {ClipsFile, clipColumns, "clip", false},
	study.KindPass:       {PassesFile, passColumns, "pass", false},
	study.KindTrack:      {TracksFile, trackColumns, "track", true},
}

// noLabel is the ID of a plate without a label; that of a second one is
// "plate 2".
const noLabel = "plate"

// saysNoLabel reports whether the ID of a plate stands for none.
func saysNoLabel(id string) bool {
	if id == noLabel || id == "" {
		return true
	}
	count, ok := strings.CutPrefix(id, noLabel+" ")
	n, err := strconv.Atoi(count)
	return ok && err == nil && n > 1 && strconv.Itoa(n) == count
}

// freePlateID is the first ID for a plate without a label that is not taken.
func freePlateID(taken map[string]bool) string {
	id := noLabel
	for n := 2; taken[id]; n++ {
		id = noLabel + " " + itoa(n)
	}
	return id
}
