package season_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"brinefield/core/quantity"
	"brinefield/core/season"
	"brinefield/core/study"
)

// sameStudy compares studies but for the rows they were read from. Times are
// compared as instants, zones by name.
var sameStudy = cmp.Options{
	cmpopts.EquateEmpty(),
	cmpopts.IgnoreFields(study.Trial{}, "Row"),
	cmpopts.IgnoreFields(study.Pass{}, "Row"),
	cmp.Comparer(func(a, b []study.Fix) bool { // one by one is slow in a long track
		return slices.EqualFunc(a, b, func(a, b study.Fix) bool {
			a.Row, b.Row = 0, 0
			return a == b
		})
	}),
	cmp.Comparer(func(a, b *time.Location) bool {
		return (a == nil) == (b == nil) && (a == nil || a.String() == b.String())
	}),
}

func TestSeasonAReads(t *testing.T) {
	s, faults := season.Read(folder(t, "../../testdata/season-a"), options)
	noFaults(t, faults)
	// Counted in the files with wc and awk.
	fixes := 0
	for _, track := range s.Tracks {
		for _, p := range track.Points {
			fixes += len(p.Fixes)
		}
	}
	if len(s.Trials) != 48 || len(s.Passes) != 646 || len(s.Tracks) != 646 || fixes != 19301 {
		t.Errorf("%s with %d fixes; the files have 48, 646, 646 and 19301", describe(s), fixes)
	}
	p := s.Passes[2] // P00003,T001,2025-06-01T09:04:41,SC21,S. canicula,D,yes,no,V0002,D,0.88,1.12,53.8,OB
	want := study.Pass{
		ID: "P00003", Time: time.Date(2025, 6, 1, 8, 4, 41, 0, time.UTC), Individual: "SC21", Pair: 3, Turned: study.Yes, Bit: study.No,
		Visit: "V0002", TurnPair: study.Some(3), OnsetS: study.Some(0.88), WatchedS: study.Some(1.12), TotalLengthM: study.Some(0.538), Scorer: "OB",
	}
	if diff := cmp.Diff(want, p, sameStudy); diff != "" || p.Row != 4 {
		t.Errorf("the third pass, row %d (-want +got):\n%s", p.Row, diff)
	}
	first := s.Tracks[0].Points[0].Fixes[0] // P00001,0.0,-79.84,-18.11,2.46
	if want := (study.Fix{XM: -0.7984, YM: -0.1811, HeightM: study.Some(0.0246), Row: 2}); first != want {
		t.Errorf("first fix %+v, want %+v", first, want)
	}
}

// Reading the canonical folder again gives the same study and the same bytes.
func TestCanonicalIsAFixedPoint(t *testing.T) {
	for _, path := range []string{"../../testdata/season-a", "testdata/full", "../../examples/01-old-spreadsheet"} {
		t.Run(path, func(t *testing.T) {
			s, faults := season.Read(folder(t, path), options)
			noFaults(t, faults)
			checkFixedPoint(t, s)
		})
	}
}

func checkFixedPoint(t testing.TB, s *study.Study) {
	t.Helper()
	once, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	again, faults := season.Read(once, options)
	noFaults(t, faults)
	if diff := cmp.Diff(s, again, sameStudy); diff != "" {
		t.Fatalf("read back (-was +is):\n%s", diff)
	}
	twice, err := season.Write(again)
	if err != nil {
		t.Fatal(err)
	}
	sameFiles(t, "written twice", twice, once)
}

// testdata/full uses every key and column and is written canonically.
func TestEveryKeyAndColumnIsReadAndWritten(t *testing.T) {
	files := folder(t, "testdata/full")
	s, faults := season.Read(files, options)
	noFaults(t, faults)
	written, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	sameFiles(t, "written", written, files)
	// The columns of CONTRACTS.md, "A season folder".
	for name, columns := range map[string]string{
		"water.csv":       "time,depth_m,temperature_C,salinity,conductivity_S_per_m",
		"trials.csv":      "trial,start,end,active_pair,current_uA,block,plate,waveform,frequency_Hz,current_before_uA,current_after_uA,water_S_per_m,temperature_C,salinity,tide_m,flow_m_per_s,flow_bearing_deg,sand_over_plate_mm,bait,odour,visibility_m,observers,note",
		"passes.csv":      "pass,trial,time,individual,species,pair,turned,bit,visit,turn_pair,onset_s,watched_s,bite_electrode,response,height_class,sex,total_length_cm,disc_width_cm,animals_in_view,clip,scorer,second_scorer,onset_distance_cm,onset_angle_deg,onset_height_cm,closest_distance_cm,closest_angle_deg,closest_height_cm,note",
		"individuals.csv": "individual,species,sex,total_length_cm,disc_width_cm,head_width_cm,mark,experience",
		"clips.csv":       "clip,file,start,clock_offset_s,drift_ppm,frame_rate",
		"tracks.csv":      "pass,t_s,x_cm,y_cm,height_cm,height_low_cm,height_high_cm,point",
	} {
		if header, _, _ := strings.Cut(string(files[name]), "\n"); header != columns {
			t.Errorf("%s has the columns\n%s\nthe contract says\n%s", name, header, columns)
		}
	}
}

