package access

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func (b *bench) pairedAs(t *testing.T, name string, was ...string) (Device, string) {
	t.Helper()
	text, _, err := b.NewCode("S", Scorer, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	d, token, err := b.Pair(text, name, was...)
	if err != nil {
		t.Fatal(err)
	}
	return d, token
}

func TestEveryDeviceWritesUnderANameOfItsOwn(t *testing.T) {
	b := keeper(t)
	seen := map[string]bool{}
	for i := range 300 {
		d, _ := b.pairedAs(t, fmt.Sprint("tablet ", i))
		if len(d.Writes) != 1 || !regexp.MustCompile(`^deck-[0-9a-f]{4}$`).MatchString(d.Writes[0]) || d.Writes[0] != "deck-"+d.ID[:4] {
			t.Fatalf("device %s writes as %q", d.ID, d.Writes)
		}
		if seen[d.Writes[0]] { // 300 of 65 536 at random: two alike in one of two runs
			t.Fatalf("%q twice", d.Writes[0])
		}
		seen[d.Writes[0]] = true
	}
	same, err := New(&memory{}, time.Now, bytes.NewReader(bytes.Repeat([]byte{0xab}, 20000)))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		text, _, err := same.NewCode("S", Lead, "Ada")
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err = same.Pair(text, "x"); i == 0 && err != nil || i == 1 && err == nil {
			t.Errorf("chance that repeats itself, device %d: %v", i, err)
		}
	}
}

