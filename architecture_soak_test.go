//go:build soak

package brinefield_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// TestAnotherArchitecture analyses season A with a program built for arm64,
// under an emulator, and with one built for this machine, and compares every
// number of the two documents: arm64 fuses multiply and add, so that the last
// digits differ. The promise is docs/adr/0003-determinism.md.
func TestAnotherArchitecture(t *testing.T) {
	const emulator = "qemu-aarch64-static"
	if _, err := exec.LookPath(emulator); err != nil {
		t.Fatalf("%s is missing: scripts/need.sh qemu", emulator)
	}
	here := documentOf(t, runtime.GOARCH)
	there := documentOf(t, "arm64", emulator)
	c := comparison{t: t}
	c.compare("", here, there)
	if c.numbers < 1000 {
		t.Fatalf("only %d numbers were compared", c.numbers)
	}
	t.Logf("%d numbers of season A compared between %s and arm64: fields differ by at most %.1e, estimates by at most %.1e (relative)",
		c.numbers, runtime.GOARCH, c.worst["fields"], c.worst["estimates"])
}

func documentOf(t *testing.T, arch string, runner ...string) any {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "brinefield-"+arch)
	build := exec.Command("go", "build", "-tags", "noweb", "-o", binary, "./cmd/brinefield")
	build.Env = append(os.Environ(), "GOARCH="+arch, "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build for %s: %v\n%s", arch, err, out)
	}
	args := append(runner, binary, "analyse", "testdata/season-a", "--json")
	out, err := exec.Command(args[0], args[1:]...).Output()
	if err != nil {
		t.Fatalf("analyse on %s: %v", arch, err)
	}
	var document map[string]any
	if err := json.Unmarshal(out, &document); err != nil {
		t.Fatal(err)
	}
	delete(document, "program")
	return document
}

type comparison struct {
	t       *testing.T
	numbers int
	worst   map[string]float64
}

// compare walks both documents; fields are the sections water and passes, all
// else is estimates.
func (c *comparison) compare(path string, a, b any) {
	switch a := a.(type) {
	case map[string]any:
		b, ok := b.(map[string]any)
		if !ok || len(a) != len(b) {
			c.t.Errorf("%s has other keys", path)
			return
		}
		for _, key := range sortedKeys(a) {
			c.compare(path+"/"+key, a[key], b[key])
		}
	case []any:
		b, ok := b.([]any)
		if !ok || len(a) != len(b) {
			c.t.Errorf("%s has another length", path)
			return
		}
		for i := range a {
			c.compare(fmt.Sprintf("%s/%d", path, i), a[i], b[i])
		}
	case float64:
		b, ok := b.(float64)
		if !ok {
			c.t.Errorf("%s is a number on one side only", path)
			return
		}
		c.number(path, a, b)
	default:
		if a != b {
			c.t.Errorf("%s: %v and %v", path, a, b)
		}
	}
}

func (c *comparison) number(path string, a, b float64) {
	kind, tolerance := "estimates", 1e-6
	if strings.HasPrefix(path, "/passes/") || strings.HasPrefix(path, "/water/") {
		kind, tolerance = "fields", 1e-9
	}
	if strings.HasSuffix(path, "/gap") {
		return // how far the search went, not a finding: rounding of zero
	}
	c.numbers++
	difference := math.Abs(a - b)
	if scale := math.Max(math.Abs(a), math.Abs(b)); scale > 1e-12 {
		difference /= scale
	}
	if c.worst == nil {
		c.worst = map[string]float64{}
	}
	c.worst[kind] = max(c.worst[kind], difference)
	if difference > tolerance {
		c.t.Errorf("%s: %v and %v differ by %.1e, promised %.0e", path, a, b, difference, tolerance)
	}
}
