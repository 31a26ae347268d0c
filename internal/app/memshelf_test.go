package app_test

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// A second implementation of the stores, in memory. It keeps the promises of
// storetest as the database does.

// memShelf is a shelf of studies in memory.
type memShelf struct {
	mu      sync.Mutex
	studies map[string]*memStudy
	clock   *storetest.Clock
	random  io.Reader
	sealer  *storetest.Sealer
	broken  map[string]error        // what opening a study answers
	fail    func(step string) error // may break off a step of a new study
}

func newMemShelf() *memShelf {
	return &memShelf{
		studies: map[string]*memStudy{}, clock: &storetest.Clock{Now: time.Date(2026, 6, 11, 9, 0, 0, 0, time.UTC)},
		random: rand.NewChaCha8([32]byte{7}), sealer: storetest.NewSealer(rand.NewChaCha8([32]byte{8})), broken: map[string]error{},
	}
}

func (m *memShelf) List() ([]string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	names := slices.Collect(maps.Keys(m.studies))
	names = append(names, slices.Collect(maps.Keys(m.broken))...)
	slices.Sort(names)
	return names, nil
}

func (m *memShelf) Create(_ context.Context, name string, fill func(*app.StudyFolder) error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.studies[name] != nil || name == "" {
		return fmt.Errorf("%w: %q", app.ErrBadName, name)
	}
	s := newMemStudy(m.clock, m.random)
	s.fail = m.fail
	if err := fill(s.folder(name)); err != nil {
		return err
	}
	m.studies[name] = s
	return nil
}

func (m *memShelf) Open(_ context.Context, name string) (*app.StudyFolder, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := m.broken[name]; err != nil {
		return nil, err
	}
	if m.studies[name] == nil {
		return nil, app.ErrUnknownStudy
	}
	return m.studies[name].folder(name), nil
}

func (m *memShelf) Look(ctx context.Context, name string) (*app.StudyFolder, error) {
	return m.Open(ctx, name)
}

// memStudy is one study; it is journal, guarded and erasable store at once.
type memStudy struct {
	mu       sync.Mutex
	clock    *storetest.Clock
	random   io.Reader
	readOnly bool
	hides    bool                    // the journal does not give passes away
	fail     func(step string) error // may break off a step of writing

	heads     map[string]journal.Head
	entries   []journal.Entry
	lines     []app.StoredEntry
	states    map[memName]*journal.State
	byID      map[string]int
	guarded   map[string]memSalted
	originals map[string]app.Input
	results   []memResult
	erasable  map[string][]byte // nil: erased
	footage   *memFootage
	dossiers  *memDossiers
}

type memName struct {
	kind study.Kind
	id   string
}

type memSalted struct {
	salt []byte
	app.Assignment
}

type memResult struct {
	fingerprint, kind string
	data              []byte
}

const memDevice = "memory"

func newMemStudy(clock *storetest.Clock, random io.Reader) *memStudy {
	return &memStudy{
		clock: clock, random: random, heads: map[string]journal.Head{}, states: map[memName]*journal.State{}, byID: map[string]int{},
		guarded: map[string]memSalted{}, originals: map[string]app.Input{}, erasable: map[string][]byte{},
		footage: newMemFootage(), dossiers: &memDossiers{clock: clock, held: map[string]memDossier{}},
	}
}

func (m *memStudy) folder(name string) *app.StudyFolder {
	f := &app.StudyFolder{
		Name: name, Path: name, ReadOnly: m.readOnly, Journal: m, Guarded: m, Erasable: (*memErasable)(m), Footage: m.footage, Dossiers: m.dossiers,
		Check: func(context.Context, bool, func(done, total int)) ([]string, error) { return nil, nil },
		Close: func() error { return nil },
	}
	if m.hides {
		f.Journal = memHiding{m}
	}
	return f
}

func (m *memStudy) Counts(ctx context.Context) (map[study.Kind]int, error) {
	states, err := m.States(ctx)
	n := map[study.Kind]int{}
	for _, st := range states {
		n[st.Kind]++
	}
	return n, err
}

// memHiding is a journal that does not give passes away.
type memHiding struct{ *memStudy }

func (m memHiding) States(ctx context.Context, kinds ...study.Kind) ([]journal.State, error) {
	if len(kinds) == 0 || slices.Contains(kinds, study.KindPass) {
		return nil, errors.New("all passes were asked for")
	}
	return m.memStudy.States(ctx, kinds...)
}

func (m *memStudy) breaks(step string) error {
	if m.fail == nil {
		return nil
	}
	return m.fail(step)
}

