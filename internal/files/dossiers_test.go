package files_test

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"brinefield/internal/app"
	"brinefield/internal/files"
)

func writes(text string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}
}

func TestDossiersAreKeptWholeOrNotAtAll(t *testing.T) {
	dir, ctx := t.TempDir(), t.Context()
	s, err := files.OpenDossiers(dir, false)
	if err != nil {
		t.Fatal(err)
	}
	if list, err := s.List(ctx); err != nil || len(list) != 0 {
		t.Errorf("%v, %v", list, err)
	}
	if err := s.Put(ctx, "bay 2026-11-29 12-00.zip", writes("one")); err != nil {
		t.Fatal(err)
	}
	if err := s.Put(ctx, "bay 2026-11-29 12-00.zip", writes("other")); err == nil {
		t.Error("a package was written over")
	}
	broke := errors.New("broke off")
	if err := s.Put(ctx, "b.zip", func(w io.Writer) error { return errors.Join(writes("half")(w), broke) }); !errors.Is(err, broke) {
		t.Errorf("%v", err)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if err := s.Put(stopped, "c.zip", writes("x")); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	for _, bad := range []string{"", "x", "../x.zip", "a/b.zip", `a\b.zip`, ".hidden.zip", "a\nb.zip"} {
		if err := s.Put(ctx, bad, writes("x")); err == nil {
			t.Errorf("%q was written", bad)
		}
		if _, err := s.Open(ctx, bad); !errors.Is(err, app.ErrNoDossier) {
			t.Errorf("%q: %v", bad, err)
		}
		if err := s.Remove(ctx, bad); !errors.Is(err, app.ErrNoDossier) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	entries, err := os.ReadDir(filepath.Join(dir, "dossiers"))
	if err != nil || len(entries) != 1 {
		t.Errorf("%v, %v", entries, err)
	}
	list, err := s.List(ctx)
	if err != nil || len(list) != 1 || list[0].Bytes != 3 || list[0].Name != "bay 2026-11-29 12-00.zip" {
		t.Errorf("%v, %v", list, err)
	}
	f, err := s.Open(ctx, list[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	if data, err := io.ReadAll(io.NewSectionReader(f, 0, f.Size())); err != nil || string(data) != "one" {
		t.Errorf("%q, %v", data, err)
	}
	if err := f.Close(); err != nil {
		t.Error(err)
	}

	token, err := s.Take(ctx, strings.NewReader("12345"), 5)
	if err != nil {
		t.Fatal(err)
	}
	if f, err = s.Open(ctx, token); err != nil || f.Size() != 5 {
		t.Errorf("%v", err)
	} else if err := f.Close(); err != nil {
		t.Error(err)
	}
	if _, err := s.Take(ctx, strings.NewReader("123456"), 5); err == nil || !strings.Contains(err.Error(), "larger") {
		t.Errorf("%v", err)
	}
	if list, _ := s.List(ctx); len(list) != 1 {
		t.Errorf("what was sent is listed: %v", list)
	}
	if err := s.Remove(ctx, list[0].Name); err != nil {
		t.Error(err)
	}
	if err := s.Remove(ctx, list[0].Name); !errors.Is(err, app.ErrNoDossier) {
		t.Errorf("%v", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "dossiers", ".taken")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("what was sent stayed: %v", err)
	}

	if err := os.WriteFile(filepath.Join(dir, "dossiers", ".b.zip.new-abcdefabcdef"), []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	again, err := files.OpenDossiers(dir, true)
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Put(ctx, "d.zip", writes("x")); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("%v", err)
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
	if again, err = files.OpenDossiers(dir, false); err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if entries, _ := os.ReadDir(filepath.Join(dir, "dossiers")); len(entries) != 0 {
		t.Errorf("a killed run left %v", entries)
	}
}
