//go:build measure && unix

package brinefield_test

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The measurements of `make bench`, taken on bin/brinefield as a user runs it.
// Each writes a row into the file that BRINEFIELD_MEASURED names and fails
// where it is beyond what is promised.

const program = "bin/brinefield"

func record(t *testing.T, what, figure, promised string, kept bool) {
	t.Helper()
	word := "yes"
	if promised == "" {
		word = ""
	}
	if !kept {
		word = "**no**"
		t.Errorf("%s: %s, promised: %s", what, figure, promised)
	}
	row := fmt.Sprintf("| %s | %s | %s | %s |\n", what, figure, promised, word)
	t.Log(strings.TrimSpace(row))
	if name := os.Getenv("BRINEFIELD_MEASURED"); name != "" {
		f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := f.WriteString(row); err != nil {
			t.Fatal(err)
		}
	}
}

type run struct {
	seconds, megabytes float64
	cpuSeconds         float64 // of all cores together: does not grow with other work on the machine
}

func (r run) time() string {
	return fmt.Sprintf("%.2f s (%.2f s of processor)", r.seconds, r.cpuSeconds)
}

// analyse runs the program on a folder and gives time and peak memory.
func analyse(t *testing.T, folder string) run {
	t.Helper()
	cmd := exec.Command(program, "analyse", folder, "--json")
	cmd.Stderr = os.Stderr
	began := time.Now()
	out, err := cmd.Output()
	seconds := time.Since(began).Seconds()
	if err != nil {
		t.Fatalf("analyse: %v", err)
	}
	if len(out) < 1000 {
		t.Fatalf("analyse printed only %d bytes", len(out))
	}
	usage := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	peak := float64(usage.Maxrss) / 1024 // kilobytes on Linux
	if runtime.GOOS == "darwin" {
		peak /= 1024
	}
	cpu := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	return run{seconds: seconds, megabytes: peak, cpuSeconds: cpu.Seconds()}
}

// best of several runs: the others were disturbed by the rest of the machine.
func best(t *testing.T, n int, folder string) run {
	t.Helper()
	out := analyse(t, folder)
	for range n - 1 {
		again := analyse(t, folder)
		out.seconds, out.cpuSeconds = min(out.seconds, again.seconds), min(out.cpuSeconds, again.cpuSeconds)
		out.megabytes = max(out.megabytes, again.megabytes)
	}
	return out
}

func TestMeasureSeasonA(t *testing.T) {
	r := best(t, 5, "testdata/season-a")
	record(t, "`analyse` of season A (646 passes): time", r.time(), "2 s", r.seconds < 2)
	record(t, "`analyse` of season A: peak memory", fmt.Sprintf("%.0f MB", r.megabytes), "200 MB", r.megabytes < 200)
}

func TestMeasureLargeSeasons(t *testing.T) {
	small := best(t, 2, largeSeason(t, 10_000))
	large := analyse(t, largeSeason(t, 100_000))
	record(t, "`analyse` of 10 000 sparse passes", fmt.Sprintf("%s, %.0f MB", small.time(), small.megabytes), "", true)
	record(t, "`analyse` of 100 000 sparse passes: time", large.time(), "20 s", large.seconds < 20)
	record(t, "`analyse` of 100 000 sparse passes: peak memory", fmt.Sprintf("%.0f MB", large.megabytes), "", true)
	ratio := large.seconds / small.seconds
	record(t, "the same: time against 10 000", fmt.Sprintf("%.1f times", ratio), "13 times", ratio <= 13)
}

func TestMeasureBinary(t *testing.T) {
	info, err := os.Stat(program)
	if err != nil {
		t.Fatal(err)
	}
	size := float64(info.Size()) / 1e6
	record(t, "size of the program, web app inside", fmt.Sprintf("%.1f MB", size), "40 MB", size < 40)
}

var address = regexp.MustCompile(`http://[^\s]+/enter\?token=\S+`)

// TestMeasureFirstPage takes the time from the start of the command to the
// first page and the first answer of the API, fetched as a browser would.
func TestMeasureFirstPage(t *testing.T) {
	var times []float64
	for range 5 {
		times = append(times, firstPage(t))
	}
	median := slices.Sorted(slices.Values(times))[2]
	record(t, "`open` to the first page, without the browser's own start", fmt.Sprintf("%.2f s", median), "0.5 s", median < 0.5)
}

func firstPage(t *testing.T) float64 {
	t.Helper()
	cmd := exec.Command(program, "open", "testdata/season-a", "--no-browser")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = cmd.Process.Signal(os.Interrupt); _ = cmd.Wait() }()
	entry := ""
	for lines := bufio.NewScanner(out); entry == "" && lines.Scan(); {
		entry = address.FindString(lines.Text())
	}
	if entry == "" {
		t.Fatal("the program printed no address")
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Jar: jar, Timeout: 10 * time.Second}
	origin, _, _ := strings.Cut(entry, "/enter")
	for _, page := range []string{entry, origin + "/", origin + "/api/home"} {
		answer, err := client.Get(page)
		if err != nil {
			t.Fatal(err)
		}
		_, err = io.Copy(io.Discard, answer.Body)
		answer.Body.Close()
		if err != nil || answer.StatusCode != http.StatusOK {
			t.Fatalf("GET %s: status %d, %v", page, answer.StatusCode, err)
		}
	}
	return time.Since(began).Seconds()
}

