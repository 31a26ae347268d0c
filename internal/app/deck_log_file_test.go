package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// someLog is a whole log of two devices, invented.
func someLog(t testing.TB) string {
	t.Helper()
	var lines bytes.Buffer
	for _, device := range []string{"deck-1", "deck-1-2"} {
		var head journal.Head
		for i := range 3 {
			_, line, next, err := journal.Seal(head, device, journal.Draft{Kind: study.KindEvent, Subject: device, Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"text": strings.Repeat("é", i+1)}}},
				journal.Stamp{Wall: time.Date(2026, 6, 11, 9, 0, i, 0, time.UTC), Run: "1"})
			if err != nil {
				t.Fatal(err)
			}
			head = next
			lines.Write(append(line, '\n'))
		}
	}
	salt := bytes.Repeat([]byte{7}, saltBytes)
	sum := sha256.Sum256(append(bytes.Clone(salt), "Nora"...))
	blob, err := json.Marshal(map[string]any{"blob": map[string]any{"data": []byte("Nora"), "kind": "person", "ref": hex.EncodeToString(sum[:]), "salt": salt}})
	if err != nil {
		t.Fatal(err)
	}
	all := sha256.Sum256(lines.Bytes())
	return `{"deck":{"device":"deck-1-2","format":"brinefield deck log","name":"n","version":1}}` + "\n" + lines.String() + string(blob) + "\n" +
		`{"end":{"blobs":1,"entries":6,"missing":0,"saved":"2026-06-11T09:00:00.000Z","sha256":"` + hex.EncodeToString(all[:]) + `"}}` + "\n"
}

func TestReadDeckLog(t *testing.T) {
	f, err := readDeckLog([]byte(someLog(t)))
	if err != nil || len(f.entries) != 6 || len(f.blobs) != 1 || len(f.faults) != 0 || f.study != "n" || f.device != "deck-1-2" {
		t.Errorf("%+v, %v", f, err)
	}
}

// FuzzReadDeckLog: whatever a file holds, what is read of it stands in it, each chain
// goes on without a gap, each thing fits its reference, and only a file with the
// right end has no fault.
func FuzzReadDeckLog(f *testing.F) {
	whole := someLog(f)
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add(strings.ReplaceAll(whole, "\n", "\n\n"))
	f.Add(strings.ReplaceAll(whole, "\n", "\r\n"))
	f.Add(strings.Replace(whole, `"seq":2`, `"seq":9`, 1))
	f.Add(strings.Replace(whole, `{"end"`, `{"end":{}}{"end"`, 1))
	f.Add(`{"deck":{"format":"brinefield deck log","version":1e0,"name":null}}`)
	f.Add(`{"deck":{"format":"brinefield deck log","version":1}}` + "\n" + `{"blob":{"kind":"person","salt":null}}` + "\n" + `{"blob":null}` + "\n" + `{"end":null}` + "\n" + `{"end":{"entries":-1}}`)
	f.Fuzz(func(t *testing.T, file string) {
		got, err := readDeckLog([]byte(file))
		if (err == nil) != IsDeckLog([]byte(file)) && err != nil && !strings.Contains(err.Error(), "update the program") {
			t.Fatalf("begins as a log: %v, read: %v", IsDeckLog([]byte(file)), err)
		}
		if err != nil {
			return
		}
		lines := strings.Split(file, "\n")
		ends := map[string]journal.Head{}
		for i := range got.entries {
			o := &got.entries[i]
			if strings.TrimSuffix(lines[got.places[i]-1], "\r") != string(o.Canonical) || journal.HashOf(o.Canonical) != o.Hash {
				t.Fatalf("entry %d does not stand in line %d", i, got.places[i])
			}
			if end, begun := ends[o.Device]; begun && o.Previous != end.Hash {
				t.Fatalf("entry %d does not go on", i)
			}
			ends[o.Device] = journal.Head{Hash: o.Hash}
		}
		for i := range got.blobs {
			if err := CheckBlob(got.blobs[i].Ref, got.blobs[i].Salt, got.blobs[i].Data); err != nil {
				t.Fatal(err)
			}
		}
		if len(got.faults) == 0 && !strings.Contains(file, `"end"`) {
			t.Fatal("a file without an end has no fault")
		}
	})
}