func TestATabletGoesOnAsItself(t *testing.T) {
	b := keeper(t)
	old, oldToken := b.pairedAs(t, "tablet of the stern")
	other, otherToken := b.pairedAs(t, "tablet of the bow")
	name := old.Writes[0]
	if err := b.SetRole(old.ID, "T", Lead, "Ada"); err != nil {
		t.Fatal(err)
	}
	again, token := b.pairedAs(t, "stern, again", name, name+"-2", "deck-0a0b-13")
	if diff := cmp.Diff([]string{name, "deck-0a0b"}, again.Writes); diff != "" {
		t.Error(diff)
	}
	if got, err := b.Admit(token, "deck-sync", "S"); err != nil || !slices.Equal(got.Writes, again.Writes) {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := b.Admit(token, "deck", "T"); !errors.Is(err, ErrRight) {
		t.Errorf("a code for one study gave a role in another: %v", err)
	}
	if _, err := b.Admit(oldToken, "deck-sync", "S"); !errors.Is(err, ErrToken) {
		t.Errorf("the token of before: %v", err)
	}
	if got, err := b.Admit(otherToken, "deck-sync", "S"); err != nil || !slices.Equal(got.Writes, other.Writes) {
		t.Errorf("a tablet that has nothing to do with it: %+v, %v", got, err)
	}
	var said []string
	for _, e := range b.Audit() {
		if e.What == TookOver {
			said = append(said, e.Name+" "+e.Why)
		}
	}
	want := []string{
		"stern, again goes on as " + name + ", which was tablet of the stern's and whose token is worth nothing from now on", "stern, again goes on as deck-0a0b",
	}
	if diff := cmp.Diff(want, said); diff != "" {
		t.Error(diff)
	}
	for _, d := range b.Devices() {
		if d.ID != again.ID && slices.Contains(d.Writes, name) {
			t.Errorf("two devices write as %s", name)
		}
	}
	if fresh, _ := b.pairedAs(t, "a new one"); fresh.Writes[0] == name || fresh.ID[:4] == old.ID[:4] {
		t.Error("a new device got a name that was in use")
	}
	if _, err := New(b.store, time.Now, nil); err != nil {
		t.Errorf("what was kept cannot be read: %v", err)
	}
}

func TestNamesFromBeforeAreNoWayIn(t *testing.T) {
	b := keeper(t)
	victim, token := b.pairedAs(t, "tablet")
	text, _, err := b.NewCode("S", Guest, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	for _, was := range [][]string{{"laptop-1"}, {""}, {"deck-"}, {"deck-XYZ1"}, {"deck-7c1e-"}, {"deck-7c1e-2-3"}, {"deck-7c1e\n"}, slices.Repeat([]string{"deck-7c1e"}, MostNames+1)} {
		if _, _, err := b.Pair(text, "x", was...); !errors.Is(err, ErrBad) {
			t.Errorf("%q: %v", was, err)
		}
	}
	if _, _, err := b.Pair("AAAA-AAAA", "x", victim.Writes...); !errors.Is(err, ErrCode) {
		t.Errorf("a wrong code: %v", err)
	}
	if got, err := b.Admit(token, "deck-sync", "S"); err != nil || len(got.Writes) != 1 {
		t.Errorf("names were taken without a good code: %+v, %v", got, err)
	}
	b.store.err = errors.New("the disc is full")
	if _, _, err := b.Pair(text, "x", victim.Writes...); err == nil {
		t.Error("let in without a line on the disc")
	}
	if got, err := b.Admit(token, "deck-sync", "S"); err != nil || len(got.Writes) != 1 {
		t.Errorf("names were taken by a pairing that failed: %+v, %v", got, err)
	}
}

func TestTokensEnd(t *testing.T) {
	b := keeper(t)
	d, token := b.pairedAs(t, "tablet")
	b.now = b.now.Add(TokenLife - 1)
	if _, err := b.Admit(token, "deck-sync", "S"); err != nil {
		t.Errorf("in the last instant: %v", err)
	}
	b.now = b.now.Add(1)
	_, err := b.Admit(token, "deck-sync", "S")
	if !errors.Is(err, ErrEnded) || !errors.Is(err, ErrToken) || !d.Ends().Equal(b.now) {
		t.Errorf("after 90 days: %v", err)
	}
	if _, err := b.Bearer(token, "deck-me"); !errors.Is(err, ErrEnded) {
		t.Errorf("after 90 days: %v", err)
	}
	if _, again := b.pairedAs(t, "tablet", d.Writes...); again == token {
		t.Error("the token of before is given again")
	}
	if last := b.Audit()[3]; last.Why != "a token that ended" || last.Device != d.ID {
		t.Errorf("%+v", last)
	}
}

func TestTheCodeThatIsShown(t *testing.T) {
	b := keeper(t)
	if _, good := b.CodeEnds(); good {
		t.Error("a code is good before one was made")
	}
	text, ends, _ := b.NewCode("S", Guest, "Ada")
	if got, good := b.CodeEnds(); !good || !got.Equal(ends) {
		t.Errorf("%v, %v", got, good)
	}
	b.now = ends
	if _, good := b.CodeEnds(); good {
		t.Error("a code is good after its end")
	}
	b.now = ends.Add(-time.Second)
	if _, _, err := b.Pair(text, "x"); err != nil {
		t.Fatal(err)
	}
	if _, good := b.CodeEnds(); good {
		t.Error("a code is good after it was used")
	}
}

func TestWhoSawWhat(t *testing.T) {
	b := keeper(t)
	d, token := b.pairedAs(t, "tablet")
	first := b.now
	for _, ask := range []struct{ operation, study string }{
		{"deck", "S"}, {"deck-sync", "S"}, {"deck", "S"}, {"card", "S"}, {"deck", "T"}, {"deck-me", ""}, {"stimulus-range", ""}, {"deck", "S"},
	} {
		b.now = b.now.Add(time.Second)
		_, _ = b.Admit(token, ask.operation, ask.study)
	}
	want := []Sight{ // neither what was refused nor what tells nothing
		{Device: d.ID, Study: "S", Operation: "deck", First: first.Add(time.Second), Last: first.Add(8 * time.Second), Times: 3},
		{Device: d.ID, Study: "S", Operation: "deck-sync", First: first.Add(2 * time.Second), Last: first.Add(2 * time.Second), Times: 1},
		{Device: d.ID, Operation: "stimulus-range", First: first.Add(7 * time.Second), Last: first.Add(7 * time.Second), Times: 1},
	}
	if diff := cmp.Diff(want, b.Sights()); diff != "" {
		t.Error(diff)
	}
	if err := b.Flush(); err != nil {
		t.Fatal(err)
	}
	again, err := New(b.store, time.Now, nil)
	if err != nil || len(again.Sights()) != 3 {
		t.Errorf("after a restart: %d lines, %v", len(again.Sights()), err)
	}
}

func TestWhoSawWhatIsBounded(t *testing.T) {
	b := keeper(t)
	for range mostSights + 500 {
		b.now = b.now.Add(time.Millisecond)
		b.see(b.now, fmt.Sprint(rand.Uint64()), "S", "deck")
	}
	b.see(b.now, "last", "S", "deck")
	got := b.Sights()
	if len(got) != mostSights || got[len(got)-1].Device != "last" || b.state.DroppedSights != 501 {
		t.Errorf("%d lines, %d dropped, the last is %+v", len(got), b.state.DroppedSights, got[len(got)-1])
	}
}

func TestADamagedListOfNames(t *testing.T) {
	whole := func() State {
		b := keeper(t)
		b.pairedAs(t, "a")
		b.pairedAs(t, "b")
		return b.copy()
	}
	for name, damage := range map[string]func(*State){
		"a name twice":          func(s *State) { s.Devices[1].Writes = s.Devices[0].Writes },
		"a name of the laptop":  func(s *State) { s.Devices[1].Writes = []string{"laptop-1"} },
		"a number behind":       func(s *State) { s.Devices[1].Writes[0] += "-2" },
		"an empty name":         func(s *State) { s.Devices[1].Writes = []string{""} },
		"a name with capitals":  func(s *State) { s.Devices[1].Writes[0] = strings.ToUpper(s.Devices[1].Writes[0]) },
		"one name twice in one": func(s *State) { s.Devices[1].Writes = append(s.Devices[1].Writes, s.Devices[1].Writes[0]) },
	} {
		s := whole()
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		if damage(&s); s.Check() == nil {
			t.Errorf("%s: somebody may write by it", name)
		}
	}
}
