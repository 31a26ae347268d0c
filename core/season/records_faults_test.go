package season_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"brinefield/core/season"
	"brinefield/core/study"
)

// spoiled is the records of testdata/full, changed.
func spoiled(t testing.TB, change func(r *recordSet)) []study.Record {
	t.Helper()
	s, faults := season.Read(folder(t, "testdata/full"), options)
	noFaults(t, faults)
	records, err := season.Records(s)
	if err != nil {
		t.Fatal(err)
	}
	set := &recordSet{t: t, records: records}
	change(set)
	return set.records
}

type recordSet struct {
	t       testing.TB
	records []study.Record
}

func (s *recordSet) of(kind study.Kind, id string) *study.Record {
	for i := range s.records {
		if r := &s.records[i]; r.Kind == kind && r.ID == id {
			return r
		}
	}
	s.t.Fatalf("there is no %s %q", kind, id)
	return nil
}

// set changes a field; "" takes it away.
func (s *recordSet) set(kind study.Kind, id, field, text string) {
	r := s.of(kind, id)
	if r.Fields == nil {
		r.Fields = map[string]string{}
	}
	if r.Fields[field] = text; text == "" {
		delete(r.Fields, field)
	}
}

func (s *recordSet) remove(kind study.Kind, id string) {
	r := s.of(kind, id)
	s.records = slices.DeleteFunc(s.records, func(other study.Record) bool { return other.Kind == r.Kind && other.ID == r.ID })
}

func (s *recordSet) removeKind(kind study.Kind) {
	s.records = slices.DeleteFunc(s.records, func(r study.Record) bool { return r.Kind == kind })
}

func (s *recordSet) add(r study.Record) { s.records = append(s.records, r) }

