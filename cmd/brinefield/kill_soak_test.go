//go:build soak && unix

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"maps"
	mathrand "math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

// A process of its own works on a study until it is killed. It says on its
// standard output what was acknowledged, after it was.
const (
	workVariable  = "BRINEFIELD_TEST_WORK"
	shelfVariable = "BRINEFIELD_TEST_SHELF"
	fromVariable  = "BRINEFIELD_TEST_FROM"
	kills         = 150 // with the 50 of migrations (internal/sqlite) 200
	killSeed      = 20261125
)

func init() {
	work := map[string]func(*app.Studies, int) error{"edit": editOn, "import": importOn, "create": createOn}[os.Getenv(workVariable)]
	if work == nil {
		return
	}
	from, _ := strconv.Atoi(os.Getenv(fromVariable))
	if err := work(studiesOn(os.Getenv(shelfVariable)), from); err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
	os.Exit(0)
}

// editOn changes the note of one pass after another and takes every third
// change back.
func editOn(studies *app.Studies, from int) error {
	ctx := context.Background()
	study, err := studies.Study(ctx, "s")
	if err != nil {
		return err
	}
	fmt.Println("ready")
	for n := from; ; n++ {
		change, err := noteChange(ctx, study, n)
		if err != nil {
			return err
		}
		done, err := study.Edit(ctx, app.EditRequest{Author: "Muireann", Changes: []app.CellChange{change}})
		if err != nil {
			return err
		}
		fmt.Println("acknowledged", done.Entries[0].Entry)
		if n%3 != 0 {
			continue
		}
		done, err = study.Undo(ctx, app.UndoRequest{Entry: done.Entries[0].Entry})
		if err != nil {
			return err
		}
		fmt.Println("acknowledged", done.Entries[0].Entry)
	}
}

func noteChange(ctx context.Context, study *app.Study, n int) (app.CellChange, error) {
	table, err := study.Table(ctx, "pass", 0, 5000)
	if err != nil {
		return app.CellChange{}, err
	}
	row := table.Rows[n%len(table.Rows)]
	for i, column := range table.Columns {
		if column.Name == "note" {
			return app.CellChange{Kind: "pass", ID: row.ID, Field: "note", From: row.Cells[i], To: fmt.Sprintf("note %d", n)}, nil
		}
	}
	return app.CellChange{}, errors.New("passes have no column note")
}

// importOn imports one corrected folder after another: in each, every trial
// has the same new note.
func importOn(studies *app.Studies, from int) error {
	fmt.Println("ready")
	for n := from; ; n++ {
		in, err := corrected(n)
		if err != nil {
			return err
		}
		if _, err := imported(studies, in, "s"); err != nil {
			return err
		}
		fmt.Println("imported", n)
	}
}

// createOn makes one new study after another.
func createOn(studies *app.Studies, from int) error {
	fmt.Println("ready")
	for n := from; ; n++ {
		in, err := corrected(n)
		if err != nil {
			return err
		}
		name := fmt.Sprintf("new %d", n)
		if _, err := imported(studies, in, name); err != nil {
			return err
		}
		fmt.Println("created", name)
	}
}

// shelfWithOne is a shelf with the study that the work is done on.
func shelfWithOne(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	first, err := corrected(0)
	if err != nil {
		t.Fatal(err)
	}
	setUp := studiesOn(dir)
	if _, err := imported(setUp, first, "s"); err != nil {
		t.Fatal(err)
	}
	if err := setUp.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// TestKilled kills a working process at random instants: whatever it
// acknowledged is there afterwards, and nothing is there by half.
func TestKilled(t *testing.T) {
	dir := shelfWithOne(t)
	chance := mathrand.New(mathrand.NewPCG(killSeed, 1))
	state := survived{dir: dir}
	acknowledged := 0
	for n := range kills {
		work := []string{"edit", "import", "create"}[n%3]
		wait := time.Duration(chance.IntN(600)) * time.Millisecond
		said := killed(t, dir, work, n*1000+1, wait)
		acknowledged += len(said) - 1
		state.check(t, n, said)
		if t.Failed() {
			t.Fatalf("kill %d of %s after %v (seed %d): the study is kept nowhere, run again to see it", n, work, wait, killSeed)
		}
	}
	t.Logf("%d kills, seed %d: %d acknowledgements, all there afterwards; studies verified after each", kills, killSeed, acknowledged)
}

// killed starts a process, kills it some time after it is ready, and returns
// the lines that it said.
func killed(t *testing.T, dir, work string, from int, wait time.Duration) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), workVariable+"="+work, shelfVariable+"="+dir, fromVariable+"="+strconv.Itoa(from))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var said []string
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if said == nil {
			time.AfterFunc(wait, func() { _ = cmd.Process.Kill() })
		}
		said = append(said, lines.Text())
		if strings.HasPrefix(lines.Text(), "failed") {
			t.Fatal(lines.Text())
		}
	}
	_ = cmd.Wait() // killed
	if said == nil {
		t.Fatalf("%s said nothing", work)
	}
	return said
}

// survived remembers what was acknowledged over all kills.
type survived struct {
	dir     string
	version int // of the trials' notes, the last that was acknowledged
	created []string
}

