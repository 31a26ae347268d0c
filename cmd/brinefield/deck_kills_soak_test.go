//go:build soak && unix

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// TestBoatServerKilled kills the laptop's program 200 times under load.
func TestBoatServerKilled(t *testing.T) { killedUnderLoad(t, 200, deckSeed) }

// TestBoatConnectionCut cuts 300 connections in the middle.
func TestBoatConnectionCut(t *testing.T) { connectionCut(t, 300, deckSeed) }

// TestBoatSyncedBeforeAnswered follows the system calls of the laptop's program: before
// each answer to a batch goes out, the log of the study's database was brought to
// the disc, and every photo of the batch with the folder that holds its name, and
// every reading.
func TestBoatSyncedBeforeAnswered(t *testing.T) {
	const batches = 100
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Fatal("strace is not installed: scripts/need.sh strace")
	}
	b := newBoat(t, t.TempDir())
	trace := filepath.Join(t.TempDir(), "trace")
	b.start(t, strace, "-f", "-yy", "-e", "trace=fsync,fdatasync,write", "-e", "signal=none", "-o", trace)
	d := b.pair(t, deckSeed, "")
	d.log(1)
	if err := d.bringAll(t.Context(), 10); err != nil { // states the clock too
		t.Fatal(err)
	}
	brought := make([][]app.DeckBlob, batches)
	for n := range batches {
		d.log(5)
		for _, ref := range d.waits {
			brought[n] = append(brought[n], d.blobs[ref])
		}
		if err := d.sync(t.Context(), 1000); err != nil {
			t.Fatal(err)
		}
		if !d.done() {
			t.Fatal("a batch did not bring everything")
		}
	}
	local := "127.0.0.1:" + strings.Split(b.address, ":")[1]
	b.killTraced(t)
	data, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	faults, files, readings := unsynced(string(data), local, brought)
	for _, fault := range faults {
		t.Error(fault)
	}
	t.Logf("%d answers to batches: the study's log on the disc before each, and %d photos with their folders and %d readings before theirs", len(brought), files, readings)
	if files < 5 || readings < 5 {
		t.Errorf("only %d photos and %d readings were sent", files, readings)
	}
}

// killTraced kills a program that runs below strace, so that the last thing that it
// wrote to a tablet is an answer and no goodbye.
func (b *boat) killTraced(t *testing.T) {
	t.Helper()
	out, err := exec.Command("pgrep", "-P", strconv.Itoa(b.cmd.Process.Pid)).Output()
	if err != nil {
		t.Fatal(err)
	}
	child, err := os.FindProcess(must(strconv.Atoi(strings.Fields(string(out))[0])))
	if err != nil {
		t.Fatal(err)
	}
	_ = child.Kill()
	b.mu.Lock()
	ended := b.ended
	b.cmd = nil
	b.mu.Unlock()
	<-ended
}

var (
	syncBegins = regexp.MustCompile(`^(\d+) +f(?:data)?sync\(\d+<([^>]*)>(.*)`)
	syncEnds   = regexp.MustCompile(`^(\d+) +<\.\.\. f(?:data)?sync resumed>\) += 0`)
	answers    = regexp.MustCompile(`^\d+ +write\(\d+<TCP:\[([0-9.:]+)->`)
)

// unsynced reads a trace. A client that speaks HTTP/1.1 gets each answer as one
// write to its socket: the last ones belong to the batches, in order.
func unsynced(trace, local string, brought [][]app.DeckBlob) (faults []string, files, readings int) {
	var between [][]string // files that were synced before each write to a tablet
	var synced []string
	waiting := map[string]string{}
	for line := range strings.Lines(trace) {
		if m := syncBegins.FindStringSubmatch(line); m != nil {
			if strings.Contains(m[3], "unfinished") {
				waiting[m[1]] = m[2]
			} else if strings.Contains(m[3], "= 0") {
				synced = append(synced, m[2])
			}
		} else if m := syncEnds.FindStringSubmatch(line); m != nil {
			synced = append(synced, waiting[m[1]])
			delete(waiting, m[1])
		} else if m := answers.FindStringSubmatch(line); m != nil && m[1] == local {
			between, synced = append(between, synced), nil
		}
	}
	if len(between) < len(brought) {
		return []string{fmt.Sprintf("%d writes to the tablet, and %d batches were answered", len(between), len(brought))}, 0, 0
	}
	between = between[len(between)-len(brought):]
	for n, things := range brought {
		must := func(what string) {
			if !slices.ContainsFunc(between[n], func(file string) bool { return strings.HasSuffix(file, what) }) {
				faults = append(faults, fmt.Sprintf("answer %d went out before %s was on the disc; synced were %q", n+1, what, between[n]))
			}
		}
		must("/bay/study.db-wal")
		for _, thing := range things {
			if thing.Kind == "guarded" {
				must("/bay/guarded.db-wal")
				readings++
				continue
			}
			folder := "/bay/files/" + thing.Ref[:2]
			must(folder + "/" + thing.Ref + ".part")
			must(folder)
			files++
		}
	}
	return faults, files, readings
}

// TestBoatTraceIsRead: a trace with a fault is found out.
func TestBoatTraceIsRead(t *testing.T) {
	const answer = `7 write(9<TCP:[127.0.0.1:8443->127.0.0.1:5]>, "\27\3", 300) = 300` + "\n"
	const log = `7 fdatasync(5</x/bay/study.db-wal>) = 0` + "\n"
	photo := []app.DeckBlob{{Ref: "abcd", Kind: "photo"}}
	for what, c := range map[string]struct {
		trace   string
		brought [][]app.DeckBlob
		faults  int
	}{
		"whole":                {answer + log + answer, [][]app.DeckBlob{nil}, 0},
		"in two threads":       {answer + "8 fdatasync(5</x/bay/study.db-wal> <unfinished ...>\n8 <... fdatasync resumed>) = 0\n" + answer, [][]app.DeckBlob{nil}, 0},
		"not ended":            {answer + "8 fdatasync(5</x/bay/study.db-wal> <unfinished ...>\n" + answer + "8 <... fdatasync resumed>) = 0\n", [][]app.DeckBlob{nil}, 1},
		"failed":               {answer + `7 fdatasync(5</x/bay/study.db-wal>) = -1 EIO` + "\n" + answer, [][]app.DeckBlob{nil}, 1},
		"too late":             {answer + answer + log, [][]app.DeckBlob{nil}, 1},
		"once for two":         {log + answer + answer, [][]app.DeckBlob{nil, nil}, 1},
		"no answer":            {log, [][]app.DeckBlob{nil}, 1},
		"photo":                {log + "7 fsync(6</x/bay/files/ab/abcd.part>) = 0\n7 fsync(6</x/bay/files/ab>) = 0\n" + answer, [][]app.DeckBlob{photo}, 0},
		"photo, no name":       {log + "7 fsync(6</x/bay/files/ab/abcd.part>) = 0\n" + answer, [][]app.DeckBlob{photo}, 1},
		"another one's answer": {log + `7 write(9<TCP:[127.0.0.1:80->127.0.0.1:5]>, "", 3) = 3` + "\n", [][]app.DeckBlob{nil}, 1},
		"reading":              {log + answer, [][]app.DeckBlob{{{Ref: "abcd", Kind: "guarded"}}}, 1},
	} {
		if faults, _, _ := unsynced(c.trace, "127.0.0.1:8443", c.brought); len(faults) != c.faults {
			t.Errorf("%s: %q; want %d faults", what, faults, c.faults)
		}
	}
}
