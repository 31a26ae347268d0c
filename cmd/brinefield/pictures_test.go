package main

import (
	"bytes"
	"crypto/rand"
	"encoding/csv"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/files"
	"brinefield/internal/storetest"
)

// TestExportOfPictures runs the command on a study with a photo: without being
// asked it writes none, and then none that tells where it was taken.
func TestExportOfPictures(t *testing.T) {
	const place = "54.1N 8.6W"
	dir := t.TempDir()
	t.Setenv(studiesVariable, dir)
	in, err := files.ReadSeason("../../testdata/season-a")
	if err != nil {
		t.Fatal(err)
	}
	s := app.NewStudies(app.StudiesOptions{Shelf: newShelf(dir), ShelfName: dir, Clock: time.Now, Random: rand.Reader, Background: t.Context()})
	importFolder(t, s, "", "bay", in)
	store := must(files.OpenErasable(filepath.Join(dir, "bay"), rand.Reader, false))
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	comment := append([]byte{0xFF, 0xFE, 0, byte(len(place) + 2)}, place...) // ITU-T T.81: COM
	ref := must(store.Put(t.Context(), append(append(bytes.Clone(photo.Bytes()[:2]), comment...), photo.Bytes()[2:]...)))
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	tablet := storetest.NewTablet("deck-7c1e", time.Now())
	lines := tablet.Write(t, journal.Draft{Kind: study.KindAttachment, Subject: "7c1e-a0001", Act: journal.Record, Body: journal.Body{Fields: map[string]string{
		"kind": "photo", "ref": ref, "about": "pass/P00001", "time": "2026-06-01T21:20:00+01:00", "type": "image/jpeg", "bytes": "400",
	}}})
	if _, err := must(s.Study(t.Context(), "bay")).MergeJournal(t.Context(), bytes.Join(lines, []byte("\n"))); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	run := func(args ...string) string {
		t.Helper()
		var said bytes.Buffer
		out := outside()
		out.Out, out.Err = &said, &said
		if code := cli.Run(t.Context(), args, out); code != 0 {
			t.Fatalf("%v: %d, %s", args, code, &said)
		}
		return said.String()
	}
	plain, with := filepath.Join(t.TempDir(), "plain"), filepath.Join(t.TempDir(), "with")
	run("export", "bay", plain)
	for _, name := range []string{"pictures", "attachments.csv"} {
		if _, err := os.Stat(filepath.Join(plain, name)); !os.IsNotExist(err) {
			t.Errorf("nobody asked for photos, and there is %s", name)
		}
	}
	said := run("export", "bay", with, "--pictures")
	if !strings.Contains(said, "1 photo is in pictures; 0 attachments are only listed") {
		t.Errorf("it says %q", said)
	}
	file := filepath.Join(with, "pictures", "attachment-7c1e-a0001.jpg")
	data, err := os.ReadFile(file)
	if err != nil || bytes.Contains(data, []byte(place)) {
		t.Fatalf("%q, %v", data, err)
	}
	if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
		t.Error(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(must(os.ReadFile(filepath.Join(with, "attachments.csv"))))).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][0] != "7c1e-a0001" || rows[1][4] != "pictures/attachment-7c1e-a0001.jpg" {
		t.Errorf("%q, %v", rows, err)
	}
	// The folder is a season still: it can be imported again.
	if again := run("import", with, "again"); strings.Contains(again, "attachments.csv") {
		t.Errorf("the import asks: %s", again)
	}
}
