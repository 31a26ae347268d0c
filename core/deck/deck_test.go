package deck_test

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/deck"
)

func TestDefault(t *testing.T) {
	d := deck.Default()
	if f := d.Faults(); len(f) > 0 {
		t.Fatalf("the usual spec has faults: %v", f)
	}
	if len(d.Heights) != 3 || len(d.Checks) < 3 {
		t.Errorf("%d heights, %d checks", len(d.Heights), len(d.Checks))
	}
	// What the trade tells apart, and what passes.csv holds of it (docs/formats/season.md).
	for label, want := range map[string]deck.Response{
		"No turn": {Turned: "no", Bit: "no"}, "Bite": {Turned: "yes", Bit: "yes", Electrode: true},
		"Cannot be scored": {Word: "unscorable"},
	} {
		want.Label = label
		found := false
		for _, r := range d.Responses {
			found = found || r == want
		}
		if !found {
			t.Errorf("no response %+v", want)
		}
	}
	// Each call makes its own lists.
	d.Responses[0].Label = "changed"
	if deck.Default().Responses[0].Label == "changed" {
		t.Error("two callers share one list")
	}
}

func TestFaults(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*deck.Spec)
		place  string // of the only fault
		wrong  string
	}{
		"format":               {func(s *deck.Spec) { s.Format = 0 }, "format", "found 0"},
		"no response":          {func(s *deck.Spec) { s.Responses = nil }, "responses", "there are 0"},
		"many responses":       {func(s *deck.Spec) { s.Responses = manyResponses(25) }, "responses", "there are 25"},
		"many heights":         {func(s *deck.Spec) { s.Heights = manyHeights(13) }, "heights", "there are 13"},
		"many checks":          {func(s *deck.Spec) { s.Checks = manyChecks(21) }, "checks", "there are 21"},
		"one word twice":       {func(s *deck.Spec) { s.Responses[3].Word = "Overshoot" }, "responses/4/word", "responses/3/word"},
		"one label twice":      {func(s *deck.Spec) { s.Responses[1].Label = "no turn" }, "responses/1/label", "responses/0/label"},
		"nothing tells apart":  {func(s *deck.Spec) { s.Responses[3].Word = "" }, "responses/3/word", "No turn"},
		"no label":             {func(s *deck.Spec) { s.Responses[2].Label = "" }, "responses/2/label", "missing"},
		"long label":           {func(s *deck.Spec) { s.Responses[2].Label = strings.Repeat("ü", 61) }, "responses/2/label", "61 characters"},
		"comma":                {func(s *deck.Spec) { s.Responses[3].Word = "shies, away" }, "responses/3/word", "comma"},
		"quotation mark":       {func(s *deck.Spec) { s.Heights[0].Word = `5" up` }, "heights/0/word", "quotation"},
		"formula":              {func(s *deck.Spec) { s.Responses[3].Word = "=A1" }, "responses/3/word", "formula"},
		"line break":           {func(s *deck.Spec) { s.Checks[0].Label = "sand\nbubbles" }, "checks/0/label", "cannot be shown"},
		"blank around":         {func(s *deck.Spec) { s.Checks[0].Word = " sand" }, "checks/0/word", "blanks"},
		"no text":              {func(s *deck.Spec) { s.Checks[0].Word = "a\xff" }, "checks/0/word", "UTF-8"},
		"long word":            {func(s *deck.Spec) { s.Checks[0].Word = strings.Repeat("a", 41) }, "checks/0/word", "41"},
		"no answer":            {func(s *deck.Spec) { s.Responses[0].Turned = "perhaps" }, "responses/0/turned", "perhaps"},
		"bit without a turn":   {func(s *deck.Spec) { s.Responses[2].Turned = "no" }, "responses/2/turned", "without turning"},
		"electrode of no bite": {func(s *deck.Spec) { s.Responses[0].Electrode = true }, "responses/0/electrode", "bit is not yes"},
		"upside down":          {func(s *deck.Spec) { s.Heights[1].LowCM = 30 }, "heights/1/high_cm", "not above"},
		"as low as high":       {func(s *deck.Spec) { s.Heights[1].HighCM = 5 }, "heights/1/high_cm", "not above"},
		"below the bottom":     {func(s *deck.Spec) { s.Heights[0].LowCM = -1 }, "heights/0/low_cm", "-1"},
		"infinite":             {func(s *deck.Spec) { s.Heights[2].HighCM = math.Inf(1) }, "heights/2/high_cm", "no number"},
		"no number":            {func(s *deck.Spec) { s.TrialMin = math.NaN() }, "trial_min", "no number"},
		"a week":               {func(s *deck.Spec) { s.WashoutMin = 10080 }, "washout_min", "10080"},
		"negative":             {func(s *deck.Spec) { s.WashoutMin = -1 }, "washout_min", "-1"},
	} {
		t.Run(name, func(t *testing.T) {
			s := deck.Default()
			c.change(&s)
			faults := s.Faults()
			if len(faults) != 1 || faults[0].Place != c.place || !strings.Contains(faults[0].Wrong, c.wrong) || faults[0].Expected == "" {
				t.Fatalf("faults: %v", faults)
			}
			if strings.ContainsRune(faults[0].String(), 0xFFFD) && name != "no text" {
				t.Errorf("%s", faults[0])
			}
			text, err := s.Text()
			if err != nil {
				return // JSON has no infinity and no NaN
			}
			if _, err := deck.Parse(text); name != "no text" && (err == nil || !strings.Contains(err.Error(), c.place)) {
				t.Errorf("read: %v", err)
			}
		})
	}
	if f := (deck.Spec{}).Faults(); len(f) != 2 {
		t.Errorf("an empty spec: %v", f)
	}
}

