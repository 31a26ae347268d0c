package sealing_test

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"brinefield/internal/app"
	"brinefield/internal/sealing"
)

// keys are those of a lead and of a recovery sheet.
func keys(t *testing.T) (public, secret [2]string) {
	t.Helper()
	for i := range public {
		var err error
		if public[i], secret[i], err = (sealing.Sealer{}).NewKey(); err != nil {
			t.Fatal(err)
		}
	}
	return public, secret
}

func plan() app.SchedulePlan {
	return app.SchedulePlan{Pairs: []string{"north", "E"}, CurrentsUA: []float64{6, 12.5}, Trials: 14, Silent: 2, Sham: 1, OdourOff: 1, DrawPolarity: true, Spare: 3}
}

func sealed(t *testing.T, publics []string) *app.ScheduleDocument {
	t.Helper()
	d, err := app.DrawSchedule(app.ScheduleQuestion{Plan: plan(), SealTo: publics}, sealing.Sealer{}, rand.Reader, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

// Either key opens the schedule by itself: the lead's, and after its loss the
// one that was printed for recovery.
func TestEitherKeyOpens(t *testing.T) {
	public, secret := keys(t)
	d := sealed(t, public[:])
	var opened [2]*app.ScheduleDocument
	for i, s := range secret {
		var err error
		if opened[i], err = app.UnsealSchedule(d, "# a comment\n\n"+s+"\n", sealing.Sealer{}, app.Program{}); err != nil {
			t.Fatal(err)
		}
		if differences := app.CheckSchedule(opened[i]); len(differences) > 0 {
			t.Errorf("opened with key %d: %v", i, differences)
		}
	}
	active := 0
	for i := range opened[0].Trials {
		if opened[0].Trials[i].ActivePair != opened[1].Trials[i].ActivePair {
			t.Errorf("trial %d differs between the keys", i)
		}
		if opened[0].Trials[i].Kind == "active" {
			active++
		}
	}
	if active != 11 || len(opened[0].Spare) != 3 {
		t.Errorf("%d driven trials, %d spare; the plan has 11 and 3", active, len(opened[0].Spare))
	}
	if opened[0].Seal != d.Seal {
		t.Error("opening changed the seal")
	}
}

// A sealed schedule tells nothing but its plan: nothing that differs from trial
// to trial has another length or another key.
func TestSealedTellsNothing(t *testing.T) {
	public, _ := keys(t)
	lengths := map[int]bool{}
	for range 6 {
		d := sealed(t, public[:])
		if d.Seed != nil || d.Balance != nil || d.Chance != nil {
			t.Errorf("a sealed schedule has %v, %v, %v", d.Seed, d.Balance, d.Chance)
		}
		text, err := json.Marshal(slices.Concat(d.Trials, d.Spare))
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"north", "active", "current", "kind", "odour", "nonce", "sham", "silent"} {
			if bytes.Contains(text, []byte(word)) {
				t.Errorf("the trials of a sealed schedule say %q", word)
			}
		}
		for _, trial := range d.Trials {
			lengths[len(trial.Sealed)] = true
		}
		whole, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		lengths[-len(whole)] = true
	}
	if len(lengths) != 2 {
		t.Errorf("sealed trials, or whole documents, of several lengths: %v", lengths)
	}
}

func TestOneTrialIsOpenedAlone(t *testing.T) {
	public, secret := keys(t)
	d := sealed(t, public[:])
	whole, err := app.UnsealSchedule(d, secret[0], sealing.Sealer{}, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	one, err := app.UnsealTrial(d, "T005", secret[1], sealing.Sealer{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range one.Trials {
		trial := one.Trials[i]
		switch {
		case trial.Trial != "T005" && (trial.ActivePair != "" || trial.Nonce != ""):
			t.Errorf("trial %s came open too", trial.Trial)
		case trial.Trial == "T005" && (trial.ActivePair != whole.Trials[i].ActivePair || *trial.CurrentUA != *whole.Trials[i].CurrentUA || trial.Nonce != whole.Trials[i].Nonce):
			t.Errorf("opened alone %+v, with all %+v", trial, whole.Trials[i])
		}
	}
	if d.Trials[4].ActivePair != "" {
		t.Error("the sealed document was opened too")
	}
	if differences := app.CheckSchedule(one); len(differences) > 0 {
		t.Error(differences)
	}
	if _, err := app.UnsealTrial(d, "T099", secret[0], sealing.Sealer{}); err == nil {
		t.Error("a trial that is not there was opened")
	}
}

// Whatever is changed after the sealing is found, with and without a key.
func TestChangesAreFound(t *testing.T) {
	public, secret := keys(t)
	for name, change := range map[string]func(d *app.ScheduleDocument){
		"the plan":            func(d *app.ScheduleDocument) { d.Plan.MostAlike = 2 },
		"two trials swapped":  func(d *app.ScheduleDocument) { d.Trials[1], d.Trials[2] = d.Trials[2], d.Trials[1] },
		"a commitment":        func(d *app.ScheduleDocument) { d.Trials[3].Commitment = d.Trials[4].Commitment },
		"an encrypted trial":  func(d *app.ScheduleDocument) { d.Trials[3].Sealed = d.Trials[4].Sealed },
		"the seal":            func(d *app.ScheduleDocument) { d.Seal = strings.Repeat("0", 64) },
		"a spare draw":        func(d *app.ScheduleDocument) { d.Spare[0].Commitment = d.Spare[1].Commitment },
		"an opened pair":      func(d *app.ScheduleDocument) { open(t, d, secret[0]).ActivePair = "E or north" },
		"an opened current":   func(d *app.ScheduleDocument) { *open(t, d, secret[0]).CurrentUA += 1 },
		"an opened odour":     func(d *app.ScheduleDocument) { o := open(t, d, secret[0]).Odour; *o = !*o },
		"a nonce taken away":  func(d *app.ScheduleDocument) { open(t, d, secret[0]).Nonce = "" },
		"a commitment broken": func(d *app.ScheduleDocument) { d.Trials[0].Commitment = "xyz" },
	} {
		d := sealed(t, public[:])
		change(d)
		if differences := app.CheckSchedule(d); len(differences) == 0 {
			t.Errorf("%s: nothing found", name)
		}
		if _, err := app.UnsealSchedule(d, secret[0], sealing.Sealer{}, app.Program{}); strings.Contains(name, "opened") || strings.Contains(name, "nonce") {
			continue // the key opens what was sealed, whatever stands beside it
		} else if !errors.Is(err, app.ErrNotSealed) {
			t.Errorf("%s: with the key: %v", name, err)
		}
	}
}

// open opens the whole document in place and gives one trial.
func open(t *testing.T, d *app.ScheduleDocument, secret string) *app.ScheduledTrial {
	t.Helper()
	opened, err := app.UnsealSchedule(d, secret, sealing.Sealer{}, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	*d = *opened
	return &d.Trials[2]
}

func TestKeysThatWillNotDo(t *testing.T) {
	public, secret := keys(t)
	_, otherSecret := keys(t)
	d := sealed(t, public[:])
	if _, err := app.UnsealSchedule(d, otherSecret[0], sealing.Sealer{}, app.Program{}); !errors.Is(err, app.ErrKey) {
		t.Errorf("a stranger's key: %v", err)
	}
	for _, text := range []string{"", "hello", public[0], secret[0][:20]} {
		if _, err := app.UnsealSchedule(d, text, sealing.Sealer{}, app.Program{}); !errors.Is(err, app.ErrKey) {
			t.Errorf("key %q: %v", text, err)
		}
	}
	damaged := *d
	damaged.Sealed = strings.Replace(d.Sealed, "\n", "\nAAAA", 3)
	if _, err := app.UnsealSchedule(&damaged, secret[0], sealing.Sealer{}, app.Program{}); !errors.Is(err, app.ErrKey) {
		t.Errorf("damaged: %v", err)
	}
	seed := uint64(7)
	for name, q := range map[string]app.ScheduleQuestion{
		"one key":          {Plan: plan(), SealTo: public[:1]},
		"one key twice":    {Plan: plan(), SealTo: []string{public[0], public[0]}},
		"no public key":    {Plan: plan(), SealTo: []string{public[0], secret[1]}},
		"a seed beside it": {Plan: plan(), SealTo: public[:], Seed: &seed},
	} {
		if _, err := app.DrawSchedule(q, sealing.Sealer{}, rand.Reader, app.Program{}); err == nil {
			t.Errorf("%s: sealed", name)
		} else if strings.Contains(err.Error(), "AGE-SECRET-KEY") && name == "no public key" {
			t.Errorf("a secret key is repeated in an error: %v", err)
		}
	}
}

// Without a source of randomness nothing is drawn.
func TestNoRandomnessNoSchedule(t *testing.T) {
	public, _ := keys(t)
	for _, q := range []app.ScheduleQuestion{{Plan: plan()}, {Plan: plan(), SealTo: public[:]}} {
		if _, err := app.DrawSchedule(q, sealing.Sealer{}, strings.NewReader("few"), app.Program{}); err == nil {
			t.Error("drawn from three bytes")
		}
	}
}

// The script beside the documents, which shares no code with this program,
// finds the same seal in whole numbers and decimals and letters of any kind.
func TestTheScriptFindsTheSameSeal(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("there is no python3 here")
	}
	public, secret := keys(t)
	q := app.ScheduleQuestion{Plan: plan(), SealTo: public[:]}
	q.Plan.Pairs = []string{"Süd", "<E>", "3"}
	d, err := app.DrawSchedule(q, sealing.Sealer{}, rand.Reader, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	opened, err := app.UnsealSchedule(&d, secret[0], sealing.Sealer{}, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	run := func(d *app.ScheduleDocument) (string, error) {
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "schedule.json")
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := exec.Command(python, "../../examples/05-check-a-seal/check_seal.py", file).CombinedOutput()
		return string(said), err
	}
	if said, err := run(&d); err != nil || !strings.Contains(said, "17 trials, 0 of them opened: the seal holds") {
		t.Errorf("sealed: %v, %s", err, said)
	}
	if said, err := run(opened); err != nil || !strings.Contains(said, "17 trials, 17 of them opened: the seal holds") {
		t.Errorf("opened: %v, %s", err, said)
	}
	*opened.Trials[3].CurrentUA += 0.5
	if said, err := run(opened); err == nil || !strings.Contains(said, "T004 is not what was committed to") {
		t.Errorf("changed: %v, %s", err, said)
	}
}
