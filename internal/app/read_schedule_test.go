package app_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// clearSealer seals nothing: what is sealed is the plain text, so that a test
// reaches what stands inside. Every key opens it.
type clearSealer struct{ app.Sealer }

func (clearSealer) CheckPublic(string) error                      { return nil }
func (clearSealer) Seal(_ []string, plain []byte) (string, error) { return string(plain), nil }
func (clearSealer) Open(_, sealed string) ([]byte, error)         { return []byte(sealed), nil }

type sameBytes struct{}

func (sameBytes) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 7
	}
	return len(p), nil
}

// scheduleJSON is a small invented schedule.
func scheduleJSON(t testing.TB, sealTo ...string) []byte {
	t.Helper()
	seed := uint64(7)
	q := app.ScheduleQuestion{Plan: app.SchedulePlan{Pairs: []string{"A", "B"}, CurrentsUA: []float64{6}, Trials: 3, Silent: 1, Spare: 1}, SealTo: sealTo}
	if len(sealTo) == 0 {
		q.Seed = &seed
	}
	d, err := app.DrawSchedule(q, clearSealer{}, sameBytes{}, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestReadScheduleTellsFaults(t *testing.T) {
	good := string(scheduleJSON(t, "one", "two"))
	if _, err := app.ReadSchedule("s.json", []byte(good)); err != nil {
		t.Fatal(err)
	}
	change := func(from, to string) string {
		if !strings.Contains(good, from) {
			t.Fatalf("there is no %s in %s", from, good)
		}
		return strings.Replace(good, from, to, 1)
	}
	for name, c := range map[string]struct{ text, want string }{
		"nothing":              {"", "s.json:1:: this is no schedule: it is not JSON"},
		"cut off":              {good[:len(good)/2], "this is no schedule: it is not JSON from here on"},
		"on the second line":   {"{\n\"plan\": {]", "s.json:2:: this is no schedule"},
		"null":                 {"null", "0 pairs; 2 to"},
		"a list":               {"[]", "found a list where a JSON object stands"},
		"text for a number":    {change(`"trials":3`, `"trials":"three"`), "s.json:1:plan.trials: this is no schedule: found a string where a number stands"},
		"a number beyond all":  {change(`"currents_uA":[6]`, `"currents_uA":[6e999]`), "this is no schedule: found a number 6e999"},
		"one pair":             {change(`["A","B"]`, `["A"]`), "s.json:1:plan: 1 pairs; 2 to"},
		"a trial too few":      {change(`"trials":3`, `"trials":4`), "3 trials and 1 spare draws, and the plan says 4 and 1"},
		"a trial renamed":      {change(`"trial":"T002"`, `"trial":"T003"`), `trial "T003" stands in the place of T002`},
		"a spare draw renamed": {change(`"trial":"S001"`, `"trial":""`), `trial "" stands in the place of S001`},
		"another rule":         {change(`"rule":"blocks"`, `"rule":"coin"`), `the rule "coin"`},
		"other blocks":         {change(`"block":`, `"block":1`), "blocks of"},
	} {
		d, err := app.ReadSchedule("s.json", []byte(c.text))
		var faults *app.FaultsError
		if !errors.As(err, &faults) || d != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// Whatever the text is, it is a schedule or its faults are sentences, and what is
// done with a schedule comes to an end: it is checked, opened with a key that
// opens anything, whole and trial by trial, and written again.
func FuzzReadSchedule(f *testing.F) {
	opened, sealed := string(scheduleJSON(f)), string(scheduleJSON(f, "one", "two"))
	for _, text := range []string{
		opened, sealed, "null", "[[[[", `{"plan":5}`, opened[:200], strings.Replace(sealed, `\"seed\":\"0707`, `\"seed\":\"07`, 1),
		strings.Replace(sealed, `\"most_alike\":0`, `\"most_alike\":1`, 1), strings.ReplaceAll(sealed, `most_alike\":0`, `most_alike\":1`),
		`{"plan":{"pairs":["A","B"],"currents_uA":[1e308],"trials":100000,"repeats":100,"most_alike":1,"spare":100000}}`,
		`{"plan":{"pairs":["A","A","none","\n"],"currents_uA":[-1,0],"trials":-1,"silent":9223372036854775807,"sham":9223372036854775807}}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if len(text) > 1<<14 {
			t.Skip("a schedule of some dozen trials is shorter")
		}
		d, err := app.ReadSchedule("s.json", text)
		if err != nil {
			var faults *app.FaultsError
			if !errors.As(err, &faults) || len(faults.Faults) == 0 {
				t.Fatalf("%v", err)
			}
			for _, fault := range faults.Faults {
				if fault.Row < 1 || fault.Wrong == "" || fault.Expected == "" || strings.ContainsAny(fault.String(), "\n\r\x1b") || strings.Contains(fault.String(), "Go ") {
					t.Fatalf("a fault that is no sentence: %q", fault)
				}
			}
			return
		}
		written, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		again, err := app.ReadSchedule("s.json", written)
		if err != nil {
			t.Fatalf("written again it cannot be read: %v", err)
		}
		if twice, err := json.Marshal(again); err != nil || !reflect.DeepEqual(twice, written) {
			t.Fatalf("written twice it differs: %v", err)
		}
		for _, difference := range app.CheckSchedule(d) {
			if strings.ContainsAny(difference, "\n\r\x1b") {
				t.Fatalf("a difference that is no sentence: %q", difference)
			}
		}
		if whole, err := app.UnsealSchedule(d, "", clearSealer{}, app.Program{}); err == nil && len(app.CheckSchedule(whole)) > 0 {
			t.Fatal("opened, it is not what its seal says")
		}
		for _, trial := range d.Trials {
			if one, err := app.UnsealTrial(d, trial.Trial, "", clearSealer{}); err == nil && len(app.CheckSchedule(one)) > 0 {
				t.Fatalf("trial %s opened, the schedule is not what its seal says", trial.Trial)
			}
		}
	})
}
