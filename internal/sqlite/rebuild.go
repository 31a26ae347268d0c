package sqlite

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"slices"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/sqlite/studydb"
)

//go:embed temporary/record_again.sql
var recordAgain string

var errSame = errors.New("the records came out the same")

func (j *journalStore) Rebuild(ctx context.Context, progress func(done, total int)) (same bool, err error) {
	err = j.s.change(ctx, func(lasting context.Context, q *studydb.Queries) error {
		wrong, devices, err := j.s.compare(ctx, lasting, q, progress)
		if err != nil {
			return err
		}
		if len(wrong) == 0 {
			return errSame
		}
		return j.s.replace(lasting, q, devices)
	})
	if errors.Is(err, errSame) {
		return true, nil
	}
	return false, err
}

// replace puts the records that compare has made in the place of those that
// are there.
func (s *Study) replace(ctx context.Context, q *studydb.Queries, devices []studydb.Device) error {
	for _, step := range []func(context.Context) error{q.DeleteRecords, q.TakeRecordsMadeAgain, q.DeleteDevices} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	for _, d := range devices {
		if err := q.PutDevice(ctx, studydb.PutDeviceParams(d)); err != nil {
			return err
		}
	}
	if err := q.PutMeta(ctx, metaFoldedBy, foldedBy()); err != nil {
		return err
	}
	_, err := s.write.ExecContext(ctx, "DROP TABLE record_again")
	return err
}

// compare makes the records again in a table beside them, and says in words
// how they differ from those that are there. It runs in a transaction of the
// writer that lasts; ctx may end it.
func (s *Study) compare(ctx, lasting context.Context, q *studydb.Queries, progress func(done, total int)) (wrong []string, devices []studydb.Device, err error) {
	if _, err := s.write.ExecContext(lasting, recordAgain); err != nil {
		return nil, nil, err
	}
	if err := s.makeAgain(ctx, lasting, q, progress); err != nil {
		return nil, nil, err
	}
	if devices, err = s.devicesAgain(lasting, q); err != nil {
		return nil, nil, err
	}
	there, err := q.Devices(lasting)
	if err != nil {
		return nil, nil, err
	}
	if !slices.EqualFunc(there, devices, func(a, b studydb.Device) bool {
		return a.ID == b.ID && a.Position == b.Position && a.Seq == b.Seq && a.Last == b.Last && a.WallMs == b.WallMs && string(a.Hash) == string(b.Hash)
	}) {
		wrong = append(wrong, "how far the journal is was noted wrongly")
	}
	differ, err := q.RecordsMissingOrDifferent(lasting)
	if err != nil {
		return nil, nil, err
	}
	surplus, err := q.RecordsTooMany(lasting)
	if err != nil {
		return nil, nil, err
	}
	if differ+surplus > 0 {
		wrong = append(wrong, fmt.Sprintf("%d records are not what the journal says", differ+surplus))
	}
	return wrong, devices, nil
}

// makeAgain folds the journal record by record, which takes a time in
// proportion to its length: no record is looked up or written twice. Entries of
// one device come in the order of their IDs; only a record whose entries do not,
// because several devices wrote about it, is read once more.
func (s *Study) makeAgain(ctx, lasting context.Context, q *studydb.Queries, progress func(done, total int)) error {
	total, err := q.LastPosition(lasting)
	if err != nil {
		return err
	}
	var rank int64
	var state *journal.State
	mixed := false // an entry of the record lies behind its time
	write := func() error {
		if state == nil {
			return nil
		}
		if mixed {
			var err error
			if state, err = s.foldAgain(lasting, q, state.Kind, state.ID); err != nil {
				return err
			}
			mixed = false
		}
		row, err := rowOf(rank, state)
		if err != nil {
			return err
		}
		return q.InsertRecordAgain(lasting, studydb.InsertRecordAgainParams(row))
	}
	done, at := 0, studydb.EntriesBySubjectParams{Page: page}
	for {
		rows, err := q.EntriesBySubject(lasting, at)
		if err != nil {
			return err
		}
		for _, row := range rows {
			e, err := s.parse(row.Canonical, row.Hash)
			if err != nil {
				return fmt.Errorf("position %d of the journal: %w", row.Position, err)
			}
			if state != nil && (state.Kind != e.Kind || state.ID != e.Subject) {
				if err := write(); err != nil {
					return err
				}
				state = nil
			}
			if state == nil {
				rank = row.Position
			}
			mixed = mixed || state != nil && e.ID < state.Last
			if state, err = journal.Apply(state, e); err != nil {
				return err
			}
			at.Kind, at.Subject, at.Position = row.Kind, row.Subject, row.Position
		}
		done += len(rows)
		if progress != nil {
			progress(done, int(total))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if len(rows) < page {
			return write()
		}
	}
}

// foldAgain makes one record of all its entries in the order of their IDs.
func (s *Study) foldAgain(ctx context.Context, q *studydb.Queries, kind study.Kind, id string) (*journal.State, error) {
	rows, err := q.EntriesAbout(ctx, string(kind), id)
	if err != nil {
		return nil, err
	}
	entries, err := s.parseAll(rows)
	if err != nil {
		return nil, err
	}
	return journal.Fold(entries)
}

// devicesAgain finds the end of each device's chain in the journal.
func (s *Study) devicesAgain(ctx context.Context, q *studydb.Queries) ([]studydb.Device, error) {
	lasts, err := q.LastOfDevices(ctx)
	if err != nil {
		return nil, err
	}
	devices := make([]studydb.Device, len(lasts))
	for i, l := range lasts {
		e, err := s.parse(l.Canonical, l.Hash)
		if err != nil {
			return nil, err
		}
		devices[i] = deviceRow(l.Device, l.Position, journal.Head{Seq: e.Seq, Hash: journal.HashOf(l.Canonical), ID: e.ID, Wall: e.Wall})
	}
	return devices, nil
}