// largeSeason writes season A many times over, with new trials, visits,
// individuals and days, and tracks thinned to every sixth row (the rows round
// the onset and the last one stay), until it holds n passes.
func largeSeason(t *testing.T, n int) string {
	t.Helper()
	const from = "testdata/season-a"
	dir := t.TempDir()
	study, err := os.ReadFile(filepath.Join(from, "study.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "study.toml"), study, 0o644); err != nil {
		t.Fatal(err)
	}
	trials, passes, tracks := readTable(t, from, "trials"), readTable(t, from, "passes"), readTable(t, from, "tracks")
	thin(tracks, passes)
	outTrials, outPasses, outTracks := newTable(trials), newTable(passes), newTable(tracks)
	for copied, written := 0, 0; written < n; copied++ {
		tag := fmt.Sprintf("c%d.", copied)
		outTrials.add(trials, len(trials.rows), map[string]func(string) string{"trial": prefix(tag), "start": later(copied), "end": later(copied)})
		take := min(len(passes.rows), n-written)
		outPasses.add(passes, take, map[string]func(string) string{
			"pass": prefix(tag), "trial": prefix(tag), "visit": prefix(tag), "time": later(copied),
			"individual": prefix(fmt.Sprintf("g%d.", copied%20)), // about 800 animals, whatever n
		})
		last := passes.rows[take-1][passes.column("pass")]
		rows := len(tracks.rows)
		if take < len(passes.rows) {
			rows = slices.IndexFunc(tracks.rows, func(r []string) bool { return r[tracks.column("pass")] > last })
		}
		outTracks.add(tracks, rows, map[string]func(string) string{"pass": prefix(tag)})
		written += take
	}
	outTrials.write(t, dir, "trials")
	outPasses.write(t, dir, "passes")
	outTracks.write(t, dir, "tracks")
	return dir
}

func prefix(tag string) func(string) string {
	return func(v string) string {
		if v == "" {
			return ""
		}
		return tag + v
	}
}

// later moves a local time by as many years as the copy says.
func later(copied int) func(string) string {
	return func(v string) string {
		at, err := time.Parse("2006-01-02T15:04:05", v)
		if err != nil {
			return v
		}
		return at.AddDate(copied, 0, 0).Format("2006-01-02T15:04:05")
	}
}

func thin(tracks, passes *table) {
	onset := map[string]string{}
	for _, r := range passes.rows {
		onset[r[passes.column("pass")]] = r[passes.column("onset_s")]
	}
	pass, at := tracks.column("pass"), tracks.column("t_s")
	var kept [][]string
	first := 0
	for i, r := range tracks.rows {
		if i > 0 && tracks.rows[i-1][pass] != r[pass] {
			first = i
		}
		isLast := i+1 == len(tracks.rows) || tracks.rows[i+1][pass] != r[pass]
		o := onset[r[pass]]
		isBefore := !isLast && o != "" && sameTime(tracks.rows[i+1][at], o)
		if (i-first)%6 == 0 || isLast || isBefore || o != "" && sameTime(r[at], o) {
			kept = append(kept, r)
		}
	}
	tracks.rows = kept
}

func sameTime(a, b string) bool {
	return strings.TrimSuffix(a, ".0") == strings.TrimSuffix(b, ".0") || strings.TrimRight(a, "0") == strings.TrimRight(b, "0")
}

// table is a CSV file without quotes, as season A's are.
type table struct {
	header []string
	rows   [][]string
}

func readTable(t *testing.T, dir, name string) *table {
	t.Helper()
	body, err := os.ReadFile(filepath.Join(dir, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(body)), "\n")
	out := &table{header: strings.Split(lines[0], ",")}
	for _, line := range lines[1:] {
		out.rows = append(out.rows, strings.Split(line, ","))
	}
	return out
}

func newTable(like *table) *table { return &table{header: like.header} }

func (t *table) column(name string) int { return slices.Index(t.header, name) }

func (t *table) add(from *table, n int, change map[string]func(string) string) {
	for _, r := range from.rows[:n] {
		row := slices.Clone(r)
		for name, f := range change {
			if c := t.column(name); c >= 0 {
				row[c] = f(row[c])
			}
		}
		t.rows = append(t.rows, row)
	}
}

func (t *table) write(tb testing.TB, dir, name string) {
	tb.Helper()
	var b strings.Builder
	b.WriteString(strings.Join(t.header, ",") + "\n")
	for _, r := range t.rows {
		b.WriteString(strings.Join(r, ",") + "\n")
	}
	if err := os.WriteFile(filepath.Join(dir, name+".csv"), []byte(b.String()), 0o644); err != nil {
		tb.Fatal(err)
	}
}
