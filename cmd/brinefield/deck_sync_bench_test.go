package main

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

const (
	benchTablets = 10
	eachTablet   = 5_000
	benchBatch   = 500
)

// BenchmarkDeckSync takes in 50 000 passes of ten tablets in batches of 500, through
// all that a batch goes through but the network: rules, chains, records, clocks, the
// list of what is missing, and the disc. In the same run, batch by batch and each
// first by turns, the same bytes are put into a bare table with the same settings.
// "share" is how many entries come in in the time of one bare insert.
func BenchmarkDeckSync(b *testing.B) {
	var syncing, bare time.Duration
	for b.Loop() {
		b.StopTimer()
		s, db := benchStudy(b), benchTable(b)
		identity, err := s.Identity(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		batches := benchBatches(b)
		b.StartTimer()
		for i, batch := range batches {
			device := fmt.Sprintf("deck-%04x", i%benchTablets)
			ctx := app.WithCaller(b.Context(), app.Caller{Device: device, Role: "scorer", Writes: []string{device}})
			sync := func() {
				a, err := s.DeckSync(ctx, app.DeckBatch{Identity: identity, Entries: batch, NowMS: time.Now().UnixMilli()})
				if err != nil || a.Heads[device].Seq != int64((i/benchTablets+1)*benchBatch) {
					b.Fatal(a.Heads, err)
				}
			}
			insert := func() { insertBare(b, db, batch) }
			if i%2 == 0 {
				syncing += took(sync)
				bare += took(insert)
			} else {
				bare += took(insert)
				syncing += took(sync)
			}
		}
	}
	entries := float64(b.N * benchTablets * eachTablet)
	b.ReportMetric(entries/syncing.Seconds(), "synced/s")
	b.ReportMetric(entries/bare.Seconds(), "bare/s")
	b.ReportMetric(bare.Seconds()/syncing.Seconds(), "share")
}

func took(do func()) time.Duration {
	began := time.Now()
	do()
	return time.Since(began)
}

func benchStudy(b *testing.B) *app.Study {
	place := newShelf(b.TempDir())
	all := app.NewStudies(app.StudiesOptions{
		Shelf: place, ShelfName: "shelf", Program: program(), Clock: time.Now, Random: outside().Random, Analyse: app.AnalyseOptions{Seed: 1}, Background: b.Context(),
	})
	b.Cleanup(func() { _ = all.Close() })
	in, err := outside().ReadFolder("../../testdata/season-a")
	if err != nil {
		b.Fatal(err)
	}
	plan, err := all.Plan(b.Context(), app.PlanRequest{Files: app.Uploads(in)})
	if err != nil {
		b.Fatal(err)
	}
	if _, err := all.Import(b.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay"}); err != nil {
		b.Fatal(err)
	}
	s, err := all.Study(b.Context(), "bay")
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// benchTable is a bare table with the settings of a study's database.
func benchTable(b *testing.B) *sql.DB {
	const settings = "?_pragma=synchronous(FULL)&_pragma=journal_mode(WAL)&_pragma=wal_autocheckpoint(4000)&_pragma=cache_size(-65536)"
	db, err := sql.Open("sqlite", "file://"+filepath.ToSlash(filepath.Join(b.TempDir(), "bare.db"))+settings)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("CREATE TABLE bare (number INTEGER PRIMARY KEY, data BLOB NOT NULL) STRICT"); err != nil {
		b.Fatal(err)
	}
	return db
}

func insertBare(b *testing.B, db *sql.DB, batch []string) {
	tx, err := db.Begin()
	if err != nil {
		b.Fatal(err)
	}
	put, err := tx.Prepare("INSERT INTO bare (data) VALUES (?)")
	if err != nil {
		b.Fatal(err)
	}
	for _, line := range batch {
		if _, err := put.Exec([]byte(line)); err != nil {
			b.Fatal(err)
		}
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
}

// benchBatches are passes as tablets write them, a batch of each tablet in turn.
func benchBatches(b *testing.B) [][]string {
	chance := rand.New(rand.NewPCG(5, 8))
	began := time.Date(2026, 6, 11, 10, 0, 0, 0, time.UTC)
	chains := make([][]string, benchTablets)
	for d := range benchTablets {
		device, person := fmt.Sprintf("deck-%04x", d), fmt.Sprintf("person:%064x", d+1)
		var head journal.Head
		for i := range eachTablet {
			at := began.Add(time.Duration(i*benchTablets+d) * 100 * time.Millisecond)
			stamp := journal.Stamp{Wall: at, Run: device + "-1", MonotonicUS: int64(i)}
			for k := range stamp.Random {
				stamp.Random[k] = byte(chance.Uint32())
			}
			_, line, next, err := journal.Seal(head, device, journal.Draft{
				Author: person, Kind: study.KindPass, Subject: fmt.Sprintf("%04x-%05d", d, i), Act: journal.Record, Body: journal.Body{Fields: map[string]string{
					"trial": "T01", "time": at.Format(time.RFC3339), "individual": fmt.Sprint("R", chance.IntN(30)), "species": "Raja clavata", "pair": "A", "turned": "no", "bit": "no",
					"height_class": "low", "animals_in_view": "2", "visit": "1", "scorer": person,
				}},
			}, stamp)
			if err != nil {
				b.Fatal(err)
			}
			head = next
			chains[d] = append(chains[d], string(line))
		}
	}
	var batches [][]string
	for from := 0; from < eachTablet; from += benchBatch {
		for d := range benchTablets {
			batches = append(batches, chains[d][from:from+benchBatch])
		}
	}
	return batches
}
