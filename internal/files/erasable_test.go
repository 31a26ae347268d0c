package files_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"brinefield/internal/app"
	"brinefield/internal/files"
	"brinefield/internal/storetest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var (
	ctx = context.Background()

	_ app.ErasableStore = (*files.Erasable)(nil)
)

func erasable(t *testing.T) (string, *files.Erasable) {
	t.Helper()
	dir := t.TempDir()
	e, err := files.OpenErasable(dir, rand.Reader, false)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { e.Close() })
	return dir, e
}

func put(t *testing.T, e *files.Erasable, text string) string {
	t.Helper()
	ref, err := e.Put(ctx, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

func fileOf(dir, ref string) string { return filepath.Join(dir, "files", ref[:2], ref) }

// The form on the disc is a promise: whoever has a reference can check it with
// any program that computes SHA-256 (FIPS 180-4; the standard library's).
func TestAKeptFileIsChanceAndDataUnderItsHash(t *testing.T) {
	dir, e := erasable(t)
	ref := put(t, e, "Aoife, invented")
	content, err := os.ReadFile(fileOf(dir, ref))
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != ref {
		t.Error("the name is not the hash of the content")
	}
	if len(content) != 32+15 || string(content[32:]) != "Aoife, invented" {
		t.Errorf("the content is %q", content)
	}
	if other := put(t, e, "Aoife, invented"); other == ref {
		t.Error("the same name twice has the same reference: it can be guessed")
	}
	if runtime.GOOS != "windows" {
		for path, want := range map[string]os.FileMode{fileOf(dir, ref): 0o600, filepath.Dir(fileOf(dir, ref)): 0o700, filepath.Join(dir, "files"): 0o700} {
			if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
				t.Errorf("%s: %v, %v; want %o", path, info.Mode(), err, want)
			}
		}
	}
}

func TestErasedIsToldFromMissingAndDamaged(t *testing.T) {
	dir, e := erasable(t)
	erased, missing, damaged, short := put(t, e, "erased"), put(t, e, "missing"), put(t, e, "damaged"), put(t, e, "short")
	for range 2 { // twice is no error
		if err := e.Erase(ctx, erased); err != nil {
			t.Fatal(err)
		}
	}
	if info, err := os.Stat(fileOf(dir, erased) + ".erased"); err != nil || info.Size() != 0 {
		t.Errorf("the mark of an erasure: %v, %v", info, err)
	}
	if err := os.Remove(fileOf(dir, missing)); err != nil {
		t.Fatal(err)
	}
	for ref, change := range map[string]func([]byte) []byte{
		damaged: func(b []byte) []byte { b[35] ^= 1; return b },
		short:   func(b []byte) []byte { return b[:3] },
	} {
		b, err := os.ReadFile(fileOf(dir, ref))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(fileOf(dir, ref), change(b), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := e.Get(ctx, erased); !errors.Is(err, app.ErrErased) {
		t.Errorf("erased: %v", err)
	}
	for ref, want := range map[string]string{missing: "is missing", damaged: "is damaged", short: "is damaged"} {
		_, err := e.Get(ctx, ref)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), ref) || errors.Is(err, app.ErrErased) {
			t.Errorf("%v, want one that says %q and names the file", err, want)
		}
	}
	if err := e.Erase(ctx, missing); err == nil || errors.Is(err, app.ErrErased) {
		t.Errorf("erasing what was never there: %v", err)
	}
	wrong, err := e.Check(ctx, nil)
	if err != nil || len(wrong) != 2 {
		t.Errorf("the check finds %q, %v; want the two damaged files", wrong, err)
	}
	if err := e.CopyTo(ctx, t.TempDir()); err == nil {
		t.Error("damaged files were copied into a backup")
	}
	for _, ref := range []string{damaged, short} { // a damaged file can be erased
		if err := e.Erase(ctx, ref); err != nil {
			t.Error(err)
		}
	}
}

func TestAReferenceIsNoPath(t *testing.T) {
	dir, e := erasable(t)
	ref := put(t, e, "a")
	for _, bad := range []string{"", "ab", "../../study.db", strings.ToUpper(ref), ref[:63] + "/", ref + ".erased", strings.Repeat("../", 22)[:64]} {
		_, got := e.Get(ctx, bad)
		if got == nil || e.Erase(ctx, bad) == nil {
			t.Errorf("%q was taken for a reference", bad)
		}
	}
	// Links neither lead out nor let one reference erase another.
	outside := filepath.Join(t.TempDir(), "outside")
	if err := os.WriteFile(outside, []byte("outside"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, target := range []string{outside, ref} {
		link := ref[:2] + strings.Repeat("0", 62)
		if err := os.Symlink(target, fileOf(dir, link)); err != nil {
			t.Fatal(err)
		}
		_, got := e.Get(ctx, link)
		if got == nil || e.Erase(ctx, link) == nil {
			t.Errorf("a link to %s was followed", target)
		}
		os.Remove(fileOf(dir, link))
	}
	if b, err := os.ReadFile(outside); string(b) != "outside" {
		t.Errorf("a file outside was changed: %q, %v", b, err)
	}
	if _, err := e.Get(ctx, ref); err != nil {
		t.Errorf("a file was erased by a link to it: %v", err)
	}
	other := t.TempDir()
	if err := os.Symlink(dir, filepath.Join(other, "files")); err != nil {
		t.Fatal(err)
	}
	led, err := files.OpenErasable(other, rand.Reader, false)
	if err != nil {
		t.Fatal(err)
	}
	defer led.Close()
	if _, err := led.Put(ctx, []byte("a")); err == nil {
		t.Error("the folder of files was a link that leads out, and was followed")
	}
}

// What a folder kept in step with another machine brings back stays erased.
func TestWhatComesBackStaysErased(t *testing.T) {
	dir, e := erasable(t)
	ref := put(t, e, "a voice")
	content, err := os.ReadFile(fileOf(dir, ref))
	if err != nil {
		t.Fatal(err)
	}
	if err := e.Erase(ctx, ref); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fileOf(dir, ref), content, 0o600); err != nil {
		t.Fatal(err)
	}
	refs, err := e.Refs(ctx)
	if _, got := e.Get(ctx, ref); !errors.Is(got, app.ErrErased) || err != nil || len(refs) != 0 {
		t.Errorf("%v, %v, %v", got, refs, err)
	}
	if err := e.Tidy(ctx); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(fileOf(dir, ref)); !os.IsNotExist(err) {
		t.Error("the file is back")
	}
	if b, err := os.ReadFile(fileOf(dir, ref) + ".erased"); err != nil || len(b) != 0 {
		t.Errorf("the mark holds %q, %v", b, err)
	}
}

func TestErasableReadOnlyAndBadChance(t *testing.T) {
	dir, e := erasable(t)
	ref := put(t, e, "a")
	r, err := files.OpenErasable(dir, nil, true)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if data, err := r.Get(ctx, ref); err != nil || string(data) != "a" {
		t.Errorf("read-only: %q, %v", data, err)
	}
	_, err = r.Put(ctx, nil)
	for _, err := range []error{err, r.Erase(ctx, ref), r.Tidy(ctx)} {
		if !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("a change to a read-only store: %v", err)
		}
	}
	empty, err := files.OpenErasable(t.TempDir(), nil, true)
	if err != nil {
		t.Fatal(err)
	}
	defer empty.Close()
	if refs, err := empty.Refs(ctx); err != nil || len(refs) != 0 {
		t.Errorf("a study without files: %v, %v", refs, err)
	}
	for name, chance := range map[string][]byte{"too little": make([]byte, 31), "repeats": make([]byte, 64)} {
		bad, err := files.OpenErasable(t.TempDir(), bytes.NewReader(chance), false)
		if err != nil {
			t.Fatal(err)
		}
		_, first := bad.Put(ctx, []byte("a"))
		_, second := bad.Put(ctx, []byte("a"))
		if (first == nil) != (name == "repeats") || second == nil {
			t.Errorf("chance that %s: %v, %v", name, first, second)
		}
		bad.Close()
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err = e.Put(stopped, nil)
	_, got := e.Get(stopped, ref)
	for _, err := range []error{err, got, e.Erase(stopped, ref)} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("a stopped task: %v", err)
		}
	}
}

