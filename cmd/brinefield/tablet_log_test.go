package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// tabletlog JOURNAL FILE writes the log of an invented tablet, as
// docs/formats/deck-log.md says it, for the study of which JOURNAL is the journal:
// a pass, its scorer's name, and a photo.
func tabletLog(ts *testscript.TestScript, _ bool, args []string) {
	text, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	identity := ""
	for line := range bytes.Lines(text) {
		e, err := journal.Parse(bytes.TrimSpace(line))
		ts.Check(err)
		if e.Kind == study.KindStudy && identity == "" {
			identity = e.ID
		}
	}
	salt := bytes.Repeat([]byte{7}, 32)
	ref := func(data string) string {
		sum := sha256.Sum256(append(bytes.Clone(salt), data...))
		return hex.EncodeToString(sum[:])
	}
	const name, photo = "Nora Quill (invented)", "\xff\xd8\xff a photo (invented)"
	var out bytes.Buffer
	put := func(v any) {
		line, err := json.Marshal(v)
		ts.Check(err)
		out.Write(append(line, '\n'))
	}
	put(map[string]any{"deck": map[string]any{"device": "deck-7c1e", "format": "brinefield deck log", "name": identity, "version": 1}})
	var head journal.Head
	hash := sha256.New()
	for i, d := range []journal.Draft{
		{Kind: study.KindPass, Subject: "7c1e-0001", Act: journal.Record, Body: journal.Body{Fields: map[string]string{
			"trial": "T01", "time": "2031-06-16T15:00:00Z", "species": "Raja clavata", "pair": "A", "turned": "no", "bit": "no", "scorer": "person:" + ref(name),
		}}},
		{Kind: study.KindAttachment, Subject: "7c1e-a0001", Act: journal.Record, Body: journal.Body{Fields: map[string]string{"kind": "photo", "ref": ref(photo), "type": "image/jpeg"}}},
	} {
		_, line, next, err := journal.Seal(head, "deck-7c1e", d, journal.Stamp{Wall: time.Date(2031, 6, 16, 15, i, 0, 0, time.UTC), Run: "deck-7c1e-1", Random: [10]byte{byte(i)}})
		ts.Check(err)
		head = next
		out.Write(append(line, '\n'))
		hash.Write(append(line, '\n'))
	}
	put(map[string]any{"blob": map[string]any{"data": []byte(name), "kind": "person", "ref": ref(name), "salt": salt}})
	put(map[string]any{"blob": map[string]any{"data": []byte(photo), "kind": "photo", "ref": ref(photo), "salt": salt}})
	put(map[string]any{"end": map[string]any{"blobs": 2, "entries": 2, "missing": 0, "saved": "2031-06-16T16:00:00.000Z", "sha256": hex.EncodeToString(hash.Sum(nil))}})
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), out.Bytes(), 0o600))
}
