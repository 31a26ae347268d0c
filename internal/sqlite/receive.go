package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	lib "modernc.org/sqlite/lib"

	"brinefield/core/journal"
	"brinefield/internal/app"
	"brinefield/internal/sqlite/studydb"
)

// Receive reads the entries before it takes the writer's turn: that is the
// larger part of the work.
func (j *journalStore) Receive(ctx context.Context, lines [][]byte) (app.Received, error) {
	if j.s.opt.ReadOnly {
		return app.Received{}, app.ErrReadOnly
	}
	offer, err := app.OfferOf(ctx, lines)
	if err != nil {
		return app.ReceivedOf(nil), err
	}
	return j.ReceiveOffered(ctx, offer)
}

func (j *journalStore) ReceiveOffered(ctx context.Context, offer []journal.Offered) (app.Received, error) {
	if j.s.opt.ReadOnly {
		return app.Received{}, app.ErrReadOnly
	}
	if len(offer) == 0 {
		return app.ReceivedOf(nil), nil
	}
	var merged []journal.Merged
	err := j.s.change(ctx, func(lasting context.Context, q *studydb.Queries) error {
		b, err := j.begin(lasting, q)
		if err != nil {
			return err
		}
		if merged, err = b.merge(lasting, offer); err != nil {
			return err
		}
		last := map[string]int64{} // position of each device's last entry
		added := journal.NewInOrder(merged)
		for i := range added {
			if i%100 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if err := b.take(lasting, &added[i]); err != nil {
				return err
			}
			last[added[i].Device] = b.position
		}
		if err := b.finish(lasting); err != nil {
			return err
		}
		if err := b.putDevices(lasting, merged, last); err != nil {
			return err
		}
		reached := b.end
		j.s.write.then = func() { j.s.end = &reached }
		return q.PutMeta(lasting, metaFoldedBy, foldedBy())
	})
	if err != nil {
		return app.Received{}, err
	}
	return app.ReceivedOf(merged), nil
}

// merge holds what is offered against what is here.
func (b *batch) merge(ctx context.Context, offer []journal.Offered) ([]journal.Merged, error) {
	head := func(device string) (journal.Head, error) {
		row, err := b.q.DeviceOf(ctx, device)
		if errors.Is(err, sql.ErrNoRows) {
			return journal.Head{}, nil
		}
		if err != nil {
			return journal.Head{}, err
		}
		return headOf(row)
	}
	there := func(device string, seq int64) (journal.Hash, error) {
		var hash journal.Hash
		stored, err := b.q.HashOfEntry(ctx, device, seq)
		if errors.Is(err, sql.ErrNoRows) || err == nil && copy(hash[:], stored) != len(hash) {
			err = b.s.damaged(fmt.Sprintf("the journal of device %s lacks entry %d", device, seq))
		}
		return hash, err
	}
	return journal.MergeAll(head, there, offer)
}

// take writes an entry of another copy and folds it into its record.
func (b *batch) take(ctx context.Context, o *journal.Offered) error {
	record, err := b.record(ctx, recordKey{o.Kind, o.Subject})
	if err != nil {
		return err
	}
	// A record that is made anew still gets every entry here, so that one of a
	// newer program is refused.
	record.mixed = record.mixed || record.state != nil && o.ID < record.state.Last
	if record.state, err = journal.Apply(record.state, o.Entry); err != nil {
		return err
	}
	err = b.insert(ctx, &o.Entry, o.Canonical, o.Hash)
	if answers(err, lib.SQLITE_CONSTRAINT) {
		if other, found := b.q.PlaceOfID(ctx, o.ID); found == nil {
			return &app.SameIDError{ID: o.ID, Device: o.Device, Seq: o.Seq, OfOther: other.Device, OtherAt: other.Seq}
		}
	}
	return err
}

// putDevices notes how far the chains are.
func (b *batch) putDevices(ctx context.Context, merged []journal.Merged, last map[string]int64) error {
	for _, m := range merged {
		if len(m.New) == 0 {
			continue
		}
		if m.Device == b.s.device {
			b.head = m.Head
		}
		if err := b.q.PutDevice(ctx, studydb.PutDeviceParams(deviceRow(m.Device, last[m.Device], m.Head))); err != nil {
			return err
		}
	}
	return nil
}
