package brinefield_test

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestSessionsInDocuments runs every command that README and guide show after
// a "$" and compares what it prints with what stands there. A line "…" in a
// document stands for any lines; numbers may differ in the last digits. With
// BRINEFIELD_UPDATE=1 the blocks are written again: read the difference.
func TestSessionsInDocuments(t *testing.T) {
	bin := t.TempDir()
	build := exec.Command("go", "build", "-tags", "noweb", "-o", filepath.Join(bin, "brinefield"), "./cmd/brinefield")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	pages, err := filepath.Glob("docs/guide/*.md")
	if err != nil {
		t.Fatal(err)
	}
	commands := 0
	for _, page := range append([]string{"README.md"}, pages...) {
		t.Run(page, func(t *testing.T) {
			commands += checkPage(t, page, bin)
		})
	}
	if commands < 5 {
		t.Errorf("only %d commands were found in the documents", commands)
	}
}

func checkPage(t *testing.T, page, bin string) (commands int) {
	body, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	// Blocks are at odd places between fences.
	blocks := strings.Split(string(body), "```")
	dir := ""
	for i := 1; i < len(blocks); i += 2 {
		kind, text, _ := strings.Cut(blocks[i], "\n")
		if !strings.HasPrefix(text, "$ ") {
			continue
		}
		if dir == "" {
			dir = scene(t, bin, blocks)
		}
		var again strings.Builder
		for _, session := range strings.Split("\n"+text, "\n$ ")[1:] {
			command, want, _ := strings.Cut(session, "\n")
			got := shell(t, dir, bin, command)
			commands++
			if !sameText(want, got) {
				if os.Getenv("BRINEFIELD_UPDATE") == "" || strings.Contains(want, "…\n") {
					t.Errorf("%s: %s\nprints\n%s\nand the page says\n%s", page, command, got, want)
				}
				want = got
			}
			again.WriteString("$ " + command + "\n" + strings.TrimSuffix(want, "\n") + "\n")
		}
		blocks[i] = kind + "\n" + again.String()
	}
	if os.Getenv("BRINEFIELD_UPDATE") != "" && !t.Failed() {
		if err := os.WriteFile(page, []byte(strings.Join(blocks, "```")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return commands
}

// scene is a folder with the demo season, the same with mistakes, and the
// page's own field specification and knobs.
func scene(t *testing.T, bin string, blocks []string) string {
	t.Helper()
	dir := t.TempDir()
	shell(t, dir, bin, "brinefield demo --write my-season")
	shell(t, dir, bin, "brinefield demo --write broken-season")
	broken := filepath.Join(dir, "broken-season")
	change(t, filepath.Join(broken, "study.toml"), 0, "reaction_time_s", "reaction_time")
	change(t, filepath.Join(broken, "passes.csv"), 3, "Raja clavata", "Raja clavatta")
	change(t, filepath.Join(broken, "passes.csv"), 8, "2025-07-07T10:10:00", "07/07/2025 10:10")
	change(t, filepath.Join(broken, "tracks.csv"), 4, "\n", "-9\n")
	for i := 1; i < len(blocks); i += 2 {
		if kind, text, _ := strings.Cut(blocks[i], "\n"); kind == "json" {
			name := "spec.json"
			switch { // by a key that only one kind of file has
			case strings.Contains(text, `"site"`):
				name = "site.json"
			case strings.Contains(text, `"supply"`):
				name = "rig.json"
			case strings.Contains(text, `"pairs"`):
				name = "knobs.json"
			}
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	return dir
}

// change replaces a text in one line of a file, or wherever it stands for
// line 0, and fails where it does not stand. "\n" is the line's last cell.
func change(t *testing.T, file string, line int, from, to string) {
	t.Helper()
	body, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(body), "\n")
	changed := false
	for i := range lines {
		if line != 0 && i != line-1 {
			continue
		}
		before := lines[i]
		if from == "\n" {
			lines[i] = before[:strings.LastIndex(before, ",")+1] + to
		} else {
			lines[i] = strings.Replace(before, from, to, 1)
		}
		changed = changed || lines[i] != before
	}
	if !changed {
		t.Fatalf("%s holds no %q in line %d", file, from, line)
	}
	if err := os.WriteFile(file, []byte(strings.Join(lines, "")), 0o644); err != nil {
		t.Fatal(err)
	}
}

// shell gives what a command prints, on either channel; documents show
// commands that fail, too, so the exit status is theirs to show.
func shell(t *testing.T, dir, bin, command string) string {
	t.Helper()
	cmd := exec.Command("sh", "-c", command)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil && cmd.ProcessState == nil {
		t.Fatalf("%s: %v", command, err)
	}
	return strings.ReplaceAll(out.String(), dir+string(filepath.Separator), "") // documents show names, not places
}

// sameText compares line by line and word by word; "…" alone in a line stands
// for any lines.
func sameText(want, got string) bool {
	w, g := strings.Split(strings.TrimSpace(want), "\n"), strings.Split(strings.TrimSpace(got), "\n")
	for len(w) > 0 {
		if strings.TrimSpace(w[0]) == "…" {
			rest := strings.Join(w[1:], "\n")
			for i := 0; i <= len(g); i++ {
				if sameText(rest, strings.Join(g[i:], "\n")) {
					return true
				}
			}
			return false
		}
		if len(g) == 0 || !sameLine(w[0], g[0]) {
			return false
		}
		w, g = w[1:], g[1:]
	}
	return len(g) == 0 || len(g) == 1 && g[0] == ""
}

func sameLine(want, got string) bool {
	w, g := strings.Fields(want), strings.Fields(got)
	if len(w) != len(g) {
		return false
	}
	for i := range w {
		if w[i] != g[i] && !sameNumber(w[i], g[i]) {
			return false
		}
	}
	return true
}

func sameNumber(want, got string) bool {
	a, errA := strconv.ParseFloat(strings.TrimRight(want, ","), 64)
	b, errB := strconv.ParseFloat(strings.TrimRight(got, ","), 64)
	return errA == nil && errB == nil && math.Abs(a-b) <= 1e-9*max(math.Abs(a), math.Abs(b), 1e-12)
}

func TestSameText(t *testing.T) {
	for _, c := range []struct {
		want, got string
		same      bool
	}{
		{"a b\nc\n", "a  b\nc", true},
		{"a\n…\nd", "a\nb\nc\nd\n", true},
		{"a\n…", "a\nb\nc\n", true},
		{"a\n…\nd", "a\nb\nc\n", false},
		{"a", "a\nb", false},
		{"x 1.0000000000001,", "x 1,", true},
		{"x 1.0001", "x 1", false},
		{"", "", true},
		{"", "a", false},
	} {
		if sameText(c.want, c.got) != c.same {
			t.Errorf("%q and %q: same is %v", c.want, c.got, !c.same)
		}
	}
}
