package storetest

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

func testAssignments(t *testing.T, open Open) {
	s := open(t)
	want := []app.Assignment{{"active_pair": "A", "current_uA": "6.0"}, {"active_pair": "A", "current_uA": "6.0"}, {"active_pair": "none"}, {}}
	refs, err := s.Guarded.PutAssignments(t.Context(), want)
	if err != nil {
		t.Fatal(err)
	}
	if len(refs) != len(want) || refs[0] == refs[1] {
		t.Errorf("equal assignments must not have equal references: %v", refs)
	}
	for _, ref := range refs {
		if !regexp.MustCompile(`^[0-9a-f]{64}$`).MatchString(ref) {
			t.Errorf("reference %q", ref)
		}
	}
	got, err := s.Guarded.Assignments(t.Context(), Granted(), refs)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("assignments (-put +got):\n%s", diff)
	}
	if _, err := s.Guarded.Assignments(t.Context(), Granted(), []string{refs[0], strings.Repeat("0", 64)}); err == nil {
		t.Error("a reference to nothing was answered")
	}
}

func testOriginals(t *testing.T, open Open) {
	s := open(t)
	want := app.Input{
		"study.toml": []byte("format = 1\r\n\x00\xff"), "empty.csv": {},
		"tracks.csv": bytes.Repeat([]byte("P00001,0.5,12.25,-3\n"), 20_000),
	}
	if err := s.Guarded.PutOriginals(t.Context(), "import 1", want); err != nil {
		t.Fatal(err)
	}
	if err := s.Guarded.PutOriginals(t.Context(), "import 1", app.Input{"study.toml": nil}); err == nil {
		t.Error("the files of an import were written over")
	}
	got, err := s.Guarded.Originals(t.Context(), Granted(), "import 1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("originals (-put +got):\n%s", diff)
	}
	if _, err := s.Guarded.Originals(t.Context(), Granted(), "import 2"); err == nil {
		t.Error("an unknown import was answered")
	}
}

func testResults(t *testing.T, open Open) {
	s := open(t)
	if _, _, err := s.Guarded.LatestResult(t.Context(), Granted(), "findings"); !errors.Is(err, app.ErrNoResult) {
		t.Errorf("latest of none: %v", err)
	}
	put := func(fingerprint, kind, data string) {
		t.Helper()
		if err := s.Guarded.PutResult(t.Context(), fingerprint, kind, []byte(data)); err != nil {
			t.Fatal(err)
		}
	}
	put("other", "exposures", "kept")
	for i := range 10 {
		put(fmt.Sprint("f", i), "findings", fmt.Sprint("result ", i))
	}
	put("f5", "findings", "result 5 again")
	big := strings.Repeat("0123456789", 100_000)
	put("big", "exposures", big)
	for fingerprint, want := range map[string]string{"f0": "", "f1": "", "f2": "result 2", "f5": "result 5 again", "f9": "result 9", "f77": ""} {
		data, err := s.Guarded.Result(t.Context(), Granted(), fingerprint, "findings")
		// Eight of ten are kept; putting f5 again took no other's place.
		if want == "" && !errors.Is(err, app.ErrNoResult) || want != "" && (err != nil || string(data) != want) {
			t.Errorf("%s: %q, %v", fingerprint, data, err)
		}
	}
	if fingerprint, data, err := s.Guarded.LatestResult(t.Context(), Granted(), "findings"); err != nil || fingerprint != "f5" || string(data) != "result 5 again" {
		t.Errorf("latest: %s, %q, %v", fingerprint, data, err)
	}
	if data, err := s.Guarded.Result(t.Context(), Granted(), "big", "exposures"); err != nil || string(data) != big {
		t.Errorf("a large result: %d bytes, %v", len(data), err)
	}
	if data, err := s.Guarded.Result(t.Context(), Granted(), "other", "exposures"); err != nil || string(data) != "kept" {
		t.Errorf("another kind: %q, %v", data, err)
	}
}

func testBlind(t *testing.T, open Open) {
	s := open(t)
	refs, err := s.Guarded.PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Guarded.PutOriginals(t.Context(), "import 1", app.Input{"trials.csv": []byte("trial,active_pair\n")}); err != nil {
		t.Fatal(err)
	}
	if err := s.Guarded.PutResult(t.Context(), "f", "findings", []byte("roles")); err != nil {
		t.Fatal(err)
	}
	var none app.Right
	// Also of what is not there: the answer must not tell what is.
	for _, ref := range []string{refs[0], "nothing"} {
		if got, err := s.Guarded.Assignments(t.Context(), none, []string{ref}); !errors.Is(err, app.ErrBlind) || got != nil {
			t.Errorf("assignments: %v, %v", got, err)
		}
	}
	for _, id := range []string{"import 1", "import 2"} {
		if got, err := s.Guarded.Originals(t.Context(), none, id); !errors.Is(err, app.ErrBlind) || got != nil {
			t.Errorf("originals: %v, %v", got, err)
		}
	}
	for _, kind := range []string{"findings", "exposures"} {
		if got, err := s.Guarded.Result(t.Context(), none, "f", kind); !errors.Is(err, app.ErrBlind) || got != nil {
			t.Errorf("result: %v, %v", got, err)
		}
		if print, got, err := s.Guarded.LatestResult(t.Context(), none, kind); !errors.Is(err, app.ErrBlind) || got != nil || print != "" {
			t.Errorf("latest result: %v, %v", got, err)
		}
	}
	for _, row := range s.Plain(t) {
		if strings.Contains(row, "active_pair") || strings.Contains(row, "roles") {
			t.Errorf("outside the guarded part: %s", row)
		}
	}
}

var sixtyFourDigits = regexp.MustCompile(`[0-9a-f]{64}`)

// testNonInterference makes two studies of the same season that differ only in
// which pairs were active: outside the guarded part they must be the same, but
// for the references, and the hashes over them.
func testNonInterference(t *testing.T, open Open) {
	plain := func(assignments []app.Assignment) (rows []string) {
		s := open(t)
		refs, err := s.Guarded.PutAssignments(t.Context(), assignments)
		if err != nil {
			t.Fatal(err)
		}
		for i, ref := range refs {
			id := fmt.Sprint("T", i)
			mustAppend(t, s, recordTrial(id, "calm"), recordTrack(id), journal.Draft{
				Kind: study.KindAssignment, Subject: id, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"ref": ref}},
			})
		}
		if err := s.Guarded.PutOriginals(t.Context(), "import 1", app.Input{"trials.csv": []byte(assignments[0]["active_pair"])}); err != nil {
			t.Fatal(err)
		}
		if err := s.Guarded.PutResult(t.Context(), "f", "findings", []byte(assignments[0]["active_pair"])); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Journal.Rebuild(t.Context(), nil); err != nil {
			t.Fatal(err)
		}
		for _, row := range s.Plain(t) {
			rows = append(rows, sixtyFourDigits.ReplaceAllString(row, "…"))
		}
		return rows
	}
	a := plain([]app.Assignment{{"active_pair": "A", "current_uA": "6"}, {"active_pair": "B", "current_uA": "6"}, {"active_pair": "none", "current_uA": "6"}})
	b := plain([]app.Assignment{{"active_pair": "none"}, {"active_pair": "A+B", "current_uA": "60.25", "waveform": "sine"}, {"active_pair": "sealed"}})
	if len(a) < 18 {
		t.Fatalf("only %d rows: the test does not look at the store", len(a))
	}
	if diff := cmp.Diff(a, b); diff != "" {
		t.Errorf("what was active shows outside the guarded part:\n%s", diff)
	}
}