func TestErasableCopiesMarksAndFiles(t *testing.T) {
	_, e := erasable(t)
	kept, erased := put(t, e, "kept"), put(t, e, "erased")
	if err := e.Erase(ctx, erased); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := e.CopyTo(ctx, dir); err != nil {
		t.Fatal(err)
	}
	c, err := files.OpenErasable(dir, rand.Reader, false)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	data, err := c.Get(ctx, kept)
	if _, gone := c.Get(ctx, erased); err != nil || string(data) != "kept" || !errors.Is(gone, app.ErrErased) {
		t.Errorf("the copy: %q, %v, %v", data, err, gone)
	}
}

// A model in memory and the store must agree after any sequence of changes,
// reopening included.
func TestErasableAgreesWithAMap(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		dir, err := os.MkdirTemp("", "")
		if err != nil {
			r.Fatal(err)
		}
		defer os.RemoveAll(dir)
		e, err := files.OpenErasable(dir, rand.Reader, false)
		if err != nil {
			r.Fatal(err)
		}
		defer func() { e.Close() }()
		held, gone, all := map[string]string{}, map[string]bool{}, []string{}
		for range rapid.IntRange(1, 12).Draw(r, "steps") {
			switch rapid.SampledFrom([]string{"put", "put", "erase", "reopen"}).Draw(r, "step") {
			case "put":
				data := rapid.SliceOfN(rapid.Byte(), 0, 200).Draw(r, "data")
				ref, err := e.Put(ctx, data)
				if err != nil {
					r.Fatal(err)
				}
				held[ref] = string(data)
				all = append(all, ref)
			case "erase":
				if len(all) == 0 {
					continue
				}
				ref := all[rapid.IntRange(0, len(all)-1).Draw(r, "which")]
				if err := e.Erase(ctx, ref); err != nil {
					r.Fatal(err)
				}
				delete(held, ref)
				gone[ref] = true
			case "reopen":
				e.Close()
				if e, err = files.OpenErasable(dir, rand.Reader, false); err != nil {
					r.Fatal(err)
				}
				if err := e.Tidy(ctx); err != nil {
					r.Fatal(err)
				}
			}
		}
		got := map[string]string{}
		refs, err := e.Refs(ctx)
		if err != nil {
			r.Fatal(err)
		}
		for _, ref := range refs {
			data, err := e.Get(ctx, ref)
			if err != nil {
				r.Fatal(err)
			}
			got[ref] = string(data)
		}
		if d := cmp.Diff(held, got); d != "" {
			r.Fatal(d)
		}
		for ref := range gone {
			if _, err := e.Get(ctx, ref); !errors.Is(err, app.ErrErased) {
				r.Fatalf("%s: %v", ref, err)
			}
		}
	})
}

