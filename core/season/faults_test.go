package season_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"brinefield/core/season"
)

// TestFaults runs testdata/faults.txt. A case is one line of edits to the
// season in testdata/full, and below it, indented, every fault that they must
// cause, in order:
//
//	trials.csv: ,A,8, => ,A,eight,
//	  trials.csv:2:current_uA: "eight" is not a number; expected …
//
// Edits are joined by &&. An edit is `file: old => new` (old must stand in the
// file once), `file removed`, or `file = content`. \n, \r, \t and \xNN stand
// for what they do in Go. A case without faults must read.
// UPDATE=1 go test -run TestFaults rewrites the expectations: read the diff.
func TestFaults(t *testing.T) {
	const name = "testdata/faults.txt"
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	base := folder(t, "testdata/full")
	var updated strings.Builder
	cases := 0
	for _, block := range splitCases(string(data)) {
		updated.WriteString(block.above)
		if block.edits == "" {
			continue
		}
		cases++
		files, err := edit(base, block.edits)
		if err != nil {
			t.Errorf("%s: %v", block.edits, err)
			continue
		}
		_, faults := season.Read(files, options)
		got := ""
		for _, f := range faults {
			got += "  " + f.String() + "\n"
		}
		if got != block.want && os.Getenv("UPDATE") == "" {
			t.Errorf("%s\ngot:\n%swant:\n%s", block.edits, got, block.want)
		}
		updated.WriteString(block.edits + "\n" + got)
	}
	if cases < 100 {
		t.Errorf("%d cases were run: the file is not read as it should be", cases)
	}
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(name, []byte(updated.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

type faultCase struct {
	above string // comments and blank lines
	edits string
	want  string
}

func splitCases(text string) []faultCase {
	var out []faultCase
	current := faultCase{}
	for line := range strings.Lines(text) {
		switch {
		case strings.HasPrefix(line, "  "):
			current.want += line
		case strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#"):
			if current.edits != "" {
				out = append(out, current)
				current = faultCase{}
			}
			current.above += line
		default:
			if current.edits != "" {
				out = append(out, current)
				current = faultCase{}
			}
			current.edits = strings.TrimSuffix(line, "\n")
		}
	}
	return append(out, current)
}

func edit(base season.Files, edits string) (season.Files, error) {
	files := without(base)
	for one := range strings.SplitSeq(edits, " && ") {
		if file, ok := strings.CutSuffix(one, " removed"); ok {
			delete(files, file)
			continue
		}
		if file, content, ok := strings.Cut(one+" ", " = "); ok && !strings.Contains(file, ":") {
			files[file] = []byte(unescape(strings.TrimSuffix(content, " ")))
			continue
		}
		file, change, _ := strings.Cut(one, ": ")
		old, after, ok := strings.Cut(change, " => ")
		if !ok {
			old, ok = strings.CutSuffix(change, " =>")
		}
		if !ok {
			return nil, fmt.Errorf("%q is no edit", one)
		}
		before := string(files[file])
		if n := strings.Count(before, unescape(old)); n != 1 {
			return nil, fmt.Errorf("%q stands %d times in %s", old, n, file)
		}
		files[file] = []byte(strings.Replace(before, unescape(old), unescape(after), 1))
	}
	return files, nil
}

func unescape(s string) string {
	s = strings.NewReplacer(`\\`, `\`, `\n`, "\n", `\r`, "\r", `\t`, "\t").Replace(s)
	for {
		i := strings.Index(s, `\x`)
		if i < 0 || i+4 > len(s) {
			return s
		}
		var b byte
		if _, err := fmt.Sscanf(s[i+2:i+4], "%02x", &b); err != nil {
			return s
		}
		s = s[:i] + string([]byte{b}) + s[i+4:]
	}
}

func TestEditRefusesWhatItCannotDo(t *testing.T) {
	base := season.Files{"a.csv": []byte("x,x")}
	for _, e := range []string{"a.csv: y => z", "a.csv: x => z", "a.csv: x"} {
		if _, err := edit(base, e); err == nil {
			t.Errorf("%q was taken", e)
		}
	}
}