// Every fault of records is the line that the folder would give, and leads
// back to its record and field. The lines are read, not copied from a run:
// what they say was checked against testdata/full, whose rows they count.
func TestFaultsOfRecords(t *testing.T) {
	const cast = "2025-07-02T08:00:00"
	for _, c := range []struct {
		name   string
		change func(*recordSet)
		want   []string // fault, then " @ kind id field"
	}{
		{"nothing", func(*recordSet) {}, nil},
		{"a number in words", func(r *recordSet) { r.set(study.KindTrial, "T1", "current_uA", "eight") }, []string{
			`trials.csv:2:current_uA: "eight" is not a number; expected a plain decimal number such as 12.5 @ trial T1 current_uA`,
		}},
		{"an unknown field of two trials", func(r *recordSet) {
			r.set(study.KindTrial, "T2", "nots", "calm")
			r.set(study.KindTrial, "T3", "nots", "calm")
			r.set(study.KindTrial, "T1", "note", "")
			r.set(study.KindTrial, "T3", "note", "")
		}, []string{
			`trials.csv:1:nots: unknown column "nots"; expected a column of trials.csv in format 1, did you mean "note"? @ trial T2 nots`,
		}},
		{"a field without a name", func(r *recordSet) { r.set(study.KindTrial, "T2", "", "calm") }, []string{
			`trials.csv:3:X: "calm" stands beyond the last column of the header; expected 23 cells (a decimal comma, or a comma in a text without quotation marks, makes two cells of one) @ trial T2 `,
		}},
		{"the ID among the fields", func(r *recordSet) { r.set(study.KindTrial, "T2", "trial", "T9") }, []string{
			`trials.csv:1:trial: the column "trial" stands twice, first as column A; expected each column once @ trial T2 trial`,
		}},
		{"a trial twice", func(r *recordSet) { r.add(*r.of(study.KindTrial, "T1")) }, []string{
			`trials.csv:6:trial: "T1" stands twice, first in row 2; expected each trial once @ trial T1 `,
		}},
		{"a trial of nothing", func(r *recordSet) { r.add(study.Record{Kind: study.KindTrial}) }, []string{
			`trials.csv:6:trial: the cell is blank; expected a trial's name @ trial  `,
			`trials.csv:6:start: the cell is blank; expected a time such as 2025-06-01T09:00:00 @ trial  start`,
			`trials.csv:6:end: the cell is blank; expected a time such as 2025-06-01T09:00:00 @ trial  end`,
			`trials.csv:6:active_pair: the cell is blank; expected the label of a pair, several joined by +, none or sealed @ trial  active_pair`,
		}},
		{"a trial with its guarded fields left out", func(r *recordSet) {
			r.set(study.KindTrial, "T2", "active_pair", "")
			r.set(study.KindTrial, "T2", "current_uA", "")
		}, []string{
			`trials.csv:3:active_pair: the cell is blank; expected the label of a pair, several joined by +, none or sealed @ trial T2 active_pair`,
		}},
		{"a trial sealed by the caller", func(r *recordSet) {
			r.set(study.KindTrial, "T2", "active_pair", "sealed")
			r.set(study.KindTrial, "T2", "current_uA", "")
		}, nil},
		{"a note that looks like a row", func(r *recordSet) { r.set(study.KindTrial, "T1", "note", "calm\n"+strings.Repeat(",", 22)) }, []string{
			`trials.csv:2:note: a line of the text has as many commas as trials.csv has and would be read as a row of it; expected a space after each comma @ trial T1 note`,
		}},
		{"a note of another alphabet's bytes", func(r *recordSet) { r.set(study.KindTrial, "T1", "note", "Mu\xf1oz") }, []string{
			`trials.csv:2:note: a character that is not UTF-8 (probably "Muñoz"); expected UTF-8: save the file again as "CSV UTF-8" @ trial T1 note`,
		}},
		{"rows in a trial", func(r *recordSet) {
			r.of(study.KindTrial, "T1").Table = &study.Table{Columns: []string{"t_s"}, Rows: [][]string{{"1"}}}
		}, []string{
			`trials.csv:2:trial: a trial holds rows of its own; expected fields alone @ trial T1 `,
		}},
		{"no trials", func(r *recordSet) {
			r.removeKind(study.KindTrial)
			r.removeKind(study.KindTrack)
			r.remove(study.KindPass, "P2")
			r.remove(study.KindPass, "P3")
			r.remove(study.KindPass, "P4")
			r.set(study.KindAnalysis, "", "field_at", "")
		}, []string{
			`passes.csv:2:trial: "T1" is not a trial of trials.csv; expected one that is listed there @ pass P1 trial`,
		}},
		{"a pair misspelt", func(r *recordSet) { r.set(study.KindPass, "P2", "turn_pair", "b") }, []string{
			`passes.csv:3:turn_pair: "b" is not a [[pair]] of study.toml; expected one that is listed there, did you mean "B"? @ pass P2 turn_pair`,
		}},
		{"an onset outside the track", func(r *recordSet) { r.set(study.KindPass, "P1", "onset_s", "0.9") }, []string{
			`passes.csv:2:onset_s: the onset at 0.9 s is outside the pass's track; expected a time from 0 to 0.8 s, where tracks.csv has rows @ pass P1 onset_s`,
		}},
		{"a point that no track has", func(r *recordSet) { r.set(study.KindAnalysis, "", "field_at", "nose") }, []string{
			`study.toml:78:field_at: "nose" is no point of tracks.csv; expected "largest" or a point of tracks.csv (snout) @ analysis  field_at`,
		}},
		{"a track that stands still", func(r *recordSet) { r.of(study.KindTrack, "P2").Table.Rows[1][0] = "0" }, []string{
			`tracks.csv:8:t_s: 0 is not later than 0 in row 7; expected t_s strictly increasing within a pass and point @ track P2 t_s`,
		}},
		{"a track of no pass", func(r *recordSet) { r.of(study.KindTrack, "P2").ID = "P9" }, []string{
			`tracks.csv:7:pass: "P9" is not a pass of passes.csv; expected one that is listed there, did you mean "P1"? @ track P9 `,
			`tracks.csv:8:pass: "P9" is not a pass of passes.csv; expected one that is listed there, did you mean "P1"? @ track P9 `,
			`tracks.csv:9:pass: "P9" is not a pass of passes.csv; expected one that is listed there, did you mean "P1"? @ track P9 `,
		}},
		{"a track without rows", func(r *recordSet) { r.of(study.KindTrack, "P2").Table = nil }, []string{
			`tracks.csv:7:t_s: the cell is blank; expected a number @ track P2 t_s`,
			`tracks.csv:7:x_cm: the cell is blank; expected a number @ track P2 x_cm`,
			`tracks.csv:7:y_cm: the cell is blank; expected a number @ track P2 y_cm`,
		}},
		{"a track twice", func(r *recordSet) {
			again := study.Record{Kind: study.KindTrack, ID: "P2", Table: &study.Table{Columns: []string{"t_s", "x_cm", "y_cm"}, Rows: [][]string{{"9", "0", "0"}}}}
			r.add(again)
		}, []string{
			`tracks.csv:10:pass: "P2" stands twice, first in row 7; expected each track once @ track P2 `,
		}},
		{"a track with fields", func(r *recordSet) { r.set(study.KindTrack, "P1", "note", "blurred") }, []string{
			`tracks.csv:2:note: a track holds "note" beside its rows; expected rows alone @ track P1 note`,
		}},
		{"a track with an unknown and a doubled column", func(r *recordSet) {
			table := r.of(study.KindTrack, "P2").Table
			table.Columns = append(slices.Clone(table.Columns), "roll", "t_s")
			for i := range table.Rows {
				table.Rows[i] = append(slices.Clone(table.Rows[i]), "1", "1")
			}
		}, []string{
			`tracks.csv:1:roll: unknown column "roll"; expected a column of tracks.csv in format 1 @ track P2 roll`,
			`tracks.csv:7:t_s: the column "t_s" stands twice; expected each column once @ track P2 t_s`,
		}},
		{"a track with a row too long", func(r *recordSet) {
			table := r.of(study.KindTrack, "P2").Table
			table.Rows[2] = append(slices.Clone(table.Rows[2]), "1")
		}, []string{
			`tracks.csv:9:pass: the row has 6 cells for 5 columns; expected one cell for each column @ track P2 `,
		}},
		{"half a cast", func(r *recordSet) {
			r.of(study.KindCast, cast).Table = &study.Table{Columns: []string{"depth_m", "temperature_C"}, Rows: [][]string{{"2", "15"}}}
		}, []string{
			`water.csv:4:salinity: the cell is blank; expected temperature_C and salinity @ cast ` + cast + ` salinity`,
		}},
		{"no cast", func(r *recordSet) { r.removeKind(study.KindCast) }, []string{
			`water.csv:1:time: the cast has no rows, and [water] takes the cast from it; expected at least one reading @ cast  `,
		}},
		{"a cast at no time", func(r *recordSet) { r.of(study.KindCast, cast).ID = "yesterday" }, []string{
			`water.csv:4:time: "yesterday" is not an ISO 8601 time; expected a time such as 2025-06-01T09:00:00 @ cast yesterday `,
		}},
		{"no site", func(r *recordSet) { r.remove(study.KindSite, "") }, []string{
			`study.toml:1:site: study.toml has no site; expected a section [site] @ site  `,
		}},
		{"two sites", func(r *recordSet) {
			r.add(study.Record{Kind: study.KindSite, ID: "north", Fields: map[string]string{"name": "North"}})
		}, []string{
			`study.toml:13:site: [site] stands twice, first in line 5; expected [site] once @ site north `,
		}},
		{"the study twice", func(r *recordSet) {
			r.add(study.Record{Kind: study.KindStudy, Fields: map[string]string{"title": "Another"}})
		}, []string{
			`study.toml:4:title: the study itself stands twice; expected one title and one question @ study  title`,
		}},
		{"a depth with a unit", func(r *recordSet) { r.set(study.KindSite, "", "depth_m", "4.5 m") }, []string{
			`study.toml:8:depth_m: depth_m is 4.5 m, which is not a number; expected a plain decimal number such as 12.5 @ site  depth_m`,
		}},
		{"a depth that is a document", func(r *recordSet) { r.set(study.KindSite, "", "depth_m", "4\n[water]\ncast = \"x\"") }, []string{
			"study.toml:8:depth_m: depth_m is 4�[water]�cast = \"x\", which is not a number; expected a plain decimal number such as 12.5 @ site  depth_m",
		}},
		{"a centre that is no list", func(r *recordSet) { r.set(study.KindPair, "B", "centre_m", "0.2, 1") }, []string{
			`study.toml:53:centre_m: centre_m is 0.2, 1; expected two numbers: centre_m = [0.4, 0.4] @ pair B centre_m`,
		}},
		{"a centre of one", func(r *recordSet) { r.set(study.KindPair, "B", "centre_m", "[0.2]") }, []string{
			`study.toml:53:centre_m: centre_m is a list of 1 value; expected two numbers: centre_m = [0.4, 0.4] @ pair B centre_m`,
		}},
		{"a list and more", func(r *recordSet) { r.set(study.KindPair, "B", "centre_m", "[0.2, 1]\nheight_m = 2") }, []string{
			"study.toml:53:centre_m: centre_m is [0.2, 1]�height_m = 2; expected two numbers: centre_m = [0.4, 0.4] @ pair B centre_m",
		}},
		{"aliases that are no list", func(r *recordSet) { r.set(study.KindSpecies, "Raja clavata", "aliases", "ray") }, []string{
			`study.toml:65:aliases: aliases is ray; expected a list of texts: aliases = ["…", "…"] @ species Raja clavata aliases`,
		}},
		{"a pair without a label", func(r *recordSet) { r.add(study.Record{Kind: study.KindPair}) }, []string{
			`study.toml:59:label: [[pair]] has no label; expected label = "…" @ pair  `,
			`study.toml:59:centre_m: [[pair]] has no centre_m; expected centre_m = [x, y] @ pair  centre_m`,
			`study.toml:59:azimuth_deg: [[pair]] has no azimuth_deg; expected azimuth_deg = a number @ pair  azimuth_deg`,
			`study.toml:59:separation_m: [[pair]] has no separation_m; expected separation_m = a number @ pair  separation_m`,
			`study.toml:59:electrode_diameter_m: [[pair]] has no electrode_diameter_m; expected electrode_diameter_m = a number @ pair  electrode_diameter_m`,
		}},
		{"a label among the fields of a pair", func(r *recordSet) { r.set(study.KindPair, "B", "label", "C") }, []string{
			`study.toml:58:label: the key "label" is set twice; expected each key once @ pair B label`,
		}},
		{"a pair twice", func(r *recordSet) { r.add(*r.of(study.KindPair, "B")) }, []string{
			`study.toml:60:label: "B" stands twice, first in line 52; expected each label once @ pair B `,
		}},
		{"two plates without a label and one ID", func(r *recordSet) {
			plate := *r.of(study.KindPlate, "south")
			plate.ID = "plate"
			r.add(plate)
			r.add(plate)
		}, []string{
			`study.toml:51:label: "plate" stands twice, first in line 44; expected each plate once @ plate plate `,
		}},
		{"an unknown key", func(r *recordSet) { r.set(study.KindSite, "", "depht_m", "4") }, []string{
			`study.toml:12:depht_m: unknown key "depht_m" in [site]; expected a key of format 1, did you mean "depth_m"? @ site  depht_m`,
		}},
		{"a format among the fields", func(r *recordSet) { r.set(study.KindStudy, "", "format", "2") }, []string{
			`study.toml:4:format: the key "format" is set twice; expected each key once @ study  format`,
		}},
		{"a site among the fields of the study", func(r *recordSet) { r.set(study.KindStudy, "", "site", "the bay") }, []string{
			`study.toml:4:site: unknown key "site" in the study; expected title or question; site is a record of its own @ study  site`,
		}},
		{"a title of other bytes", func(r *recordSet) { r.set(study.KindStudy, "", "title", "Mu\xf1oz") }, []string{
			`study.toml:2:title: a character that is not UTF-8 (probably in "Muñoz"); expected UTF-8 @ study  title`,
		}},
		{"a title that no file can hold", func(r *recordSet) { r.set(study.KindStudy, "", "title", strings.Repeat("x", 1<<20)) }, []string{
			`study.toml:1:title: the file is larger than 1 MB; expected shorter texts @ study  title`,
		}},
		{"rows in a section", func(r *recordSet) { r.of(study.KindBottom, "").Table = &study.Table{} }, []string{
			`study.toml:16:bottom: a bottom holds rows of its own; expected fields alone @ bottom  `,
		}},
		{"kinds that are no season", func(r *recordSet) {
			r.add(study.Record{Kind: study.KindPermit, ID: "1", Fields: map[string]string{"holder": "x"}})
			r.add(study.Record{Kind: "", ID: "1", Fields: map[string]string{"\x00": "x"}})
		}, nil},
		{"blank fields", func(r *recordSet) {
			r.of(study.KindTrial, "T2").Fields["weather"] = " "
			r.of(study.KindSite, "").Fields["height_m"] = " \t"
			r.of(study.KindAnalysis, "").Fields["field_at"] = ""
		}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, faults, places := season.FromRecords(spoiled(t, c.change), options)
			var got []string
			for _, f := range faults {
				kind, id, field, ok := places.Of(f)
				if !ok {
					t.Errorf("no place for %s", f)
				}
				got = append(got, fmt.Sprintf("%s @ %s %s %s", f, kind, id, field))
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// A study that has just been begun has the faults that say what it lacks.
func TestRecordsOfAStudyJustBegun(t *testing.T) {
	for _, records := range [][]study.Record{nil, {{Kind: study.KindStudy, Fields: map[string]string{"title": "Begun (invented)"}}}} {
		s, faults, places := season.FromRecords(records, season.Options{})
		if s == nil {
			t.Fatal("no study")
		}
		var got []study.Kind
		for _, f := range faults {
			kind, id, field, ok := places.Of(f)
			if !ok || id != "" || field != "" && field != "title" {
				t.Errorf("%s has the place %s %q %q", f, kind, id, field)
			}
			got = append(got, kind)
		}
		want := []study.Kind{study.KindStudy, study.KindSite, study.KindWater, study.KindBottom, study.KindPair, study.KindSpecies, study.KindAnalysis}
		if len(records) > 0 {
			want = want[1:]
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("the faults of %v are about %v, want %v:\n%s", records, got, want, lines(faults))
		}
	}
}

func TestPlacesOfOtherFaults(t *testing.T) {
	_, _, places := season.FromRecords(spoiled(t, func(*recordSet) {}), options)
	for _, f := range []season.Fault{{}, {File: "notes.txt", Row: 1}, {File: season.TrialsFile}, {File: season.TrialsFile, Row: 99}, {File: season.StudyFile}, {File: season.TracksFile, Row: -1}} {
		if kind, id, field, ok := places.Of(f); ok {
			t.Errorf("%v has the place %s %q %q", f, kind, id, field)
		}
		if _, _, _, ok := (season.Places{}).Of(f); ok {
			t.Errorf("%v has a place in nothing", f)
		}
	}
}

// What a kind may hold is what the contract lists and what the reader takes.
func TestFieldsOf(t *testing.T) {
	// CONTRACTS.md, "A season folder"; ° marks what may be left out or blank.
	for kind, want := range map[study.Kind]string{
		study.KindStudy:       "title question°",
		study.KindSite:        "name timezone depth_m latitude° longitude° x_axis_bearing_deg°",
		study.KindWater:       "conductivity_S_per_m° conductivity_at_25C_S_per_m° temperature_C° percent_per_C° salinity° pressure_dbar° cast°",
		study.KindBottom:      "kind conductivity_S_per_m° porosity° cementation_exponent° thickness_m° basement_S_per_m°",
		study.KindEnclosure:   "size_m° diameter_m° centre_m°",
		study.KindPlate:       "shape size_m° diameter_m° thickness_m top_above_bottom_m centre_m° yaw_deg°",
		study.KindPair:        "centre_m azimuth_deg separation_m electrode_diameter_m height_m°",
		study.KindSpecies:     "aliases°",
		study.KindSchedule:    "rule° block° most_alike°",
		study.KindAnalysis:    "pass_radius_cm reaction_time_s° reaction_time_sd_s° fix_sd_cm° height_range_cm° field_at°",
		study.KindUncertainty: "bottom_S_per_m_sd° position_sd_cm° height_sd_cm° current_sd_percent°",
		study.KindCast:        "depth_m temperature_C° salinity° conductivity_S_per_m°",
		study.KindTrial: "start end active_pair! current_uA°! block° plate° waveform°! frequency_Hz°! current_before_uA°! current_after_uA°! water_S_per_m° temperature_C° salinity° tide_m° " +
			"flow_m_per_s° flow_bearing_deg° sand_over_plate_mm° bait° odour° visibility_m° observers° note°",
		study.KindIndividual: "species sex° total_length_cm° disc_width_cm° head_width_cm° mark° experience°",
		study.KindClip:       "file start clock_offset_s° drift_ppm° frame_rate°",
		study.KindPass: "trial time individual° species pair turned° bit° visit° turn_pair° onset_s° watched_s° bite_electrode° response° height_class° sex° total_length_cm° disc_width_cm° " +
			"animals_in_view° clip° scorer° second_scorer° onset_distance_cm° onset_angle_deg° onset_height_cm° closest_distance_cm° closest_angle_deg° closest_height_cm° note°",
		study.KindTrack:    "t_s x_cm y_cm height_cm° height_low_cm° height_high_cm° point°",
		study.KindPermit:   "",
		study.Kind("boat"): "",
	} {
		var got []string
		record := study.Record{Kind: kind, ID: "x", Fields: map[string]string{}}
		for _, f := range season.FieldsOf(kind) {
			name := f.Name
			if f.Optional {
				name += "°"
			}
			if f.Guarded {
				name += "!"
			}
			got = append(got, name)
			record.Fields[f.Name] = "?"
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s holds\n%s\nwant\n%s", kind, strings.Join(got, " "), want)
		}
		if kind == study.KindCast || kind == study.KindTrack {
			record.Table = &study.Table{Rows: [][]string{{}}}
			for name := range record.Fields {
				record.Table.Columns, record.Table.Rows[0] = append(record.Table.Columns, name), append(record.Table.Rows[0], "?")
			}
			record.Fields = nil
		}
		_, faults, _ := season.FromRecords([]study.Record{record}, options)
		for _, f := range faults {
			if strings.HasPrefix(f.Wrong, "unknown") {
				t.Errorf("a %s with all its fields: %s", kind, f)
			}
		}
	}
}