// A season that states neither blocks nor a limit is written as it was before
// there were any.
func TestBlocksLeaveNoTraceWhereThereAreNone(t *testing.T) {
	files := folder(t, "testdata/full")
	s, faults := season.Read(files, options)
	noFaults(t, faults)
	if s.Schedule.MostAlike != 2 || s.Trials[0].Block != 1 || s.Trials[1].Block != 1 || s.Trials[2].Block != 0 || s.Trials[3].Block != 3 {
		t.Errorf("most_alike %d, blocks of %+v", s.Schedule.MostAlike, s.Trials)
	}
	s.Schedule.MostAlike = 0
	for i := range s.Trials {
		s.Trials[i].Block = 0
	}
	written, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	before := strings.NewReplacer(",block", "", ",A,8,1,", ",A,8,", ",A+B,6,1,", ",A+B,6,", ",none,6,,", ",none,6,", ",sealed,,3,", ",sealed,,")
	files[season.TrialsFile] = []byte(before.Replace(string(files[season.TrialsFile])))
	files[season.StudyFile] = []byte(strings.Replace(string(files[season.StudyFile]), "most_alike = 2\n", "", 1))
	sameFiles(t, "without blocks", written, files)
}

func TestAnyStudyReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStudy(t)
		once, err := season.Write(s)
		if err != nil {
			t.Fatal(err)
		}
		again, faults := season.Read(once, options)
		if len(faults) > 0 {
			t.Fatalf("faults:\n%s\nin\n%s", lines(faults), once)
		}
		if diff := cmp.Diff(s, again, sameStudy); diff != "" {
			t.Fatalf("read back (-was +is):\n%s", diff)
		}
		twice, err := season.Write(again)
		if err != nil {
			t.Fatal(err)
		}
		for name := range once {
			if string(once[name]) != string(twice[name]) {
				t.Fatalf("%s differs when written twice", name)
			}
		}
	})
}

// checkWritten holds a study that was read without faults to the promise of
// [season.Write]. The one refusal it may meet is a text with a line that looks
// like a row, which a table of another width can hold.
func checkWritten(t *testing.T, s *study.Study, files season.Files) {
	t.Helper()
	once, err := season.Write(s)
	if err != nil {
		if strings.Contains(err.Error(), "would be read as a row") {
			return
		}
		t.Fatalf("read and not written: %v\n%q", err, files)
	}
	again, faults := season.Read(once, options)
	if len(faults) > 0 {
		t.Fatalf("written with faults:\n%s\n%q", lines(faults), once)
	}
	if diff := cmp.Diff(s, again, sameStudy); diff != "" {
		t.Fatalf("read back (-was +is):\n%s", diff)
	}
	twice, err := season.Write(again)
	if err != nil {
		t.Fatal(err)
	}
	sameFiles(t, "written twice", twice, once)
}

// Rows of passes and points may be mixed; each path keeps its own order.
func TestMixedRowsOfTracks(t *testing.T) {
	files := with(folder(t, "testdata/full"), season.TracksFile,
		"pass,t_s,x_cm,y_cm,height_cm,point\n"+
			"P2,0,1,0,5,snout\nP1,0,2,0,5,\nP2,1,3,0,5,snout\nP1,0,4,0,5,snout\nP1,1,5,0,5,\nP1,2,6,0,5,\nP2,0,7,0,5,\nP1,1,8,0,5,snout\n")
	s, faults := season.Read(files, options)
	noFaults(t, faults)
	var got []string
	for _, track := range s.Tracks {
		for _, p := range track.Points {
			line := s.Passes[track.Pass].ID + " " + p.Name + ":"
			for _, f := range p.Fixes {
				line += " " + quantity.Centimetre.Format(f.XM)
			}
			got = append(got, line)
		}
	}
	want := []string{"P2 snout: 1 3", "P2 : 7", "P1 : 2 5 6", "P1 snout: 4 8"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	checkFixedPoint(t, s)
}
