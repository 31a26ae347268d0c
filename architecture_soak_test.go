//go:build soak

package brinefield_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
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
	t.Logf("%d numbers of season A compared between %s and arm64; largest relative difference: fields %.1e, places %.1e, components there %.1e, estimates %.1e",
		c.numbers, runtime.GOARCH, c.worst[fields], c.worst[places], c.worst[components], c.worst[estimates])
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

// Three kinds of number, each with its promise. Places are where the field on a
// track is largest, of passes without an onset: a maximum is flat at its top, so that rounding of the
// field in the 16th digit moves its place in the 8th, and what is worked out
// at that place (the textbook form, the field of the pass's own pair) with it.
// The largest field itself is not moved. A component of the field there may be a
// small part of it, and is then moved by as much of the whole.
const (
	fields     = "fields"
	places     = "places"
	components = "components at places"
	estimates  = "estimates"
)

var promised = map[string]float64{fields: 1e-9, places: 1e-5, components: 1e-3, estimates: 1e-6}

// hasOnset says which passes of season A, in their order, have an onset: the
// head is then at a known moment, and all that is said of it is a field's kind.
var hasOnset = sync.OnceValue(func() map[string]bool {
	text, err := os.ReadFile("testdata/season-a/passes.csv")
	if err != nil {
		panic(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		panic(err)
	}
	column, out := slices.Index(rows[0], "onset_s"), map[string]bool{}
	for i, row := range rows[1:] {
		out[fmt.Sprintf("/passes/%d", i)] = row[column] != ""
	}
	return out
})

func kindOf(path string) string {
	component := strings.Contains(path, "/position_components_")
	if component { // the list stands for its members
		path = path[:strings.LastIndex(path, "/")]
	}
	switch name := path[strings.LastIndex(path, "/")+1:]; {
	case hasOnset()[path[:strings.LastIndex(path, "/")]]:
		return fields
	case !strings.HasPrefix(path, "/passes/") && !strings.HasPrefix(path, "/water/"):
		return estimates
	case component:
		return components
	case slices.Contains([]string{"distance_cm", "horizontal_cm", "height_cm", "angle_deg", "textbook_nV_per_cm", "position_nV_per_cm"}, name):
		return places
	}
	return fields
}

type comparison struct {
	t                *testing.T
	numbers, outside int
	worst            map[string]float64
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
			if hasOnset()[path] {
				c.compare(path+"/"+key, a[key], b[key])
				continue
			}
			c.compare(path+"/"+key, scaled(a, key), scaled(b, key))
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

// scaled is a value of an object, the textbook field as it would be on the
// pair's axis: near 90° its factor |cos θ| is the difference of nearly equal
// numbers, which says nothing of how well the place agrees.
func scaled(object map[string]any, key string) any {
	v, isNumber := object[key].(float64)
	angle, hasAngle := object["angle_deg"].(float64)
	if key == "textbook_nV_per_cm" && isNumber && hasAngle {
		return v / max(math.Abs(math.Cos(angle*math.Pi/180)), 1e-6)
	}
	return object[key]
}

func (c *comparison) number(path string, a, b float64) {
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
	kind := kindOf(path)
	c.worst[kind] = max(c.worst[kind], difference)
	if difference <= promised[kind] {
		return
	}
	if c.outside++; c.outside > 20 {
		c.t.Fail() // enough has been said
		return
	}
	c.t.Errorf("%s: %v and %v differ by %.1e, promised for %s: %.0e", path, a, b, difference, kind, promised[kind])
}
