package sqlite

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinefield/core/journal"
)

// A test that kills a process starts this test binary again: the variable
// names the part to play and the study's folder.
const childVariable = "BRINEFIELD_SQLITE_CHILD"

// playChild is the process that gets killed.
func playChild(play string) int {
	part, dir, _ := strings.Cut(play, " ")
	opt, _ := options()
	opt.Random = freshRandom()
	if part == "migrate" {
		opt.migrations = inventedSteps(&testing.T{}, 3)
	}
	opt.BeforeMigration = func(int64, int64) error {
		fmt.Println("begin")
		return nil
	}
	s, err := Open(dir, opt)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	for i := 0; part == "append"; i++ {
		entries, err := s.Journal().Append(context.Background(), []journal.Draft{trial(fmt.Sprint("K", i), "calm"), track(fmt.Sprint("K", i))})
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 2
		}
		fmt.Println(entries[1].ID) // acknowledged
	}
	if part == "receive" {
		return playReceiver(s)
	}
	return 0
}

// receiveBatch is how many entries the process that gets killed takes in at once.
const receiveBatch = 40

// playReceiver takes in what two tablets go on to write, in batches of both whose
// entries are about the same records, the clock of one behind the other.
func playReceiver(s *Study) int {
	fail := func(err error) int {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	h, err := s.Journal().Head(context.Background())
	if err != nil {
		return fail(err)
	}
	heads := [2]journal.Head{h.Devices["tablet-0"], h.Devices["tablet-1"]}
	for i := heads[0].Seq; ; i++ {
		var lines [][]byte
		for k := range receiveBatch {
			d := k % 2
			stamp := journal.Stamp{Wall: time.Date(2026, 6, 11, 10, 0, d*30, 0, time.UTC).Add(time.Duration(i) * time.Second), Run: "r"}
			stamp.Random = [10]byte{byte(d), byte(k), byte(i), byte(i >> 8)}
			_, canonical, head, err := journal.Seal(heads[d], fmt.Sprint("tablet-", d), trial(fmt.Sprint("R", k/2), fmt.Sprint(i)), stamp)
			if err != nil {
				return fail(err)
			}
			heads[d] = head
			lines = append(lines, canonical)
		}
		if _, err := s.Journal().Receive(context.Background(), lines); err != nil {
			return fail(err)
		}
		fmt.Println(heads[1].ID) // acknowledged
	}
}

// killed runs a part on a study until a moment after its first line, and gives
// the whole lines that it had printed; took is how long it ran after that line if it
// ended by itself, else 0.
func killed(t *testing.T, part, dir string, after time.Duration) (lines []string, took time.Duration) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childVariable+"="+part+" "+dir)
	began := make(chan struct{})
	out := &firstLine{began: began}
	var stderr bytes.Buffer
	c.Stdout, c.Stderr = out, &stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	select {
	case <-began:
	case err := <-ended:
		t.Fatalf("ended before it began: %v %s", err, stderr.String())
	case <-time.After(time.Minute):
		_ = c.Process.Kill()
		t.Fatal("did not begin")
	}
	start := time.Now()
	select {
	case err := <-ended:
		if err != nil {
			t.Fatalf("%v %s", err, stderr.String())
		}
		took = time.Since(start)
	case <-time.After(after):
		_ = c.Process.Kill()
		<-ended
	}
	text := out.text.String()
	return strings.Fields(text[:strings.LastIndex(text, "\n")+1]), took
}

// firstLine tells when the first line has come.
type firstLine struct {
	text  bytes.Buffer
	began chan struct{}
}

func (f *firstLine) Write(p []byte) (int, error) {
	if f.text.Len() == 0 {
		close(f.began)
	}
	return f.text.Write(p)
}

// checkKilled opens the study again and looks at every page, link and record.
func checkKilled(t *testing.T, dir string, opt Options) *Study {
	t.Helper()
	s := mustOpen(t, dir, opt)
	if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
		t.Fatalf("after a kill: %q, %v", wrong, err)
	}
	return s
}

