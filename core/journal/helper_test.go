package journal

import (
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/study"
)

// noon is the clock of most tests.
var noon = time.Date(2031, 6, 14, 12, 0, 0, 0, time.UTC)

// stampAt is a stamp whose chance differs with n.
func stampAt(wall time.Time, n int) Stamp {
	s := Stamp{Wall: wall, MonotonicUS: int64(n) * 1000, Run: "run-1"}
	binary.BigEndian.PutUint64(s.Random[:], uint64(n)*0x9e3779b97f4a7c15)
	return s
}

// sealed is an entry as a store keeps it.
type sealed struct {
	entry     Entry
	canonical []byte
	hash      Hash
}

// sealAll writes drafts down one after the other, a second apart.
func sealAll(t rapid.TB, device string, drafts ...Draft) []sealed {
	t.Helper()
	var head Head
	var out []sealed
	for i, d := range drafts {
		e, canonical, next, err := Seal(head, device, d, stampAt(noon.Add(time.Duration(i)*time.Second), i))
		if err != nil {
			t.Fatalf("draft %d: %v", i+1, err)
		}
		out = append(out, sealed{e, canonical, next.Hash})
		head = next
	}
	return out
}

// passDrafts are n drafts about one pass: recorded, then corrected.
func passDrafts(n int) []Draft {
	out := []Draft{{Author: "person-1", Kind: study.KindPass, Subject: "P1", Act: Record, Body: Body{Fields: map[string]string{"turned": "no", "bit": "no"}}}}
	for i := 1; i < n; i++ {
		out = append(out, Draft{
			Author: "person-1", Kind: study.KindPass, Subject: "P1", Act: Correct, Reason: "seen again",
			Body: Body{Fields: map[string]string{"note": fmt.Sprint("look ", i)}, Was: map[string]string{"note": ""}},
		})
	}
	return out
}

// awkward are texts that JSON writers treat differently.
var awkward = []string{
	"", "0", "1e3", "null", `"`, `\`, "/", "</script>&", "\u2028\u2029", "\x00\x01\x1f", "\b\t\n\f\r", "\x7f\u0080", "é", "e\u0301", "\ufb33", "\ufeff", "\ufffd", "\uffff",
	"😀", "\U0010ffff", "Cúan Mór", "-0", "true", " ",
}

func anyText() *rapid.Generator[string] {
	return rapid.OneOf(rapid.SampledFrom(awkward), rapid.String())
}

func someText() *rapid.Generator[string] {
	return anyText().Filter(func(s string) bool { return s != "" })
}

// anyFields has few names, so that records meet in them.
func anyFields(value *rapid.Generator[string]) *rapid.Generator[map[string]string] {
	name := rapid.OneOf(rapid.SampledFrom([]string{"turned", "bit", "note", "\ufb33", "😀"}), someText())
	return rapid.MapOfN(name, value, 0, 6)
}

func anyTable() *rapid.Generator[*study.Table] {
	return rapid.Custom(func(t *rapid.T) *study.Table {
		columns := rapid.SliceOfN(someText(), 1, 4).Draw(t, "columns")
		rows := rapid.SliceOfN(rapid.SliceOfN(anyText(), len(columns), len(columns)), 0, 5).Draw(t, "rows")
		return &study.Table{Columns: columns, Rows: rows}
	})
}

func maybeTable() *rapid.Generator[*study.Table] {
	return rapid.OneOf(rapid.Just[*study.Table](nil), anyTable())
}

// anyDraft is a draft that a journal can hold.
func anyDraft() *rapid.Generator[Draft] {
	return rapid.Custom(func(t *rapid.T) Draft {
		d := Draft{
			Author: anyText().Draw(t, "author"), Kind: study.Kind(someText().Draw(t, "kind")), Subject: anyText().Draw(t, "subject"),
			Act: rapid.SampledFrom([]Act{Record, Correct, Remove}).Draw(t, "act"), Reason: anyText().Draw(t, "reason"), Undoes: anyText().Draw(t, "undoes"),
		}
		switch d.Act {
		case Record:
			d.Body = Body{Fields: anyFields(someText()).Draw(t, "fields"), Table: maybeTable().Draw(t, "table")}
		case Correct:
			none := rapid.Just(&study.Table{Columns: []string{}, Rows: [][]string{}})
			d.Body = Body{Fields: anyFields(anyText()).Draw(t, "fields"), Was: anyFields(anyText()).Draw(t, "was"), Table: rapid.OneOf(maybeTable(), none).Draw(t, "table")}
			if len(d.Body.Fields) == 0 && d.Body.Table == nil {
				d.Body.Fields = map[string]string{"note": ""}
			}
		case Remove:
		}
		return d
	})
}

func differ(t rapid.TB, what string, want, got any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}
