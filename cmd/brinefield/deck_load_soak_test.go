//go:build soak && unix

package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"
)

const (
	loadTablets = 10
	loadEntries = 5_000 // of each
	loadBatch   = 500
	loadRuns    = 3
)

// TestTabletsAtOnce lets ten tablets bring 5 000 entries each at once, over TLS to the
// program as a process of its own, and puts the same bytes into a bare table in
// the same run: the one first, then the other, by turns. The bare table is one of
// the same SQLite with the same settings (the log synced at each commit), written
// by one writer in transactions of one batch each, without any of the work of a journal.
//
// Everything shares this machine: the tablets' side of TLS and JSON too.
func TestTabletsAtOnce(t *testing.T) {
	for _, c := range []struct {
		name  string
		texts bool
	}{{"entries alone", true}, {"with photos and readings", false}} {
		t.Run(c.name, func(t *testing.T) {
			var synced, bare, share []float64
			var megabytes float64
			things := 0
			for run := range loadRuns {
				b := newBoat(t, t.TempDir())
				b.start(t)
				tablets := make([]*deckTablet, loadTablets)
				for i := range tablets {
					tablets[i] = b.pair(t, deckSeed+uint64(100*run+i), "")
					tablets[i].texts = c.texts
					tablets[i].log(loadEntries)
				}
				batches := bareBatches(tablets)
				var syncing, inserting time.Duration
				sync := func() { syncing = syncAtOnce(t, tablets) }
				insert := func() { inserting = insertBareBytes(t, batches) }
				if run%2 == 0 {
					sync()
					insert()
				} else {
					insert()
					sync()
				}
				b.stop(t)
				var entries int
				entries, things = wholeOn(t, b.dir, tablets)
				if entries != loadTablets*loadEntries {
					t.Fatalf("%d entries", entries)
				}
				synced, bare = append(synced, float64(entries)/syncing.Seconds()), append(bare, float64(entries)/inserting.Seconds())
				share = append(share, inserting.Seconds()/syncing.Seconds())
				megabytes = sizeOf(batches) / 1e6
			}
			t.Logf("seed %d: %d tablets × %d entries at once (%.0f MB with %d names, photos and readings), none lost, %d runs by turns: %.0f entries/s (%.0f to %.0f) against %.0f/s (%.0f to %.0f) of the same bytes into a bare table; share %.2f (%.2f to %.2f); %d cores for both sides",
				deckSeed, loadTablets, loadEntries, megabytes, things, loadRuns, middle(synced), slices.Min(synced), slices.Max(synced), middle(bare), slices.Min(bare), slices.Max(bare), middle(share), slices.Min(share), slices.Max(share), runtime.NumCPU())
		})
	}
}

func middle(of []float64) float64 { return slices.Sorted(slices.Values(of))[len(of)/2] }

// syncAtOnce says how long it takes until all that the tablets wrote is safe.
func syncAtOnce(t *testing.T, tablets []*deckTablet) time.Duration {
	t.Helper()
	errs := make([]error, len(tablets))
	var working sync.WaitGroup
	began := time.Now()
	for i, d := range tablets {
		working.Go(func() { errs[i] = d.bringAll(t.Context(), loadBatch) })
	}
	working.Wait()
	took := time.Since(began)
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	return took
}

// bareBatches are the same bytes as sync brings: of each tablet in turn so many
// entries, and with them their share of what they refer to.
func bareBatches(tablets []*deckTablet) (batches [][][]byte) {
	for from := 0; from < loadEntries; from += loadBatch {
		for _, d := range tablets {
			var batch [][]byte
			for _, line := range d.lines[from : from+loadBatch] {
				batch = append(batch, []byte(line))
			}
			parts := loadEntries / loadBatch
			part := from / loadBatch
			for _, ref := range d.waits[len(d.waits)*part/parts : len(d.waits)*(part+1)/parts] {
				thing := d.blobs[ref]
				batch = append(batch, slices.Concat(thing.Salt, thing.Data))
			}
			batches = append(batches, batch)
		}
	}
	return batches
}

func sizeOf(batches [][][]byte) (bytes float64) {
	for _, batch := range batches {
		for _, row := range batch {
			bytes += float64(len(row))
		}
	}
	return bytes
}

// insertBareBytes says how long the bare table takes.
func insertBareBytes(t *testing.T, batches [][][]byte) time.Duration {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bare.db")
	db, err := sql.Open("sqlite", "file://"+path+"?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=wal_autocheckpoint(4000)&_pragma=cache_size(-65536)")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	defer db.Close()
	if _, err := db.Exec("CREATE TABLE bare (number INTEGER PRIMARY KEY, data BLOB NOT NULL) STRICT"); err != nil {
		t.Fatal(err)
	}
	insert, err := db.Prepare("INSERT INTO bare (data) VALUES (?)")
	if err != nil {
		t.Fatal(err)
	}
	began, rows := time.Now(), 0
	for _, batch := range batches {
		if err := inOne(t.Context(), db, insert, batch); err != nil {
			t.Fatal(err)
		}
		rows += len(batch)
	}
	took := time.Since(began)
	var n int
	if err := db.QueryRow("SELECT count(*) FROM bare").Scan(&n); err != nil || n != rows {
		t.Fatal(fmt.Sprint(n, " rows of ", rows), err)
	}
	return took
}

func inOne(ctx context.Context, db *sql.DB, insert *sql.Stmt, batch [][]byte) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	in := tx.StmtContext(ctx, insert)
	for _, row := range batch {
		if _, err := in.ExecContext(ctx, row); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	return tx.Commit()
}