// Several workers put, get and erase at once; the race detector looks on.
func TestErasableWorkersAtOnce(t *testing.T) {
	_, e := erasable(t)
	shared := put(t, e, strings.Repeat("shared", 1000))
	var workers sync.WaitGroup
	for range 8 {
		workers.Go(func() {
			ref, err := e.Put(ctx, []byte("own"))
			if err != nil {
				t.Error(err)
				return
			}
			if data, err := e.Get(ctx, ref); err != nil || string(data) != "own" {
				t.Errorf("%q, %v", data, err)
			}
			if err := e.Erase(ctx, ref); err != nil {
				t.Error(err)
			}
			if _, err := e.Get(ctx, shared); err != nil && !errors.Is(err, app.ErrErased) {
				t.Error(err)
			}
			if err := e.Erase(ctx, shared); err != nil {
				t.Error(err)
			}
		})
	}
	workers.Wait()
	if refs, err := e.Refs(ctx); err != nil || len(refs) != 0 {
		t.Errorf("%v are left, %v", refs, err)
	}
}

func TestErasableKeepsThePromises(t *testing.T) {
	storetest.RunErasable(t, func(t *testing.T) (app.ErasableStore, func(*testing.T) app.ErasableStore) {
		dir, e := erasable(t)
		return e, func(t *testing.T) app.ErasableStore { // as after a program that was killed
			again, err := files.OpenErasable(dir, rand.Reader, false)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { again.Close() })
			if err := again.Tidy(ctx); err != nil {
				t.Fatal(err)
			}
			return again
		}
	})
}

// What another device sends again takes the place of a file that was damaged here,
// and what a run left that was killed stands in nobody's way.
func TestTakeMends(t *testing.T) {
	dir, e := erasable(t)
	salt := bytes.Repeat([]byte{3}, 32)
	content := append(bytes.Clone(salt), "a photo, invented"...)
	sum := sha256.Sum256(content)
	ref := hex.EncodeToString(sum[:])
	take := func(wantFresh bool) {
		t.Helper()
		if fresh, err := e.Take(ctx, ref, salt, content[32:]); err != nil || fresh != wantFresh {
			t.Fatalf("taken: %v, %v", fresh, err)
		}
		if got, err := e.Get(ctx, ref); err != nil || string(got) != "a photo, invented" {
			t.Fatalf("%q, %v", got, err)
		}
	}
	if err := os.MkdirAll(filepath.Dir(fileOf(dir, ref)), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fileOf(dir, ref)+".part", content[:5], 0o600); err != nil {
		t.Fatal(err)
	}
	take(true)
	take(false)
	for _, damage := range [][]byte{content[:len(content)-1], {}, append(bytes.Clone(content), 0)} {
		if err := os.WriteFile(fileOf(dir, ref), damage, 0o600); err != nil {
			t.Fatal(err)
		}
		take(true)
	}
}
