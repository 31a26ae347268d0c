//go:build unix

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	mathrand "math/rand/v2"
	"net/http"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/files"
)

// deckTablet is a tablet as the page on deck is one, in Go: it seals entries into a
// chain of its own, keeps what it refers to apart, and brings both to the laptop
// until that has said that they are safe. Not safe for concurrent use.
type deckTablet struct {
	client   *http.Client
	base     string // https://host:port
	token    *http.Cookie
	identity string
	name     string // under which it writes

	chance  *mathrand.Rand
	clock   func() time.Time
	head    journal.Head
	lines   []string
	hashes  []journal.Hash
	blobs   map[string]app.DeckBlob // all of them, by reference
	waits   []string                // references that are not safe yet, in order
	safe    int64                   // entries of which the laptop said so
	person  string
	passes  int
	biggest int  // bytes of a photo
	texts   bool // nothing but entries
}

// pair lets a new tablet in as an operator's; to is where it dials, if not to the
// laptop itself.
func (b *boat) pair(t testing.TB, seed uint64, to string) *deckTablet {
	t.Helper()
	return b.pairAs(t, "operator", seed, to)
}

// pairAs lets a new tablet in as its user would: with a code from the window.
func (b *boat) pairAs(t testing.TB, role string, seed uint64, to string) *deckTablet {
	t.Helper()
	var code app.PairingCode
	b.ask(t, "/api/tablets/code", app.PairingRequest{Study: "bay", Role: role}, &code)
	d := newTablet("", seed, b.trusting(t, to), "https://"+b.address)
	var self app.TabletSelf
	status, header, err := d.send(t.Context(), "POST", "/api/deck/pair", app.PairRequest{Code: code.Code, Name: fmt.Sprint("tablet ", seed)}, &self)
	if err != nil || status != http.StatusOK {
		t.Fatalf("pairing: %d, %v", status, err)
	}
	cookies := (&http.Response{Header: header}).Cookies()
	if len(cookies) != 1 || len(self.Studies) != 1 || self.Device == "" {
		t.Fatalf("paired as %+v with %v", self, cookies)
	}
	d.token, d.identity, d.name = cookies[0], self.Studies[0].Identity, self.Device
	d.person = "person:" + d.keep("person", fmt.Appendf(nil, "Scorer %d (invented)", seed))
	return d
}

func newTablet(name string, seed uint64, client *http.Client, base string) *deckTablet {
	return &deckTablet{
		name: name, client: client, base: base, chance: mathrand.New(mathrand.NewPCG(seed, 8)),
		clock: time.Now, blobs: map[string]app.DeckBlob{}, biggest: 60_000,
	}
}

// refusedError is an answer that is none: the laptop said no.
type refusedError struct {
	status int
	said   string
	after  time.Duration
}

func (e *refusedError) Error() string { return fmt.Sprintf("%d: %s", e.status, e.said) }

func (d *deckTablet) send(ctx context.Context, method, path string, in, out any) (int, http.Header, error) {
	var body io.Reader
	if in != nil {
		text, err := json.Marshal(in)
		if err != nil {
			return 0, nil, err
		}
		body = bytes.NewReader(text)
	}
	r, err := http.NewRequestWithContext(ctx, method, d.base+path, body)
	if err != nil {
		return 0, nil, err
	}
	r.Header.Set("Content-Type", "application/json")
	if d.token != nil {
		r.AddCookie(d.token)
	}
	res, err := d.client.Do(r)
	if err != nil {
		return 0, nil, err
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		return 0, nil, err // half an answer is none
	}
	if res.StatusCode != http.StatusOK {
		after, _ := strconv.Atoi(res.Header.Get("Retry-After"))
		return res.StatusCode, res.Header, &refusedError{res.StatusCode, string(text), time.Duration(after) * time.Second}
	}
	return res.StatusCode, res.Header, json.Unmarshal(text, out)
}

// keep puts aside what an entry will refer to.
func (d *deckTablet) keep(kind string, data []byte) (ref string) {
	salt := d.bytes(32)
	sum := sha256.Sum256(slices.Concat(salt, data))
	ref = hex.EncodeToString(sum[:])
	d.blobs[ref] = app.DeckBlob{Ref: ref, Kind: kind, Salt: salt, Data: data}
	d.waits = append(d.waits, ref)
	return ref
}

func (d *deckTablet) bytes(n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(d.chance.Uint32())
	}
	return b
}

// log writes entries down: passes with corrections and withdrawals, trials,
// checks, counts, events, readings and photos, as they come on a day.
func (d *deckTablet) log(n int) {
	for range n {
		d.seal(d.next())
	}
}