func (m *memStudy) chance(n int) []byte {
	b := make([]byte, n)
	if _, err := io.ReadFull(m.random, b); err != nil {
		panic(err)
	}
	return b
}

func (m *memStudy) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	head, entries := m.heads[memDevice], []journal.Entry{}
	var lines []app.StoredEntry
	states := map[memName]*journal.State{}
	for _, d := range drafts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var stamp journal.Stamp
		stamp.Wall, stamp.Run = m.clock.Now, "run"
		copy(stamp.Random[:], m.chance(10))
		name := memName{d.Kind, d.Subject}
		before := states[name]
		if before == nil {
			before = m.states[name]
		}
		if before != nil {
			stamp.After = before.Last
		}
		if d.Kind == study.KindOpening {
			for _, e := range m.entries {
				stamp.After = max(stamp.After, e.ID)
			}
		}
		e, canonical, next, err := journal.Seal(head, memDevice, d, stamp)
		if err != nil {
			return nil, err
		}
		head = next
		entries = append(entries, e)
		lines = append(lines, app.StoredEntry{Position: int64(len(m.lines) + len(lines) + 1), Device: memDevice, Canonical: canonical, Hash: next.Hash})
		if states[name], err = journal.Apply(before, e); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(ctx.Err(), m.breaks("append")); err != nil {
		return nil, err
	}
	if len(entries) > 0 {
		m.heads[memDevice] = head
	}
	m.keep(entries, lines, states)
	return entries, nil
}

func (m *memStudy) keep(entries []journal.Entry, lines []app.StoredEntry, states map[memName]*journal.State) {
	for _, e := range entries {
		m.byID[e.ID] = len(m.byID)
	}
	m.entries, m.lines = append(m.entries, entries...), append(m.lines, lines...)
	maps.Copy(m.states, states)
}

func (m *memStudy) Receive(ctx context.Context, batch [][]byte) (app.Received, error) {
	offer, err := app.OfferOf(ctx, batch)
	if err != nil {
		return app.Received{}, err
	}
	return m.ReceiveOffered(ctx, offer)
}

func (m *memStudy) ReceiveOffered(ctx context.Context, offer []journal.Offered) (app.Received, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	head := func(device string) (journal.Head, error) { return m.heads[device], nil }
	there := func(device string, seq int64) (journal.Hash, error) {
		for i, e := range m.entries {
			if e.Device == device && e.Seq == seq {
				return m.lines[i].Hash, nil
			}
		}
		return journal.Hash{}, fmt.Errorf("no entry %d of %s", seq, device)
	}
	merged, err := journal.MergeAll(head, there, offer)
	if err != nil {
		return app.Received{}, err
	}
	var entries []journal.Entry
	var lines []app.StoredEntry
	for _, o := range journal.NewInOrder(merged) {
		if err := ctx.Err(); err != nil {
			return app.Received{}, err
		}
		if i, taken := m.byID[o.ID]; taken {
			return app.Received{}, &app.SameIDError{ID: o.ID, Device: o.Device, Seq: o.Seq, OfOther: m.entries[i].Device, OtherAt: m.entries[i].Seq}
		}
		entries = append(entries, o.Entry)
		lines = append(lines, app.StoredEntry{Position: int64(len(m.lines) + len(lines) + 1), Device: o.Device, Canonical: o.Canonical, Hash: o.Hash})
	}
	states, err := foldAll(slices.Concat(m.entries, entries))
	if err := errors.Join(err, ctx.Err(), m.breaks("receive")); err != nil {
		return app.Received{}, err
	}
	for _, d := range merged {
		if len(d.New) > 0 {
			m.heads[d.Device] = d.Head
		}
	}
	m.keep(entries, lines, states)
	return app.ReceivedOf(merged), nil
}

// foldAll makes all records of all entries.
func foldAll(entries []journal.Entry) (map[memName]*journal.State, error) {
	about := map[memName][]journal.Entry{}
	for _, e := range entries {
		name := memName{e.Kind, e.Subject}
		about[name] = append(about[name], e)
	}
	states := map[memName]*journal.State{}
	for name, some := range about {
		var err error
		if states[name], err = journal.Fold(some); err != nil {
			return nil, err
		}
	}
	return states, nil
}