func manyResponses(n int) (out []deck.Response) {
	for i := range n {
		w := strings.Repeat("a", i+1)
		out = append(out, deck.Response{Word: w, Label: w})
	}
	return out
}

func manyHeights(n int) (out []deck.Height) {
	for i := range n {
		out = append(out, deck.Height{Word: strings.Repeat("a", i+1), HighCM: 1})
	}
	return out
}

func manyChecks(n int) (out []deck.Check) {
	for i := range n {
		w := strings.Repeat("a", i+1)
		out = append(out, deck.Check{Word: w, Label: w})
	}
	return out
}

func TestParseRefuses(t *testing.T) {
	good, err := deck.Default().Text()
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"": "EOF", "null": "format", "[]": "array", good + "x": "behind", good + "{}": "behind",
		`{"format":2,"responses":[],"depth":3}`:                         "newer program",
		strings.Replace(good, `"format":1`, `"format":1,"colour":1`, 1): "colour",
		strings.Replace(good, `"no"`, `"never"`, 1):                     "responses/0/turned",
		`{"format":1` + strings.Repeat(" ", 70_000) + `}`:               "bytes",
		strings.Replace(good, `"low_cm":0`, `"low_cm":1e999`, 1):        "low_cm",
	} {
		if _, err := deck.Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60s: %v; want %q", text, err, want)
		}
	}
}

// genSpec makes specs, most of them with no fault.
func genSpec(t *rapid.T) deck.Spec {
	word := rapid.OneOf(rapid.StringMatching(`[a-zäø][a-zäø0-9 ]{0,12}[a-z]`), rapid.String())
	answer := rapid.SampledFrom([]deck.Answer{"", "yes", "no"})
	number := rapid.OneOf(rapid.Float64Range(0, 60), rapid.Float64())
	s := deck.Spec{Format: 1, TrialMin: rapid.Float64Range(0, 1440).Draw(t, "trial"), WashoutMin: rapid.Float64Range(0, 1440).Draw(t, "washout")}
	for range rapid.IntRange(0, 5).Draw(t, "responses") {
		s.Responses = append(s.Responses, deck.Response{
			Word: word.Draw(t, "word"), Label: word.Draw(t, "label"), Turned: answer.Draw(t, "turned"), Bit: answer.Draw(t, "bit"), Electrode: rapid.Bool().Draw(t, "electrode"),
		})
	}
	for range rapid.IntRange(0, 4).Draw(t, "heights") {
		s.Heights = append(s.Heights, deck.Height{Word: word.Draw(t, "height"), LowCM: number.Draw(t, "low"), HighCM: number.Draw(t, "high")})
	}
	for range rapid.IntRange(0, 4).Draw(t, "checks") {
		s.Checks = append(s.Checks, deck.Check{Word: word.Draw(t, "check"), Label: word.Draw(t, "what")})
	}
	return s
}

// What has no faults is read back as it was written, and its text is the only one.
// What has faults is never read.
func TestTextOfAnySpec(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := genSpec(t)
		faults := s.Faults()
		for _, f := range faults {
			if f.Place == "" || f.Wrong == "" || f.Expected == "" {
				t.Fatalf("half a fault: %+v", f)
			}
		}
		text, err := s.Text()
		if err != nil {
			t.Fatal(err) // the numbers are finite
		}
		back, err := deck.Parse(text)
		if (err == nil) != (len(faults) == 0) {
			t.Fatalf("faults %v, read: %v", faults, err)
		}
		if err != nil {
			return
		}
		again, err := back.Text()
		if err != nil || again != text {
			t.Fatalf("%s\nagain %s, %v", text, again, err)
		}
		var loose any
		if err := json.Unmarshal([]byte(text), &loose); err != nil || strings.Contains(text, "null") && !strings.Contains(strings.Join(wordsOf(s), " "), "null") {
			t.Fatalf("%v: %s", err, text)
		}
		if len(s.Responses) == len(back.Responses) && len(s.Responses) > 0 && !reflect.DeepEqual(s.Responses, back.Responses) {
			t.Fatalf("%v became %v", s.Responses, back.Responses)
		}
	})
}

func wordsOf(s deck.Spec) (out []string) {
	for _, r := range s.Responses {
		out = append(out, r.Word, r.Label)
	}
	for _, h := range s.Heights {
		out = append(out, h.Word)
	}
	for _, c := range s.Checks {
		out = append(out, c.Word, c.Label)
	}
	return out
}

// FuzzParse: no text makes it panic, and what is read has no faults and one text.
func FuzzParse(f *testing.F) {
	good, err := deck.Default().Text()
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{good, "{}", "null", `{"format":1,"responses":[{"label":"x"}]}`, `{"format":1,"responses":[{"label":"é","turned":"no","bit":"yes"}]}`, `{"format":1e0}`} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := deck.Parse(text)
		if err != nil {
			return
		}
		if faults := s.Faults(); len(faults) > 0 {
			t.Fatalf("read with faults: %v", faults)
		}
		one, err := s.Text()
		if err != nil {
			t.Fatal(err)
		}
		back, err := deck.Parse(one)
		if err != nil || !reflect.DeepEqual(back, s) {
			t.Fatalf("%+v became %+v, %v", s, back, err)
		}
	})
}