func (d *deckTablet) next() journal.Draft {
	short := d.name[len("deck-"):]
	at := d.clock().Format(time.RFC3339)
	record := func(kind study.Kind, letter string, fields map[string]string) journal.Draft {
		return journal.Draft{Author: d.person, Kind: kind, Subject: fmt.Sprintf("%s-%s%04d", short, letter, len(d.lines)+1), Act: journal.Record, Body: journal.Body{Fields: fields}}
	}
	switch n := d.chance.IntN(100); {
	case n < 55 || d.passes == 0:
		d.passes++
		return journal.Draft{Author: d.person, Kind: study.KindPass, Subject: fmt.Sprintf("%s-%04d", short, d.passes), Act: journal.Record, Body: journal.Body{Fields: map[string]string{
			"trial": "T001", "time": at, "species": "Scyliorhinus canicula", "pair": "A", "turned": "no", "bit": "no", "scorer": d.person, "response": "no turn",
		}}}
	case n < 70:
		return journal.Draft{Author: d.person, Kind: study.KindPass, Subject: d.anyPass(short), Act: journal.Correct, Body: journal.Body{
			Fields: map[string]string{"note": fmt.Sprint("note ", len(d.lines))}, Was: map[string]string{"note": ""},
		}}
	case n < 73:
		return journal.Draft{Author: d.person, Kind: study.KindPass, Subject: d.anyPass(short), Act: journal.Remove, Reason: "logged twice"}
	case n < 78:
		// A trial of twenty-five entries: tablets that log at once write about the same.
		return journal.Draft{Author: d.person, Kind: study.KindTrial, Subject: fmt.Sprintf("T%03d", 100+len(d.lines)/25), Act: journal.Correct, Body: journal.Body{
			Fields: map[string]string{"temperature_C": fmt.Sprintf("12.%d", len(d.lines)%10)}, Was: map[string]string{"temperature_C": ""},
		}}
	case n < 86:
		return record(study.KindCheck, "c", map[string]string{"trial": "T001", "check": "plate level", "state": "ok", "time": at, "by": d.person})
	case n < 91:
		return record(study.KindCount, "k", map[string]string{"trial": "T001", "time": at, "species": "Scyliorhinus canicula", "animals": "1", "by": d.person})
	case n < 94:
		return record(study.KindEvent, "e", map[string]string{"what": "note", "trial": "T001", "time": at, "text": "sea state 3", "by": d.person})
	case d.texts:
		return record(study.KindEvent, "e", map[string]string{"what": "note", "trial": "T001", "time": at, "text": "sea state 4", "by": d.person})
	case n < 97:
		ref := d.keep("guarded", fmt.Appendf(nil, `{"current_uA":"9.%d"}`, len(d.lines)))
		return record(study.KindReading, "r", map[string]string{"trial": "T001", "when": "before", "time": at, "by": d.person, "ref": ref})
	}
	ref := d.keep("photo", d.bytes(1000+d.chance.IntN(d.biggest)))
	return record(study.KindAttachment, "a", map[string]string{"kind": "photo", "ref": ref, "about": "pass/" + d.anyPass(short), "type": "image/jpeg", "time": at, "by": d.person})
}

func (d *deckTablet) anyPass(short string) string {
	return fmt.Sprintf("%s-%04d", short, 1+d.chance.IntN(d.passes))
}

func (d *deckTablet) seal(draft journal.Draft) {
	stamp := journal.Stamp{Wall: d.clock(), Run: d.name + "-run"}
	copy(stamp.Random[:], d.bytes(10))
	_, canonical, head, err := journal.Seal(d.head, d.name, draft, stamp)
	if err != nil {
		panic(err)
	}
	d.head = head
	d.lines, d.hashes = append(d.lines, string(canonical)), append(d.hashes, head.Hash)
}

// lostError means that the laptop broke its word.
type lostError struct{ what string }

func (e *lostError) Error() string { return e.what }

// sync brings at most so many entries, and things that are not safe yet, once.
func (d *deckTablet) sync(ctx context.Context, most int) error {
	batch := app.DeckBatch{Identity: d.identity, Entries: []string{}, Blobs: []app.DeckBlob{}, NowMS: d.clock().UnixMilli()}
	batch.Entries = append(batch.Entries, d.lines[d.safe:min(d.safe+int64(most), int64(len(d.lines)))]...)
	for _, ref := range d.waits[:min(len(d.waits), max(most/10, 3))] {
		batch.Blobs = append(batch.Blobs, d.blobs[ref])
	}
	if most == 0 {
		batch.Entries, batch.Blobs = []string{}, []app.DeckBlob{}
	}
	return d.bring(ctx, batch)
}

func (d *deckTablet) bring(ctx context.Context, batch app.DeckBatch) error {
	var answer app.DeckAnswer
	if _, _, err := d.send(ctx, "POST", "/api/studies/bay/deck/sync", batch, &answer); err != nil {
		return err
	}
	return d.heed(answer)
}

