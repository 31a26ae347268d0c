package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/sqlite/studydb"
)

func (j *journalStore) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	if j.s.opt.ReadOnly {
		return nil, app.ErrReadOnly
	}
	if len(drafts) == 0 {
		return nil, nil
	}
	sealed := make([]journal.Entry, 0, len(drafts))
	err := j.s.change(ctx, func(lasting context.Context, q *studydb.Queries) error {
		b, err := j.begin(lasting, q)
		if err != nil {
			return err
		}
		for i, d := range drafts {
			if i%100 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			e, err := b.add(lasting, d)
			if err != nil {
				if len(drafts) > 1 {
					return fmt.Errorf("entry %d of %d: %w", i+1, len(drafts), err)
				}
				return err
			}
			sealed = append(sealed, e)
		}
		reached := b.end
		j.s.write.then = func() { j.s.end = &reached }
		if err := b.finish(lasting); err != nil {
			return err
		}
		return q.PutDevice(lasting, studydb.PutDeviceParams(deviceRow(j.s.device, b.position, b.head)))
	})
	if err != nil {
		return nil, err
	}
	return sealed, nil
}

// batch is the drafts or entries of one transaction on their way into the journal.
type batch struct {
	s *Study
	q *studydb.Queries
	end
	touched map[recordKey]*folded
	order   []*folded
}

// end is where this device's chain and the journal end.
type end struct {
	head     journal.Head
	position int64
}

type recordKey struct {
	kind study.Kind
	id   string
}

// folded is a record that the batch changes.
type folded struct {
	rank  int64
	found bool // it was there before
	mixed bool // an entry came in behind its time: the state is to be made anew
	state *journal.State
}

func (j *journalStore) begin(ctx context.Context, q *studydb.Queries) (*batch, error) {
	b := &batch{s: j.s, q: q, touched: map[recordKey]*folded{}}
	if known := j.s.end; known != nil {
		// Were it wrong, for another program has written beside us in spite of
		// the lock, the database would refuse the entry.
		b.end, j.s.end = *known, nil
		return b, nil
	}
	device, err := q.DeviceOf(ctx, j.s.device)
	switch {
	case errors.Is(err, sql.ErrNoRows): // its first entry
	case err != nil:
		return nil, err
	default:
		if b.head, err = headOf(device); err != nil {
			return nil, err
		}
	}
	b.position, err = q.LastPosition(ctx)
	return b, err
}

// add seals a draft, writes its entry and folds it into its record.
func (b *batch) add(ctx context.Context, d journal.Draft) (journal.Entry, error) {
	stamp := journal.Stamp{Wall: b.s.opt.Clock(), MonotonicUS: max(0, b.s.opt.Monotonic().Microseconds()), Run: b.s.opt.Run}
	if err := b.s.random.fill(stamp.Random[:]); err != nil {
		return journal.Entry{}, err
	}
	record, err := b.record(ctx, recordKey{d.Kind, d.Subject})
	if err != nil {
		return journal.Entry{}, err
	}
	if record.state != nil {
		stamp.After = record.state.Last
	}
	if d.Kind == study.KindOpening {
		// What is here was written before it, whatever the clocks said.
		if stamp.After, err = b.q.LastID(ctx); err != nil {
			return journal.Entry{}, err
		}
	}
	e, canonical, head, err := journal.Seal(b.head, b.s.device, d, stamp)
	if err != nil {
		return e, err
	}
	if record.state, err = journal.Apply(record.state, e); err != nil {
		return e, err
	}
	b.head = head
	return e, b.insert(ctx, &e, canonical, head.Hash)
}

func (b *batch) insert(ctx context.Context, e *journal.Entry, canonical []byte, hash journal.Hash) error {
	b.position++
	return b.q.InsertEntry(ctx, studydb.InsertEntryParams{
		Position: b.position, ID: e.ID, Device: e.Device, Seq: e.Seq, Kind: string(e.Kind), Subject: e.Subject,
		Hash: hash[:], Canonical: canonical,
	})
}

// record is the record as the batch has left it so far.
func (b *batch) record(ctx context.Context, key recordKey) (*folded, error) {
	if f := b.touched[key]; f != nil {
		return f, nil
	}
	f := &folded{rank: b.position + 1}
	row, err := b.q.RecordOf(ctx, string(key.kind), key.id)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return nil, err
	default:
		f.rank, f.found = row.Rank, true
		if f.state, err = stateOf(row); err != nil {
			return nil, err
		}
	}
	b.touched[key] = f
	b.order = append(b.order, f)
	return f, nil
}

// finish writes the records that were touched.
func (b *batch) finish(ctx context.Context) error {
	for _, f := range b.order {
		if f.mixed {
			var err error
			if f.state, err = b.s.foldAgain(ctx, b.q, f.state.Kind, f.state.ID); err != nil {
				return err
			}
		}
		row, err := rowOf(f.rank, f.state)
		if err != nil {
			return err
		}
		if f.found {
			err = b.q.UpdateRecord(ctx, studydb.UpdateRecordParams{First: row.First, Last: row.Last, Entries: row.Entries, Removed: row.Removed, Body: row.Body, Rank: row.Rank})
		} else {
			err = b.q.InsertRecord(ctx, studydb.InsertRecordParams(row))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func deviceRow(id string, position int64, h journal.Head) studydb.Device {
	return studydb.Device{ID: id, Position: position, Seq: h.Seq, Hash: h.Hash[:], Last: h.ID, WallMs: h.Wall.UnixMilli()}
}