func (s *survived) check(t *testing.T, n int, said []string) {
	t.Helper()
	ctx := context.Background()
	studies := studiesOn(s.dir)
	defer studies.Close()
	study, err := studies.Study(ctx, "s")
	if err != nil {
		t.Fatal(err)
	}
	var entries []string
	for _, line := range said[1:] {
		word, rest, _ := strings.Cut(line, " ")
		switch word {
		case "acknowledged":
			entries = append(entries, rest)
		case "imported":
			s.version, _ = strconv.Atoi(rest)
		case "created":
			s.created = append(s.created, rest)
		}
	}
	for _, lost := range missingFrom(t, study, entries) {
		t.Errorf("entry %s was acknowledged and is lost", lost)
	}
	s.verify(t, study)
	s.oneVersion(t, study)
	if n%3 != 2 {
		return
	}
	names, err := newShelf(s.dir).List()
	if err != nil {
		t.Fatal(err)
	}
	have := " " + strings.Join(names, "|") + "|"
	for _, name := range s.created {
		if !strings.Contains(have, name+"|") {
			t.Errorf("study %q was acknowledged and is lost", name)
		}
	}
	for _, name := range names {
		if name == "s" {
			continue
		}
		made, err := studies.Study(ctx, name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s.verify(t, made)
		tables, err := made.Tables(ctx)
		if err != nil || len(tables.Tables) == 0 {
			t.Errorf("%s: half made: %v %v", name, tables, err)
		}
	}
	// Looked at once: else this test grows with every kill.
	if err := studies.Close(); err != nil {
		t.Error(err)
	}
	for _, name := range names {
		if name != "s" {
			if err := os.RemoveAll(filepath.Join(s.dir, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	s.created = nil
}

// missingFrom gives the entries that the study's journal does not have.
func missingFrom(t *testing.T, study *app.Study, entries []string) []string {
	t.Helper()
	wanted := map[string]bool{}
	for _, entry := range entries {
		wanted[entry] = true
	}
	for before := int64(0); len(wanted) > 0; {
		page, err := study.Journal(context.Background(), before, 1000)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range page.Entries {
			delete(wanted, e.Entry)
		}
		if before = page.Before; before == 0 {
			break
		}
	}
	return slices.Sorted(maps.Keys(wanted))
}

func (s *survived) verify(t *testing.T, study *app.Study) {
	t.Helper()
	doc, err := study.Verify(context.Background(), nil)
	if err != nil || !doc.Same {
		t.Errorf("after the kill: %v %q", err, doc.Differences)
	}
}

// oneVersion checks that all trials carry the note of one import: the last
// acknowledged one, or the one that was being written.
func (s *survived) oneVersion(t *testing.T, study *app.Study) {
	t.Helper()
	table, err := study.Table(context.Background(), "trial", 0, 5000)
	if err != nil {
		t.Fatal(err)
	}
	notes := map[string]int{}
	for _, row := range table.Rows {
		for i, c := range table.Columns {
			if c.Name == "note" {
				notes[row.Cells[i]]++
			}
		}
	}
	if len(notes) != 1 {
		t.Errorf("trials are of several imports: %v", notes)
	}
	for note := range notes {
		version, err := strconv.Atoi(strings.TrimPrefix(note, "version "))
		if err != nil || version < s.version {
			t.Errorf("trials carry %q; import %d was acknowledged", note, s.version)
		}
		s.version = version
	}
}

var (
	syncing = regexp.MustCompile(`^(\d+) +f(?:data)?sync\(\d+<[^>]*/study\.db-wal>(.*)`)
	resumed = regexp.MustCompile(`^(\d+) +<\.\.\. f(?:data)?sync resumed>\) += 0`)
	wrote   = regexp.MustCompile(`\bwrite\(1[<,].*"acknowledged `)
)

// TestSyncedBeforeAcknowledged follows the system calls of a process that
// edits: before each acknowledgement the write-ahead log of the study was
// brought to the disc.
func TestSyncedBeforeAcknowledged(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Fatal("strace is not installed: scripts/need.sh strace")
	}
	dir := shelfWithOne(t)
	trace := filepath.Join(t.TempDir(), "trace")
	cmd := exec.Command(strace, "-f", "-y", "-e", "trace=fsync,fdatasync,write", "-o", trace, os.Args[0])
	cmd.Env = append(os.Environ(), workVariable+"=edit", shelfVariable+"="+dir, fromVariable+"=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for n := 0; n < 60 && lines.Scan(); n++ {
		if strings.HasPrefix(lines.Text(), "failed") {
			t.Fatal(lines.Text())
		}
	}
	_ = cmd.Process.Signal(os.Interrupt)
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
	data, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	onDisc, acknowledged := false, 0
	waiting := map[string]bool{} // threads within a sync of the log
	for line := range strings.Lines(string(data)) {
		switch {
		case syncing.MatchString(line):
			m := syncing.FindStringSubmatch(line)
			if strings.Contains(m[2], "unfinished") {
				waiting[m[1]] = true
			} else if strings.Contains(m[2], "= 0") {
				onDisc = true
			}
		case resumed.MatchString(line):
			thread := resumed.FindStringSubmatch(line)[1]
			onDisc = onDisc || waiting[thread]
			delete(waiting, thread)
		case wrote.MatchString(line):
			acknowledged++
			if !onDisc {
				t.Errorf("acknowledgement %d came before the log was on the disc: %s", acknowledged, line)
			}
			onDisc = false
		}
	}
	if acknowledged < 40 {
		t.Fatalf("only %d acknowledgements were seen", acknowledged)
	}
	t.Logf("%d acknowledgements, the log on the disc before each", acknowledged)
}