// heed takes an answer at its word, and checks that it takes nothing back.
func (d *deckTablet) heed(answer app.DeckAnswer) error {
	head := answer.Heads[d.name]
	switch {
	case head.Seq < d.safe:
		return &lostError{fmt.Sprintf("%s: %d entries were safe, and now %d are", d.name, d.safe, head.Seq)}
	case head.Seq > int64(len(d.lines)):
		return &lostError{fmt.Sprintf("%s: %d entries are there of %d that it wrote", d.name, head.Seq, len(d.lines))}
	case head.Seq > 0 && head.Hash != d.hashes[head.Seq-1].String():
		return &lostError{fmt.Sprintf("%s: its entry %d is another one there", d.name, head.Seq)}
	}
	d.safe = head.Seq
	for _, ref := range answer.Missing {
		if _, known := d.blobs[ref]; known && !slices.Contains(d.waits, ref) {
			return &lostError{fmt.Sprintf("%s: %s was safe, and now is missing", d.name, ref)}
		}
	}
	d.waits = slices.DeleteFunc(d.waits, func(ref string) bool { return slices.Contains(answer.Blobs, ref) })
	return nil
}

func (d *deckTablet) done() bool { return d.safe == int64(len(d.lines)) && len(d.waits) == 0 }

// bringAll syncs until everything is safe; the laptop is there.
func (d *deckTablet) bringAll(ctx context.Context, most int) error {
	for tries := 0; !d.done(); {
		err := d.sync(ctx, most)
		var refused *refusedError
		var lost *lostError
		switch {
		case err == nil:
			tries = 0
			continue
		case errors.As(err, &lost), ctx.Err() != nil:
			return err
		case errors.As(err, &refused) && refused.status != http.StatusTooManyRequests:
			return err
		}
		if tries++; tries > 200 {
			return err
		}
		time.Sleep(20 * time.Millisecond)
	}
	return nil
}

// wholeOn compares the study on the disc with what the tablets wrote: every
// entry once and the same, nothing beside, everything that entries refer to, and
// records that are what the entries add up to. It returns how many entries and
// things those were.
func wholeOn(t testing.TB, dir string, tablets []*deckTablet) (entries, things int) {
	t.Helper()
	folder, err := newShelf(dir).Open(t.Context(), "bay")
	if err != nil {
		t.Fatal(err)
	}
	got := map[string][]string{}
	ids := map[string]bool{}
	for stored, err := range folder.Journal.All(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		got[stored.Device] = append(got[stored.Device], string(stored.Canonical))
		e := must(journal.Parse(stored.Canonical))
		if ids[e.ID] {
			t.Errorf("entry %s is there twice", e.ID)
		}
		ids[e.ID] = true
	}
	// A laptop that was killed while it opened the study goes on as a device of its
	// own (internal/sqlite, device.go): what is no tablet is a laptop.
	known := map[string]bool{}
	for _, d := range tablets {
		known[d.name] = true
		if !slices.Equal(got[d.name], d.lines) {
			t.Errorf("%s wrote %d entries, and %d are there, or they differ", d.name, len(d.lines), len(got[d.name]))
		}
		entries += len(d.lines)
	}
	for _, device := range slices.Sorted(maps.Keys(got)) {
		if !known[device] && strings.HasPrefix(device, "deck-") {
			t.Errorf("%d entries are there of %s, which nobody knows", len(got[device]), device)
		}
	}
	if err := folder.Close(); err != nil {
		t.Fatal(err)
	}
	things = thingsOn(t, dir, tablets)
	studies := studiesOn(dir)
	defer studies.Close()
	bay := must(studies.Study(t.Context(), "bay"))
	doc, err := bay.Verify(t.Context(), nil)
	if err != nil || !doc.Same {
		t.Errorf("verify: %v %q", err, doc.Differences)
	}
	// Readings lie in the guarded part: the laptop itself says that none is missing.
	for _, d := range tablets {
		ctx := app.WithCaller(t.Context(), app.Caller{Device: "test", Role: "operator", Writes: []string{d.name}})
		answer, err := bay.DeckSync(ctx, app.DeckBatch{Identity: d.identity, Entries: []string{}, Blobs: []app.DeckBlob{}})
		if err != nil || len(answer.Missing) > 0 {
			t.Errorf("%s: missing %v, %v", d.name, answer.Missing, err)
		}
	}
	return entries, things
}

func thingsOn(t testing.TB, dir string, tablets []*deckTablet) (things int) {
	t.Helper()
	store, err := files.OpenErasable(filepath.Join(dir, "bay"), nil, true)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	for _, d := range tablets {
		for _, ref := range slices.Sorted(maps.Keys(d.blobs)) {
			things++
			if d.blobs[ref].Kind == "guarded" {
				continue
			}
			if data, err := store.Get(t.Context(), ref); err != nil || !bytes.Equal(data, d.blobs[ref].Data) {
				t.Errorf("%s: %s %s is not what was sent: %v", d.name, d.blobs[ref].Kind, ref, err)
			}
		}
	}
	return things
}