func killDuringAppend(t *testing.T, times int, longest time.Duration) {
	dir := t.TempDir()
	mustClose(t, mustCreate(t, dir))
	chance := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 1))
	acknowledged := 0
	for range times {
		ids, _ := killed(t, "append", dir, time.Duration(chance.Int64N(int64(longest))))
		opt, _ := options()
		opt.Random = freshRandom()
		s := checkKilled(t, dir, opt)
		for _, id := range ids {
			if _, err := s.Journal().Entry(t.Context(), id); err != nil {
				t.Fatalf("acknowledged, then lost: %s: %v", id, err)
			}
		}
		acknowledged += len(ids)
		h, err := s.Journal().Head(t.Context())
		if err != nil || h.Entries%2 != 0 {
			t.Fatalf("half an append: %d entries, %v", h.Entries, err)
		}
		if len(h.Devices) != 1 {
			t.Fatalf("a kill made %d devices of one", len(h.Devices))
		}
		mustClose(t, s)
	}
	t.Logf("killed %d times during appends: all %d acknowledged appends kept", times, acknowledged)
}

func killDuringReceive(t *testing.T, times int, longest time.Duration) {
	dir := t.TempDir()
	mustClose(t, mustCreate(t, dir))
	chance := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 3))
	acknowledged := 0
	for range times {
		ids, _ := killed(t, "receive", dir, time.Duration(chance.Int64N(int64(longest))))
		opt, _ := options()
		opt.Random = freshRandom()
		s := checkKilled(t, dir, opt)
		for _, id := range ids {
			if _, err := s.Journal().Entry(t.Context(), id); err != nil {
				t.Fatalf("acknowledged, then lost: %s: %v", id, err)
			}
		}
		acknowledged += len(ids)
		h, err := s.Journal().Head(t.Context())
		if err != nil || h.Entries%receiveBatch != 0 || h.Devices["tablet-0"].Seq != h.Devices["tablet-1"].Seq {
			t.Fatalf("half a batch: %d entries, %v", h.Entries, err)
		}
		mustClose(t, s)
	}
	t.Logf("killed %d times while taking in: all %d acknowledged batches kept, none in part", times, acknowledged)
}

func killDuringMigration(t *testing.T, times int) {
	stored := t.TempDir()
	s := mustCreate(t, stored)
	appendTrials(t, s, 1000)
	want := dump(t, s.read)
	mustClose(t, s)
	chance := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 2))
	versions := map[int64]int{}
	took := 200 * time.Millisecond
	for range times {
		dir := filepath.Join(t.TempDir(), "study")
		if err := os.CopyFS(dir, os.DirFS(stored)); err != nil {
			t.Fatal(err)
		}
		if _, ran := killed(t, "migrate", dir, time.Duration(chance.Int64N(int64(took)+1))); ran > 0 {
			took = min(took, ran) // the next one within the time that it needs
		}
		look, err := (&Study{name: "study", dir: dir}).look(t.Context(), StudyFile, thoroughFull)
		if err != nil {
			t.Fatal(err)
		}
		versions[look.version]++
		opt, _ := options()
		opt.Random = freshRandom()
		opt.migrations = inventedSteps(t, max(1, int(look.version)))
		before := checkKilled(t, dir, opt) // whole in the version that it has
		if got := dump(t, before.read); strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Fatalf("version %d: the study was changed", look.version)
		}
		mustClose(t, before)
		opt.migrations = inventedSteps(t, 3)
		after := checkKilled(t, dir, opt)
		if got := queryAll(t, after.read, "SELECT count(*), count(more) FROM invented"); got[0] != "1000|1000|" {
			t.Fatalf("from version %d the steps came to %v", look.version, got)
		}
		mustClose(t, after)
	}
	t.Logf("killed %d times during migrations: versions left, each whole: %v", times, versions)
}

// A few kills in every run; make soak makes many.
func TestKilled(t *testing.T) {
	killDuringAppend(t, 3, 60*time.Millisecond)
	killDuringReceive(t, 3, 60*time.Millisecond)
	killDuringMigration(t, 3)
}
