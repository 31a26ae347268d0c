package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

const noRef = "00000000000000000000000000000000000000000000000000000000000000aa"

// photoAt is a photo with a comment that says where it was taken: a part FFFE of
// JPEG (ITU-T T.81) behind its beginning.
func photoAt(place string) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		panic(err)
	}
	plain := b.Bytes()
	comment := append([]byte{0xFF, 0xFE, 0, byte(len(place) + 2)}, place...)
	return append(append(bytes.Clone(plain[:2]), comment...), plain[2:]...)
}

// kept puts data where it can be erased, as a tablet's blob comes in.
func (m *memStudy) kept(t *testing.T, data []byte) (ref string) {
	t.Helper()
	ref, err := (*memErasable)(m).Put(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

func attached(id, ref, kind string) journal.Draft {
	return recorded(study.KindAttachment, id, map[string]string{
		"kind": kind, "ref": ref, "about": "pass/P1", "type": "image/jpeg", "bytes": "100", "time": "2026-06-01T21:20:00+01:00", "by": "person:" + noRef,
	})
}

var voice = []byte("\x1A\x45\xDF\xA3\x9F\x42\x86\x81\x01\x42\xF7\x81\x01\x42\xF2\x81\x04\x42\xF3\x81\x08\x42\x82\x84webm\x42\x87\x81\x04 by Aoife")

func TestAttachment(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := t.Context()
	photo := m.kept(t, photoAt("54.1N 8.6W"))
	spoken, erased, name, withdrawn := m.kept(t, voice), m.kept(t, photoAt("gone")), m.kept(t, []byte("Aoife Byrne (invented)")), m.kept(t, photoAt("x"))
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	other := storetest.NewTablet("deck-aaaa", m.clock.Now)
	merged(t, b, tablet.Write(t, attached("7c1e-a0001", photo, "photo"), attached("7c1e-a0002", noRef, "photo"), attached("7c1e-a0003", erased, "photo"),
		attached("7c1e-a0004", name, "photo"), attached("7c1e-a0005", withdrawn, "photo"), journal.Draft{Kind: study.KindAttachment, Subject: "7c1e-a0005", Act: journal.Remove})...)
	merged(t, b, other.Write(t, attached("a: ../b", spoken, "voice"))...)
	if err := (*memErasable)(m).Erase(ctx, erased); err != nil {
		t.Fatal(err)
	}

	file, err := b.Attachment(ctx, photo)
	if err != nil || !bytes.Equal(file.Data, photoAt("54.1N 8.6W")) || file.Type != "image/jpeg" || file.Name != "attachment-7c1e-a0001.jpg" || file.ID != "7c1e-a0001" {
		t.Errorf("%q, %q, %d bytes: %v", file.Name, file.Type, len(file.Data), err)
	}
	clean, err := file.Cleaned()
	if err != nil || bytes.Contains(clean.Data, []byte("54.1N")) || clean.Name != file.Name {
		t.Errorf("cleaned: %v, %q", err, clean.Data)
	}
	if _, err := jpeg.Decode(bytes.NewReader(clean.Data)); err != nil {
		t.Errorf("cleaned it is no picture: %v", err)
	}
	file, err = b.Attachment(ctx, spoken)
	if err != nil || file.Type != "audio/webm" || file.Name != "attachment-a__-_b.weba" && file.Name != "attachment-a_____b.weba" {
		t.Errorf("%q, %q: %v", file.Name, file.Type, err)
	}
	if same, err := file.Cleaned(); err != nil || !bytes.Equal(same.Data, voice) {
		t.Errorf("a voice: %v", err)
	}
	if file, err = b.Attachment(ctx, name); err != nil || file.Type != "" {
		t.Fatalf("%q: %v", file.Type, err)
	}
	if out, err := file.Cleaned(); !errors.Is(err, app.ErrCannotClean) || out.Data != nil {
		t.Errorf("what is neither: %v", err)
	}
	cut := app.AttachmentFile{Type: "image/jpeg", Data: photoAt("x")[:50]}
	if out, err := cut.Cleaned(); !errors.Is(err, app.ErrCannotClean) || out.Data != nil || !strings.Contains(err.Error(), "ends in the middle") {
		t.Errorf("half a photo: %v", err)
	}
	// A name is kept in the same store: it is no attachment.
	person := m.kept(t, []byte("Tom Kett (invented)"))
	for ref, want := range map[string]error{noRef: app.ErrNotHereYet, erased: app.ErrErased, withdrawn: app.ErrNoAttachment, person: app.ErrNoAttachment, "": app.ErrNoAttachment, "../../study.db": app.ErrNoAttachment} {
		if file, err := b.Attachment(ctx, ref); !errors.Is(err, want) || file.Data != nil {
			t.Errorf("%q: %v; want %v", ref, err, want)
		}
	}
	if _, err := app.Loose(nil).Attachment(ctx, photo); !errors.Is(err, app.ErrLooseSeason) {
		t.Errorf("a season folder: %v", err)
	}
}

func TestExportPictures(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := t.Context()
	refs := []string{m.kept(t, photoAt("54.1N 8.6W")), m.kept(t, photoAt("Skerrymore")), m.kept(t, voice), m.kept(t, photoAt("gone")), noRef, m.kept(t, photoAt("half")[:60])}
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	merged(t, b, tablet.Write(t, attached("a/1", refs[0], "photo"), attached("A:1", refs[1], "photo"), attached("v", refs[2], "voice"), attached("g", refs[3], "photo"), attached("n", refs[4], "photo"), attached("h", refs[5], "photo"))...)
	if err := (*memErasable)(m).Erase(ctx, refs[3]); err != nil {
		t.Fatal(err)
	}
	got := map[string][]byte{}
	done, err := b.ExportPictures(ctx, func(name string, data []byte) error {
		if got[name] != nil {
			t.Errorf("%s was written twice", name)
		}
		got[name] = data
		return nil
	})
	if err != nil || done != (app.PicturesDone{Written: 2, LeftOut: 4}) || len(got) != 3 {
		t.Fatalf("%+v, %d files, %v", done, len(got), err)
	}
	for name, data := range got {
		for _, told := range []string{"54.1N", "Skerrymore", "Aoife", "person:"} {
			if bytes.Contains(data, []byte(told)) {
				t.Errorf("%s holds %q", name, told)
			}
		}
	}
	rows, err := csv.NewReader(bytes.NewReader(got["attachments.csv"])).ReadAll()
	if err != nil || len(rows) != 7 {
		t.Fatalf("%v: %v", rows, err)
	}
	// Capitals do not count on every disc: no two files are told apart by them.
	want := map[string][2]string{
		"a/1": {"pictures/attachment-a_1.jpg", ""}, "A:1": {"pictures/attachment-A_1-2.jpg", ""},
		"v": {"", "a voice"}, "g": {"", "erased"}, "n": {"", "not here yet"}, "h": {"", "cannot be cleaned"},
	}
	for _, row := range rows[1:] {
		if w := want[row[0]]; row[4] != w[0] || row[6] != w[1] || row[2] != "pass/P1" || row[3] != "2026-06-01T21:20:00+01:00" {
			t.Errorf("%q; want %q", row, w)
		}
		sum := ""
		if row[4] != "" {
			s := sha256.Sum256(got[row[4]])
			sum = hex.EncodeToString(s[:])
		}
		if row[5] != sum {
			t.Errorf("%s: SHA-256 %s; want %s", row[0], row[5], sum)
		}
	}
	full := errors.New("the disc is full")
	if _, err := b.ExportPictures(ctx, func(string, []byte) error { return full }); !errors.Is(err, full) {
		t.Errorf("a full disc: %v", err)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := b.ExportPictures(stopped, func(string, []byte) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	// An import of the folder does not ask what attachments.csv is.
	if unknown := app.UnknownFiles(app.Input{"attachments.csv": got["attachments.csv"], "other.csv": nil}); len(unknown) != 1 || unknown[0] != "other.csv" {
		t.Errorf("an import asks what %q is", unknown)
	}
}
