//go:build unix

package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"strings"
	"testing"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// TestAttachmentsOnTablets sends a photo with its place from one tablet and asks for
// it from others, over TLS: what comes back tells no place, to nobody but the
// laptop's own window, and is a file that no browser runs.
func TestAttachmentsOnTablets(t *testing.T) {
	const place = "54.1N 8.6W"
	b := newBoat(t, t.TempDir())
	b.start(t)
	d := b.pairAs(t, "scorer", deckSeed, "")
	var plain bytes.Buffer
	if err := jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	comment := append([]byte{0xFF, 0xFE, 0, byte(len(place) + 2)}, place...) // ITU-T T.81: COM
	attach := func(letter, kind, ref string) {
		d.seal(journal.Draft{Author: d.person, Kind: study.KindAttachment, Subject: d.name[len("deck-"):] + "-a000" + letter, Act: journal.Record, Body: journal.Body{Fields: map[string]string{
			"kind": kind, "ref": ref, "type": "image/jpeg", "time": "2026-06-01T21:20:00+01:00", "by": d.person,
		}}})
	}
	photo := d.keep("photo", append(append(bytes.Clone(plain.Bytes()[:2]), comment...), plain.Bytes()[2:]...))
	page := d.keep("photo", []byte("<!doctype html><script>alert(1)</script>"))
	later := d.keep("photo", plain.Bytes())
	d.waits = d.waits[:len(d.waits)-1] // this file does not come
	delete(d.blobs, later)
	attach("1", "photo", photo)
	attach("2", "photo", page)
	attach("3", "photo", later)
	if err := d.bringAll(t.Context(), 100); err != nil {
		t.Fatal(err)
	}
	guest, lead := b.pairAs(t, "guest", 2, ""), b.pairAs(t, "lead", 3, "")
	stranger := newTablet("", 4, guest.client, guest.base)
	for _, c := range []struct {
		who    string
		d      *deckTablet
		ref    string
		status int
	}{
		{"the scorer", d, photo, 200},
		{"the lead", lead, photo, 200},
		{"a guest", guest, photo, 403},
		{"a stranger", stranger, photo, 401},
		{"the scorer, as it came", d, photo + "?original=1", 403},
		{"the lead, as it came", lead, photo + "?original=1", 403},
		{"the lead, a page", lead, page, 422},
		{"the lead, too early", lead, later, 404},
		{"the lead, a name", lead, strings.TrimPrefix(d.person, "person:"), 404},
		{"the lead, a file of the laptop", lead, "..%2f..%2fstudy.db", 404},
	} {
		status, header, body := c.d.get(t, "/download/bay/attachment/"+c.ref)
		if status != c.status || bytes.Contains(body, []byte(place)) || bytes.Contains(body, []byte("<script")) {
			t.Errorf("%s: status %d, %.200q; want %d", c.who, status, body, c.status)
		}
		if status != http.StatusOK {
			continue
		}
		if _, err := jpeg.Decode(bytes.NewReader(body)); err != nil {
			t.Errorf("%s: %v", c.who, err)
		}
		for name, want := range map[string]string{"Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff", "Cache-Control": "no-store", "Content-Security-Policy": "default-src 'none'; sandbox"} {
			if got := header.Values(name); len(got) != 1 || got[0] != want {
				t.Errorf("%s: %s is %q; want %q", c.who, name, got, want)
			}
		}
		if got := header.Get("Content-Disposition"); !strings.HasPrefix(got, "attachment; filename=attachment-") {
			t.Errorf("%s: Content-Disposition %q", c.who, got)
		}
	}
	status, body := b.look(t, "/download/bay/attachment/"+photo+"?original=1")
	if status != http.StatusOK || !bytes.Contains(body, []byte(place)) {
		t.Errorf("the laptop's own window, as it came: status %d, %q", status, body)
	}
	b.stop(t)
	studies := studiesOn(b.dir)
	if err := must(studies.Study(t.Context(), "bay")).EraseAttachment(t.Context(), d.name[len("deck-"):]+"-a0001", "", ""); err != nil {
		t.Fatal(err)
	}
	if err := studies.Close(); err != nil {
		t.Fatal(err)
	}
	b.start(t)
	if status, _, body := lead.get(t, "/download/bay/attachment/"+photo); status != http.StatusGone || !strings.Contains(string(body), "erased") {
		t.Errorf("erased: status %d, %q; want 410", status, body)
	}
	// The tablet that took it may bring it again: it stays erased.
	d.waits, d.safe = append(d.waits, photo), 0
	if err := d.bringAll(t.Context(), 100); err != nil {
		t.Fatal(err)
	}
	if status, _, _ := lead.get(t, "/download/bay/attachment/"+photo); status != http.StatusGone {
		t.Errorf("erased and brought again: status %d; want 410", status)
	}
}

func (d *deckTablet) get(t *testing.T, path string) (status int, header http.Header, body []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), "GET", d.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d.token != nil {
		r.AddCookie(d.token)
	}
	res, err := d.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	return res.StatusCode, res.Header, must(io.ReadAll(res.Body))
}

// look asks the laptop's own window; it was asked before.
func (b *boat) look(t *testing.T, path string) (status int, body []byte) {
	t.Helper()
	res, err := b.session.Get(strings.SplitN(b.window, "/enter", 2)[0] + path)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	return res.StatusCode, must(io.ReadAll(res.Body))
}