func (m *memStudy) Head(context.Context) (app.JournalHead, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := int64(len(m.entries))
	h := app.JournalHead{Entries: n, Position: n, Device: memDevice, Devices: maps.Clone(m.heads)}
	if n > 0 {
		h.LastWall = m.entries[n-1].Wall
	}
	if own := m.heads[memDevice]; own.Seq > 0 {
		h.ClockBehind = max(0, own.Wall.Sub(m.clock.Now))
	}
	return h, nil
}

func (m *memStudy) States(_ context.Context, kinds ...study.Kind) ([]journal.State, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var names []memName
	for name, st := range m.states {
		if !st.Removed && (len(kinds) == 0 || slices.Contains(kinds, name.kind)) {
			names = append(names, name)
		}
	}
	slices.SortFunc(names, func(a, b memName) int {
		byKind := cmp.Compare(slices.Index(kinds, a.kind), slices.Index(kinds, b.kind))
		return cmp.Or(byKind, cmp.Compare(m.states[a].First, m.states[b].First))
	})
	out := make([]journal.State, len(names))
	for i, name := range names {
		out[i] = *m.states[name]
	}
	return out, nil
}

func (m *memStudy) State(_ context.Context, kind study.Kind, id string) (*journal.State, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.states[memName{kind, id}], nil
}

func (m *memStudy) History(_ context.Context, kind study.Kind, id string) ([]journal.Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []journal.Entry
	for _, e := range m.entries {
		if e.Kind == kind && e.Subject == id {
			out = append(out, e)
		}
	}
	return journal.InOrder(out), nil
}

func (m *memStudy) Entry(_ context.Context, id string) (journal.Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	i, ok := m.byID[id]
	if !ok {
		return journal.Entry{}, app.ErrUnknownEntry
	}
	return m.entries[i], nil
}

func (m *memStudy) Recent(_ context.Context, before int64, limit int) ([]journal.Entry, int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	end := len(m.entries)
	if before > 0 {
		end = min(end, int(before)-1)
	}
	start := max(0, end-limit)
	if start >= end {
		return nil, 0, nil
	}
	out := slices.Clone(m.entries[start:end])
	slices.Reverse(out)
	return out, int64(start + 1), nil
}

func (m *memStudy) All(context.Context) iter.Seq2[app.StoredEntry, error] {
	m.mu.Lock()
	lines := slices.Clone(m.lines)
	m.mu.Unlock()
	return func(yield func(app.StoredEntry, error) bool) {
		for _, line := range lines {
			if !yield(line, nil) {
				return
			}
		}
	}
}

func (m *memStudy) Rebuild(_ context.Context, progress func(done, total int)) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var entries []journal.Entry
	for i, line := range m.lines {
		e, err := journal.Parse(line.Canonical)
		if err != nil {
			return false, err
		}
		entries = append(entries, e)
		if progress != nil {
			progress(i+1, len(m.lines))
		}
	}
	states, err := foldAll(entries)
	if err != nil {
		return false, err
	}
	before, err := json.Marshal(slices.Collect(maps.Values(m.states)))
	if err != nil {
		return false, err
	}
	same := len(before) > 0 && maps.EqualFunc(states, m.states, func(a, b *journal.State) bool {
		x, errX := json.Marshal(a)
		y, errY := json.Marshal(b)
		return errX == nil && errY == nil && bytes.Equal(x, y)
	})
	m.states = states
	return same, nil
}

// plain is all that lies outside the guarded part.
func (m *memStudy) plain(t *testing.T) []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	var rows []string
	for _, line := range m.lines {
		rows = append(rows, string(line.Canonical)+" "+line.Hash.String())
	}
	for _, st := range m.states {
		text, err := json.Marshal(st)
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, fmt.Sprintf("%s %s", st.First, text))
	}
	slices.Sort(rows[len(m.lines):])
	return rows
}

// TestMemoryStore holds the store of these tests to the promises that the
// database keeps.
func TestMemoryStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) storetest.Stores {
		clock := &storetest.Clock{Now: time.Date(2026, 6, 11, 9, 0, 0, 0, time.UTC)}
		m := newMemStudy(clock, rand.NewChaCha8([32]byte{7}))
		s := storetest.Stores{Journal: m, Guarded: m, Clock: clock, Plain: m.plain}
		s.Again = func(*testing.T) storetest.Stores { return s }
		return s
	})
}

func TestMemoryErasable(t *testing.T) {
	storetest.RunErasable(t, func(*testing.T) (store app.ErasableStore, again func(*testing.T) app.ErasableStore) {
		m := (*memErasable)(newMemStudy(&storetest.Clock{}, rand.NewChaCha8([32]byte{7})))
		return m, func(*testing.T) app.ErasableStore { return m }
	})
}
