package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"brinefield/core/journal"
	"brinefield/internal/app"
	"brinefield/internal/sqlite/guardeddb"
	"brinefield/internal/sqlite/studydb"
)

// lastEntries are looked at in every opening.
const lastEntries = 100

// Check looks for damage and says in words what is wrong. full reads
// everything: each page, each link of the chain, the records against the
// journal, every guarded thing against its hash.
func (s *Study) Check(ctx context.Context, full bool, progress func(done, total int)) ([]string, error) {
	how := thoroughSize
	if full {
		how = thoroughFull
	}
	var wrong []string
	note := func(err error) error {
		var damaged *app.DamagedError
		if err = explain(s.name, err); errors.As(err, &damaged) {
			wrong = append(wrong, damaged.What...)
			return nil
		}
		return err
	}
	for _, file := range []string{StudyFile, GuardedFile} {
		if _, err := s.look(ctx, file, how); note(err) != nil {
			return wrong, err
		}
	}
	if len(wrong) > 0 {
		return wrong, nil // what is read from such files says nothing
	}
	if !full {
		err := note(s.lastWhole(ctx))
		return wrong, err
	}
	if err := note(s.chainWhole(ctx, progress)); err != nil || len(wrong) > 0 {
		return wrong, err
	}
	if err := note(s.recordsRight(ctx)); err != nil {
		return wrong, err
	}
	err := note(s.guardedRight(ctx))
	return wrong, err
}

// journalWhole is the look at the journal that an opening can afford.
func (s *Study) journalWhole(ctx context.Context) error {
	info, err := os.Stat(s.path(StudyFile))
	if err != nil {
		return err
	}
	if info.Size() < smallDatabase {
		return s.chainWhole(ctx, nil)
	}
	return s.lastWhole(ctx)
}

// chainWhole checks every entry of every device.
func (s *Study) chainWhole(ctx context.Context, progress func(done, total int)) error {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	q := studydb.New(tx)
	total, err := q.LastPosition(ctx)
	if err != nil {
		return err
	}
	chains := map[string]*journal.Chain{}
	position := int64(0)
	for row, err := range entries(ctx, q) {
		if err != nil {
			return err
		}
		if position++; row.Position != position {
			return s.damaged(fmt.Sprintf("the journal lacks the entries %d to %d", position, row.Position-1))
		}
		chain := chains[row.Device]
		if chain == nil {
			chain = &journal.Chain{Device: row.Device}
			chains[row.Device] = chain
		}
		var hash journal.Hash
		copy(hash[:], row.Hash)
		e, err := chain.Next(row.Canonical, hash)
		if err != nil {
			return s.damaged(err.Error())
		}
		if err := s.columnsAgree(row, e); err != nil {
			return err
		}
		if progress != nil && (position%page == 0 || position == total) {
			progress(int(position), int(total))
		}
	}
	return nil
}

// columnsAgree compares what an entry is found by with what it says itself.
func (s *Study) columnsAgree(row studydb.Entry, e journal.Entry) error {
	if row.ID != e.ID || row.Seq != e.Seq || row.Kind != string(e.Kind) || row.Subject != e.Subject {
		return s.damaged(fmt.Sprintf("position %d of the journal is filed under another entry's name", row.Position))
	}
	return nil
}

// lastWhole checks the newest entries, each against the one before it.
func (s *Study) lastWhole(ctx context.Context) error {
	q := studydb.New(s.read)
	last, err := q.LastPosition(ctx)
	if err != nil {
		return err
	}
	rows, err := q.EntriesAfter(ctx, max(0, last-lastEntries), lastEntries)
	if err != nil {
		return err
	}
	for _, row := range rows {
		var before journal.Head
		if row.Seq > 1 {
			r, err := q.EntryOfDevice(ctx, row.Device, row.Seq-1)
			if errors.Is(err, sql.ErrNoRows) {
				return s.damaged(fmt.Sprintf("the journal of device %s lacks the entry before %d", row.Device, row.Seq))
			}
			if err != nil {
				return err
			}
			before.Seq = row.Seq - 1
			copy(before.Hash[:], r.Hash)
		}
		var hash journal.Hash
		copy(hash[:], row.Hash)
		e, err := (&journal.Chain{Device: row.Device, Head: before}).Next(row.Canonical, hash)
		if err != nil {
			return s.damaged(err.Error())
		}
		if err := s.columnsAgree(row, e); err != nil {
			return err
		}
	}
	return nil
}

// recordsRight makes the records again beside those that are there, and
// changes nothing.
func (s *Study) recordsRight(ctx context.Context) error {
	var wrong []string
	err := s.write.try(ctx, func(lasting context.Context) (err error) {
		wrong, _, err = s.compare(ctx, lasting, studydb.New(s.write), nil)
		return err
	})
	if err != nil {
		return err
	}
	if len(wrong) > 0 {
		return s.damaged(wrong...)
	}
	return nil
}

// guardedRight checks everything guarded against its hash.
func (s *Study) guardedRight(ctx context.Context) error {
	q := guardeddb.New(s.readGuarded)
	assignments, err := q.AllAssignments(ctx)
	if err != nil {
		return err
	}
	for _, a := range assignments {
		if refOf(a.Salt, a.Body) != a.Ref {
			return s.damaged(fmt.Sprintf("the active pair kept under %s was changed", a.Ref))
		}
	}
	names, err := q.NamesOfOriginals(ctx)
	if err != nil {
		return err
	}
	for _, n := range names {
		o, err := q.OriginalOf(ctx, n.Import, n.Name)
		if err != nil {
			return err
		}
		if _, err := unpack(o.Data, o.Packed, o.Sha256); err != nil {
			return s.damaged(fmt.Sprintf("the file %s of import %s: %v", n.Name, n.Import, err))
		}
	}
	return nil
}
