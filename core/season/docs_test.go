package season

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
)

// The page of the format names every column and every key, and its example
// reads.
func TestTheFormatPageIsTrue(t *testing.T) {
	data, err := os.ReadFile("../../docs/formats/season.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	for file, specs := range map[string][]columnSpec{
		WaterFile: waterColumns, TrialsFile: trialColumns, PassesFile: passColumns,
		TracksFile: trackColumns, IndividualsFile: individualColumns, ClipsFile: clipColumns,
	} {
		for _, spec := range specs {
			mark := "`" + spec.name + "`"
			if !strings.Contains(page, mark) || spec.need == optional && file != WaterFile && !strings.Contains(page, mark+"°") {
				t.Errorf("the page does not say %s of %s as it is", spec.name, file)
			}
		}
	}
	full, err := os.ReadFile("testdata/full/study.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range regexp.MustCompile(`(?m)^(\w+) =`).FindAllStringSubmatch(string(full), -1) {
		if !strings.Contains(page, "`"+key[1]+"`") {
			t.Errorf("the page does not name the key %s", key[1])
		}
	}
	_, example, _ := strings.Cut(page, "```toml\n")
	example, _, _ = strings.Cut(example, "```")
	_, faults := Read(Files{
		StudyFile:  []byte(example),
		TrialsFile: []byte("trial,start,end,active_pair,current_uA\nT1,2025-06-01T09:00,2025-06-01T09:40,A,9\n"),
		PassesFile: []byte("pass,trial,time,individual,species,pair,turned,bit\nP1,T1,2025-06-01T09:01,,thornback ray,A,no,no\n"),
	}, Options{Zone: time.LoadLocation})
	for _, f := range faults {
		t.Errorf("the example: %s", f)
	}
}
