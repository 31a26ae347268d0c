//go:build soak && linux

package main

import (
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"brinefield/internal/app"
)

// TestBoatDiscFull fills the laptop's disc while a tablet syncs. First photos have to
// wait, because a part of the disc is kept free for what is written down; then
// entries too, each batch refused with status 507 and in a sentence, and nothing of
// it kept. With room again all of it comes in.
func TestBoatDiscFull(t *testing.T) {
	const size, keptFree = 1300 << 20, 1 << 30
	if os.Getuid() != 0 {
		t.Skip("a disc of its own is made with a mount, which needs root")
	}
	disc := t.TempDir()
	if err := syscall.Mount("tmpfs", disc, "tmpfs", 0, "size=1300m"); err != nil {
		t.Skip("cannot mount here:", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(disc, syscall.MNT_DETACH) })
	b := newBoat(t, filepath.Join(disc, "studies"))
	b.start(t)
	d := b.pair(t, deckSeed, "")
	d.log(200)
	if err := d.bringAll(t.Context(), 50); err != nil {
		t.Fatal(err)
	}

	// A part that is kept free: entries come in, photos wait.
	ballast := must(os.Create(filepath.Join(disc, "ballast")))
	if err := syscall.Fallocate(int(ballast.Fd()), 0, 0, size-keptFree+20<<20); err != nil {
		t.Fatal(err)
	}
	d.keep("photo", d.bytes(100_000))
	refusedFull(t, d, d.sync(t.Context(), 50))
	d.log(100)
	photosRefused := 0
	for d.safe < int64(len(d.lines)) {
		if err := d.bring(t.Context(), app.DeckBatch{Identity: d.identity, Entries: d.lines[d.safe : d.safe+10], Blobs: []app.DeckBlob{}, NowMS: d.clock().UnixMilli()}); err != nil {
			t.Fatalf("entries alone, with 1 GB free: %v", err)
		}
		photosRefused++
	}

	// Full to the last block: nothing comes in, and nothing is half there.
	fillUp(t, ballast)
	d.log(3000)
	refused, taken := 0, 0
	for range 60 {
		safe := d.safe
		err := d.bring(t.Context(), app.DeckBatch{Identity: d.identity, Entries: d.lines[d.safe:min(d.safe+200, int64(len(d.lines)))], Blobs: []app.DeckBlob{}, NowMS: d.clock().UnixMilli()})
		if err == nil {
			taken++ // the log of the database had room in it
			continue
		}
		refusedFull(t, d, err)
		refused++
		if err := d.sync(t.Context(), 0); err != nil || d.safe != safe {
			t.Fatalf("%d entries were safe, after a refusal %d are: %v", safe, d.safe, err)
		}
	}
	if refused < 10 {
		t.Fatalf("the disc was not full: %d refused, %d taken in", refused, taken)
	}
	// Killed on a full disc: what was safe is safe.
	safe := d.safe
	b.kill()
	b.start(t)
	if err := d.sync(t.Context(), 0); err != nil || d.safe != safe {
		t.Fatalf("after a kill on the full disc: %d entries were safe, %d are: %v", safe, d.safe, err)
	}

	if err := errors.Join(ballast.Close(), os.Remove(ballast.Name())); err != nil {
		t.Fatal(err)
	}
	if err := d.bringAll(t.Context(), 200); err != nil {
		t.Fatalf("with room again: %v", err)
	}
	b.stop(t)
	entries, things := wholeOn(t, b.dir, []*deckTablet{d})
	t.Logf("a full disc: photos refused with 507 while %d batches of entries came in, then %d batches of entries refused with 507 and nothing of them kept, a kill in between; with room again all %d entries and %d names, readings and photos are there once",
		photosRefused, refused, entries, things)
}

func refusedFull(t *testing.T, d *deckTablet, err error) {
	t.Helper()
	var refused *refusedError
	if !errors.As(err, &refused) || refused.status != http.StatusInsufficientStorage || !strings.Contains(refused.said, "disc") {
		t.Fatalf("%s on a full disc: %v; want status 507 and a sentence about the disc", d.name, err)
	}
}

// fillUp makes a file as large as the disc lets it become.
func fillUp(t *testing.T, f *os.File) {
	t.Helper()
	end := must(f.Seek(0, 2))
	for size := int64(64 << 20); size >= 4096; {
		if err := syscall.Fallocate(int(f.Fd()), 0, end, size); err != nil {
			if !errors.Is(err, syscall.ENOSPC) {
				t.Fatal(err)
			}
			size /= 2
			continue
		}
		end += size
	}
}
