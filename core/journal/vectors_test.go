package journal

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/study"
)

// Tablets write entries too, in TypeScript (web/src/lib/offline). Each side
// writes a file of sealed entries, and both read both.
const (
	fromGo         = "testdata/from-go.json"         // BRINEFIELD_UPDATE=1 go test ./core/journal
	fromTypeScript = "testdata/from-typescript.json" // cd web && BRINEFIELD_UPDATE=1 npx vitest run offline-vectors
)

// vector is one sealed entry and all that it was sealed from.
type vector struct {
	Device      string      `json:"device"`
	Draft       vectorDraft `json:"draft"`
	WallMS      int64       `json:"wall_ms"`
	MonotonicUS int64       `json:"monotonic_us"`
	Run         string      `json:"run"`
	Random      string      `json:"random"`
	Canonical   string      `json:"canonical"`
	Hash        string      `json:"hash"`
}

type vectorDraft struct {
	Author  string     `json:"author,omitempty"`
	Kind    study.Kind `json:"kind"`
	Subject string     `json:"subject"`
	Act     Act        `json:"act"`
	Body    Body       `json:"body"`
	Reason  string     `json:"reason,omitempty"`
	Undoes  string     `json:"undoes,omitempty"`
}

// madeVectors are invented entries of two devices whose clocks stand still, run and are set back.
func madeVectors(t *testing.T) []vector {
	heads := map[string]Head{}
	var out []vector
	for i := range 60 {
		device := []string{"deck-1", "Cúan 😀"}[i%2]
		d := anyDraft().Example(i)
		s := stampAt(time.UnixMilli([]int64{1939204800000, 1939204800000 + int64(i)*977, 1700000000000 + int64(i)}[i%3]), i)
		e, canonical, next, err := Seal(heads[device], device, d, s)
		if err != nil {
			t.Fatal(err)
		}
		heads[device] = next
		out = append(out, vector{
			Device: device, Draft: vectorDraft(e.Draft), WallMS: s.Wall.UnixMilli(), MonotonicUS: s.MonotonicUS, Run: s.Run,
			Random: hex.EncodeToString(s.Random[:]), Canonical: string(canonical), Hash: next.Hash.String(),
		})
	}
	return out
}

func readVectors(t *testing.T, name string) []vector {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var out []vector
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(out) < 50 {
		t.Fatalf("%s holds only %d entries", name, len(out))
	}
	return out
}

// TestVectors: the entries in both files make whole chains, and sealing what
// they were sealed from gives the same bytes.
func TestVectors(t *testing.T) {
	if os.Getenv("BRINEFIELD_UPDATE") != "" {
		var b bytes.Buffer
		encoder := json.NewEncoder(&b)
		encoder.SetEscapeHTML(false)
		encoder.SetIndent("", " ")
		if err := encoder.Encode(madeVectors(t)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(fromGo, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{fromGo, fromTypeScript} {
		t.Run(name, func(t *testing.T) {
			chains, heads := map[string]*Chain{}, map[string]Head{}
			for i, v := range readVectors(t, name) {
				stored, err := ParseHash(v.Hash)
				if err != nil {
					t.Fatal(err)
				}
				if chains[v.Device] == nil {
					chains[v.Device] = &Chain{Device: v.Device}
				}
				if _, err := chains[v.Device].Next([]byte(v.Canonical), stored); err != nil {
					t.Fatalf("entry %d: %v", i+1, err)
				}
				s := Stamp{Wall: time.UnixMilli(v.WallMS), MonotonicUS: v.MonotonicUS, Run: v.Run}
				if _, err := hex.Decode(s.Random[:], []byte(v.Random)); err != nil {
					t.Fatal(err)
				}
				_, canonical, next, err := Seal(heads[v.Device], v.Device, Draft(v.Draft), s)
				if err != nil {
					t.Fatalf("entry %d: %v", i+1, err)
				}
				heads[v.Device] = next
				differ(t, "bytes", v.Canonical, string(canonical))
			}
			if len(chains) < 2 || len(chains["deck-1"].SetBack) == 0 {
				t.Errorf("%d devices, and no clock that was set back: the file tests too little", len(chains))
			}
		})
	}
}

// TestVectorsThatWereChanged: with one byte of an entry changed, or one left out, the chain breaks there.
func TestVectorsThatWereChanged(t *testing.T) {
	all := readVectors(t, fromTypeScript)
	var lines []string
	for _, v := range all {
		if v.Device == "deck-1" {
			lines = append(lines, v.Canonical)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(0, len(lines)-2).Draw(t, "entry")
		c := Chain{Device: "deck-1"}
		left := append([]string{}, lines...)
		want := at + 1
		if rapid.Bool().Draw(t, "left out") {
			left = append(left[:at], left[at+1:]...)
		} else {
			left[at] = strings.Replace(left[at], `"run":"`, `"run":"x`, 1)
			want = at + 2 // it is an entry of its own, but not the one that the next was written after
		}
		for i, l := range left {
			_, err := c.Next([]byte(l), HashOf([]byte(l)))
			var broken *ChainError
			if errors.As(err, &broken) {
				if i+1 != want || broken.Seq != int64(want) {
					t.Fatalf("breaks at %d, not %d: %v", i+1, want, err)
				}
				return
			}
		}
		t.Fatal("the change was not noticed")
	})
}
