package sqlite

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"brinefield/core/journal"
)

const (
	tablets      = 10
	eachTablet   = 5_000
	receiveAtOne = 500
)

// BenchmarkReceive takes in 50 000 entries that ten tablets have written about
// 20 000 passes, in batches of 500 of one tablet after the other, as they sync.
// In the same run, batch by batch and each first by turns, as many drafts of the
// same kind are appended in batches of 500, and the same bytes are put into a
// bare table. "share" is how many entries are taken in in the time of one bare insert.
func BenchmarkReceive(b *testing.B) {
	for _, c := range []struct {
		name  string
		mixed bool // several tablets write about each pass
	}{{"own passes", false}, {"shared passes", true}} {
		b.Run(c.name, func(b *testing.B) { benchmarkReceive(b, c.mixed) })
	}
}

func benchmarkReceive(b *testing.B, mixed bool) {
	batches := tabletBatches(b, mixed)
	var receiving, appending, bare time.Duration
	for b.Loop() {
		b.StopTimer()
		s, other, w := mustCreate(b, b.TempDir()), mustCreate(b, b.TempDir()), bareTable(b)
		b.StartTimer()
		for i, batch := range batches {
			receive := func() {
				if _, err := s.Journal().Receive(b.Context(), batch); err != nil {
					b.Fatal(err)
				}
			}
			add := func() {
				drafts := make([]journal.Draft, len(batch))
				for k := range drafts {
					drafts[k] = drafted(i*receiveAtOne + k)
				}
				if _, err := other.Journal().Append(b.Context(), drafts); err != nil {
					b.Fatal(err)
				}
			}
			insert := func() {
				if err := w.change(b.Context(), func(ctx context.Context) error {
					for _, line := range batch {
						if _, err := w.ExecContext(ctx, "INSERT INTO bare (data) VALUES (?)", line); err != nil {
							return err
						}
					}
					return nil
				}); err != nil {
					b.Fatal(err)
				}
			}
			if i%2 == 0 {
				receiving += timed(receive)
				appending += timed(add)
				bare += timed(insert)
			} else {
				bare += timed(insert)
				appending += timed(add)
				receiving += timed(receive)
			}
		}
	}
	entries := float64(b.N * tablets * eachTablet)
	b.ReportMetric(entries/receiving.Seconds(), "received/s")
	b.ReportMetric(entries/appending.Seconds(), "appended/s")
	b.ReportMetric(entries/bare.Seconds(), "bare/s")
	b.ReportMetric(bare.Seconds()/receiving.Seconds(), "share")
}

// tabletBatches are the journals of the tablets in batches, those of different
// tablets mixed.
func tabletBatches(b *testing.B, mixed bool) [][][]byte {
	chance := rand.New(rand.NewPCG(5, 6))
	began := time.Date(2026, 6, 11, 10, 0, 0, 0, time.UTC)
	chains := make([][][]byte, tablets)
	for d := range tablets {
		var head journal.Head
		for i := range eachTablet {
			subject := fmt.Sprintf("P%02d%05d", d, i)
			if mixed {
				subject = fmt.Sprintf("P%05d", chance.IntN(20_000))
			}
			stamp := journal.Stamp{Wall: began.Add(time.Duration(i*tablets+d) * 100 * time.Millisecond), Run: "tablet-1"}
			for k := range stamp.Random {
				stamp.Random[k] = byte(chance.Uint32())
			}
			_, canonical, next, err := journal.Seal(head, fmt.Sprint("tablet-", d), track(subject), stamp)
			if err != nil {
				b.Fatal(err)
			}
			head = next
			chains[d] = append(chains[d], canonical)
		}
	}
	var batches [][][]byte
	for from := 0; from < eachTablet; from += receiveAtOne {
		for d := range tablets {
			batches = append(batches, chains[d][from:from+receiveAtOne])
		}
	}
	return batches
}
