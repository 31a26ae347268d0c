package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"slices"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/sqlite/studydb"
)

// journalStore is the app.JournalStore of a study.
type journalStore struct{ s *Study }

// page is how many entries are read at a time.
const page = 500

func (j *journalStore) queries() *studydb.Queries { return studydb.New(j.s.read) }

func (j *journalStore) Head(ctx context.Context) (app.JournalHead, error) {
	devices, err := j.queries().Devices(ctx)
	if err != nil {
		return app.JournalHead{}, explain(j.s.name, err)
	}
	head := app.JournalHead{Device: j.s.device, Devices: map[string]journal.Head{}}
	for _, d := range devices {
		h, err := headOf(d)
		if err != nil {
			return app.JournalHead{}, err
		}
		head.Devices[d.ID] = h
		if d.Position > head.Position {
			// Positions have no gaps: the last one counts the entries.
			head.Position, head.Entries, head.LastWall = d.Position, d.Position, h.Wall
		}
	}
	if own := head.Devices[j.s.device]; own.Seq > 0 && j.s.opt.Clock != nil {
		head.ClockBehind = max(0, own.Wall.Sub(j.s.opt.Clock()))
	}
	return head, nil
}

func headOf(d studydb.Device) (journal.Head, error) {
	h := journal.Head{Seq: d.Seq, ID: d.Last, Wall: time.UnixMilli(d.WallMs).UTC()}
	if len(d.Hash) != len(h.Hash) {
		return h, fmt.Errorf("device %s: its last hash has %d bytes, not %d", d.ID, len(d.Hash), len(h.Hash))
	}
	copy(h.Hash[:], d.Hash)
	return h, nil
}

// Counts says how many records of each kind stand, without reading them.
func (j *journalStore) Counts(ctx context.Context) (map[study.Kind]int, error) {
	tx, err := j.s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}) // both at one moment
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	defer func() { _ = tx.Rollback() }()
	q := studydb.New(tx)
	all, err := q.CountRecords(ctx)
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	removed, err := q.CountRemoved(ctx)
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	counts := map[study.Kind]int{}
	for _, row := range all {
		counts[study.Kind(row.Kind)] = int(row.Records)
	}
	for _, row := range removed {
		counts[study.Kind(row.Kind)] -= int(row.Records)
	}
	return counts, nil
}

func (j *journalStore) States(ctx context.Context, kinds ...study.Kind) ([]journal.State, error) {
	tx, err := j.s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}) // all kinds as they are at one moment
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	defer func() { _ = tx.Rollback() }()
	q := studydb.New(tx)
	var rows []studydb.Record
	if len(kinds) == 0 {
		rows, err = q.RecordsOfAll(ctx)
		rows = inOrder(rows)
	}
	for _, kind := range kinds {
		var some []studydb.Record
		if some, err = q.RecordsOfKind(ctx, string(kind)); err != nil {
			break
		}
		rows = append(rows, inOrder(some)...)
	}
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	states := make([]journal.State, len(rows))
	for i, row := range rows {
		state, err := stateOf(row)
		if err != nil {
			return nil, err
		}
		states[i] = *state
	}
	return states, nil
}

// inOrder sorts records by the IDs of their first entries, so that two copies of
// a study that hold the same entries show them in the same order. On one device
// that is the order of rank.
func inOrder(rows []studydb.Record) []studydb.Record {
	slices.SortFunc(rows, func(a, b studydb.Record) int { return cmp.Compare(a.First, b.First) })
	return rows
}

func (j *journalStore) State(ctx context.Context, kind study.Kind, id string) (*journal.State, error) {
	row, err := j.queries().RecordOf(ctx, string(kind), id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	return stateOf(row)
}

func (j *journalStore) History(ctx context.Context, kind study.Kind, id string) ([]journal.Entry, error) {
	rows, err := j.queries().EntriesAbout(ctx, string(kind), id)
	if err != nil {
		return nil, explain(j.s.name, err)
	}
	return j.s.parseAll(rows)
}

func (s *Study) parseAll(rows []studydb.EntriesAboutRow) ([]journal.Entry, error) {
	entries := make([]journal.Entry, len(rows))
	for i, row := range rows {
		var err error
		if entries[i], err = s.parse(row.Canonical, row.Hash); err != nil {
			return nil, err
		}
	}
	return entries, nil
}

func (j *journalStore) Entry(ctx context.Context, id string) (journal.Entry, error) {
	row, err := j.queries().EntryByID(ctx, id)
	if errors.Is(err, sql.ErrNoRows) {
		return journal.Entry{}, fmt.Errorf("%w: %q", app.ErrUnknownEntry, id)
	}
	if err != nil {
		return journal.Entry{}, explain(j.s.name, err)
	}
	return j.s.parse(row.Canonical, row.Hash)
}

func (j *journalStore) Recent(ctx context.Context, before int64, limit int) ([]journal.Entry, int64, error) {
	if limit <= 0 {
		return nil, 0, nil
	}
	if before <= 0 {
		before = 1<<63 - 1
	}
	rows, err := j.queries().EntriesBefore(ctx, before, int64(limit))
	if err != nil {
		return nil, 0, explain(j.s.name, err)
	}
	entries, oldest := make([]journal.Entry, len(rows)), int64(0)
	for i, row := range rows {
		if entries[i], err = j.s.parse(row.Canonical, row.Hash); err != nil {
			return nil, 0, err
		}
		oldest = row.Position
	}
	return entries, oldest, nil
}

func (j *journalStore) All(ctx context.Context) iter.Seq2[app.StoredEntry, error] {
	return func(yield func(app.StoredEntry, error) bool) {
		tx, err := j.s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
		if err != nil {
			yield(app.StoredEntry{}, explain(j.s.name, err))
			return
		}
		defer func() { _ = tx.Rollback() }()
		for row, err := range entries(ctx, studydb.New(tx)) {
			if err != nil {
				yield(app.StoredEntry{}, explain(j.s.name, err))
				return
			}
			e := app.StoredEntry{Position: row.Position, Device: row.Device, Canonical: row.Canonical}
			if copy(e.Hash[:], row.Hash) != len(e.Hash) {
				yield(e, j.s.damaged(fmt.Sprintf("entry %d of the journal has a hash of %d bytes", row.Position, len(row.Hash))))
				return
			}
			if !yield(e, nil) {
				return
			}
		}
	}
}

// entries gives the rows of the journal in order. The caller holds the
// transaction that makes them those of one moment.
func entries(ctx context.Context, q *studydb.Queries) iter.Seq2[studydb.Entry, error] {
	return func(yield func(studydb.Entry, error) bool) {
		for last := int64(0); ; {
			rows, err := q.EntriesAfter(ctx, last, page)
			if err != nil {
				yield(studydb.Entry{}, err)
				return
			}
			for _, row := range rows {
				if !yield(row, nil) {
					return
				}
				last = row.Position
			}
			if len(rows) < page {
				return
			}
		}
	}
}

// parse reads an entry that lies in the store, and trusts neither its bytes
// nor its hash.
func (s *Study) parse(canonical, hash []byte) (journal.Entry, error) {
	if h := journal.HashOf(canonical); string(h[:]) != string(hash) {
		return journal.Entry{}, s.damaged("an entry of the journal was changed: its hash is not the one that was stored")
	}
	e, err := journal.Parse(canonical)
	if err != nil {
		return journal.Entry{}, s.damaged(err.Error())
	}
	return e, nil
}

func (s *Study) damaged(what ...string) error {
	return &app.DamagedError{Study: s.name, What: what}
}
