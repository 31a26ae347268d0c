package app

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// afterOpening lists every value of a pass, a track or a clip, and of a trial,
// that was recorded, corrected or withdrawn after the active pair of its trial
// was opened, by entry and field. A track gives one row, from and to how many
// fixes.
//
// After means after in the order in which the entries came into this journal.
// On one device that is the order of their IDs; an ID of another device goes by
// the clock of that device, which can be set back. An import and an opening
// write the opening as the last entry of their transaction, so that what they
// write themselves comes before it.
//
// It reads back to the oldest opening and no further, and the history only of
// records that were changed since.
func (s *Study) afterOpening(ctx context.Context, right Right) ([]AfterOpening, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	found, err := s.changedSince(ctx, right, 0, head.Position)
	if err != nil {
		return nil, err
	}
	return found.rows, nil
}

// openingMark is one opening. trials is nil where it opened all of them.
type openingMark struct {
	entry  string
	trials map[string]bool
}

func (o *openingMark) opens(trial string) bool { return o.trials == nil || o.trials[trial] }

// openingMarks are the openings, oldest first.
func (s *Study) openingMarks(ctx context.Context) ([]openingMark, error) {
	states, err := s.folder.Journal.States(ctx, study.KindOpening)
	out := make([]openingMark, len(states))
	for i := range states {
		out[i] = openingMarkOf(states[i].First, states[i].Fields)
	}
	return out, err
}

// openingMarkOf is the opening that the fields of its record tell of.
func openingMarkOf(entry string, fields map[string]string) openingMark {
	o := openingMark{entry: entry}
	if trials := openedTrials(fields); trials != nil {
		o.trials = map[string]bool{}
		for _, trial := range trials {
			o.trials[trial] = true
		}
	}
	return o
}

// laterChanges are what was changed after an opening.
type laterChanges struct {
	rows   []AfterOpening
	passes map[string]bool // with a row of their own or of their track
	late   map[string]bool // guesses that were made or changed after the opening of their trial
	erased bool            // somebody's name was erased
}

// lateEntry is an entry that came in after an opening, the rows of its table
// counted and left out.
type lateEntry struct {
	journal.Entry
	tabled  bool
	fixes   int
	opening int // how many of the openings came before it
}

// lateKinds are the kinds whose entries count, or say how to count.
var lateKinds = []study.Kind{study.KindPass, study.KindTrack, study.KindClip, study.KindTrial, study.KindAssignment, study.KindGuess}

// changedSince finds what was changed after the opening of its trial by the
// entries that stand after one position of the journal, up to another.
func (s *Study) changedSince(ctx context.Context, right Right, from, to int64) (*laterChanges, error) {
	w := lateWalk{
		s: s, right: right, found: &laterChanges{rows: []AfterOpening{}, passes: map[string]bool{}, late: map[string]bool{}},
		now: map[recordName]*lateState{}, ahead: map[recordName]int{}, passTrials: map[string][]string{},
	}
	var err error
	if w.openings, err = s.openingMarks(ctx); err != nil || len(w.openings) == 0 {
		return w.found, err
	}
	if w.zone, err = s.zone(ctx); err != nil {
		return nil, err
	}
	entries, err := w.gather(ctx, from, to)
	if err != nil {
		return nil, err
	}
	for i := range entries {
		if err := w.take(ctx, &entries[i]); err != nil {
			return nil, err
		}
		entries[i] = lateEntry{} // what is done is not held
	}
	slices.SortStableFunc(w.found.rows, func(a, b AfterOpening) int {
		return cmp.Or(cmp.Compare(a.Entry, b.Entry), cmp.Compare(a.Field, b.Field))
	})
	return w.found, nil
}

// lateWalk goes through the entries after the oldest opening.
type lateWalk struct {
	s        *Study
	right    Right
	zone     *time.Location
	openings []openingMark
	found    *laterChanges
	ahead    map[recordName]int // entries that are still to come
	now      map[recordName]*lateState

	passTrials map[string][]string // of passes that were met
	clipTrials map[string][]string // nil: not yet asked for
}

// lateState is a record as the entries so far leave it, without its table.
type lateState struct {
	state *journal.State // nil: there is none
	fixes int
}

// gather reads back from one position to the oldest opening, or to another
// position, and gives the entries between in order of arrival.
func (w *lateWalk) gather(ctx context.Context, from, to int64) ([]lateEntry, error) {
	left := len(w.openings)
	marks := map[string]bool{}
	for i := range w.openings {
		marks[w.openings[i].entry] = true
	}
	var out []lateEntry
	for before := int64(0); left > 0; {
		entries, oldest, err := w.s.folder.Journal.Recent(ctx, before, 500)
		if err != nil {
			return nil, err
		}
		for i := range entries {
			e, position := &entries[i], oldest+int64(len(entries)-1-i)
			if position <= from {
				left = 0
			}
			if left == 0 {
				break
			}
			switch {
			case e.Kind == study.KindOpening && marks[e.ID]:
				left--
			case position > to: // it came in while we read
			case e.Kind == study.KindErasure:
				w.found.erased = true
			case slices.Contains(lateKinds, e.Kind):
				late := lateEntry{Entry: *e, opening: left}
				if late.Entry, err = journal.Upcast(*e); err != nil {
					return nil, err
				}
				if t := late.Body.Table; t != nil {
					late.tabled, late.fixes, late.Body.Table = true, len(t.Rows), nil
				}
				out = append(out, late)
				w.ahead[recordName{e.Kind, e.Subject}]++
			}
		}
		if len(entries) == 0 {
			break
		}
		before = oldest
	}
	slices.Reverse(out)
	return out, nil
}

// take sees what one entry changed.
func (w *lateWalk) take(ctx context.Context, e *lateEntry) error {
	name := recordName{e.Kind, e.Subject}
	was, err := w.before(ctx, e)
	if err != nil {
		return err
	}
	after, err := journal.Apply(was.state, e.Entry)
	if err != nil {
		return err
	}
	is := &lateState{state: after, fixes: was.fixes}
	if e.tabled || e.Act == journal.Record {
		is.fixes = e.fixes
	}
	if w.now[name] = is; w.ahead[name] == 1 {
		delete(w.now, name) // nothing more comes of it
	}
	w.ahead[name]--
	trial, opened, err := w.openedTrial(ctx, e, was, is)
	if err != nil || !opened {
		return err
	}
	switch e.Kind {
	case study.KindGuess:
		w.found.late[e.Subject] = true
		return nil
	case study.KindPass, study.KindTrack:
		w.found.passes[e.Subject] = true
	}
	return w.add(ctx, e, trial, was, is)
}

// before is the record before an entry. Its history is asked for only where
// the entries since the opening do not tell it.
func (w *lateWalk) before(ctx context.Context, e *lateEntry) (*lateState, error) {
	name := recordName{e.Kind, e.Subject}
	if was := w.now[name]; was != nil {
		return was, nil
	}
	if e.Act == journal.Record {
		return &lateState{}, nil // what a record held before it was withdrawn does not matter
	}
	history, err := w.s.tell(ctx, name)
	if err != nil {
		return nil, err
	}
	i := history.index(e.ID)
	if i < 0 {
		return nil, ErrUnknownEntry
	}
	return withoutTable(history.before(i)), nil
}

func withoutTable(state *journal.State) *lateState {
	if state == nil {
		return &lateState{}
	}
	own := *state
	l := &lateState{state: &own}
	if own.Table != nil {
		l.fixes, own.Table = len(own.Table.Rows), nil
	}
	return l
}

// openedTrial is the trial of what an entry is about, if it was opened before
// the entry. A record that moves from one trial to another belongs to both.
func (w *lateWalk) openedTrial(ctx context.Context, e *lateEntry, was, is *lateState) (trial string, opened bool, err error) {
	trials, err := w.trials(ctx, e, was, is)
	if err != nil {
		return "", false, err
	}
	for _, o := range w.openings[:e.opening] {
		for _, trial := range trials {
			if o.opens(trial) {
				return trial, true, nil
			}
		}
		if o.trials == nil {
			return "", true, nil // whatever has no trial is opened with all
		}
	}
	return "", false, nil
}

func (w *lateWalk) trials(ctx context.Context, e *lateEntry, was, is *lateState) ([]string, error) {
	switch e.Kind {
	case study.KindTrial, study.KindAssignment:
		return []string{e.Subject}, nil
	case study.KindTrack:
		return w.trialsOfPass(ctx, e.Subject)
	case study.KindClip:
		return w.trialsOfClip(ctx, e.Subject)
	}
	trials := someTrials(was, is)
	if e.Kind == study.KindPass {
		w.passTrials[e.Subject] = trials
	}
	return trials, nil
}

func someTrials(states ...*lateState) []string {
	var out []string
	for _, l := range states {
		if l == nil || l.state == nil {
			continue
		}
		if trial := l.state.Fields["trial"]; trial != "" && !slices.Contains(out, trial) {
			out = append(out, trial)
		}
	}
	return out
}

func (w *lateWalk) trialsOfPass(ctx context.Context, pass string) ([]string, error) {
	if trials, met := w.passTrials[pass]; met {
		return trials, nil
	}
	state, err := w.s.folder.Journal.State(ctx, study.KindPass, pass)
	if err != nil || state == nil {
		return nil, err
	}
	return someTrials(&lateState{state: state}), nil // also of a pass that was withdrawn
}

// trialsOfClip are the trials of the passes that were seen in a clip.
func (w *lateWalk) trialsOfClip(ctx context.Context, clip string) ([]string, error) {
	if w.clipTrials == nil {
		current, err := w.s.current(ctx)
		if err != nil {
			return nil, err
		}
		w.clipTrials = map[string][]string{}
		for _, state := range current.standing(study.KindPass) {
			in, trial := state.Fields["clip"], state.Fields["trial"]
			if in != "" && trial != "" && !slices.Contains(w.clipTrials[in], trial) {
				w.clipTrials[in] = append(w.clipTrials[in], trial)
			}
		}
	}
	return w.clipTrials[clip], nil
}

// add writes down what an entry changed.
func (w *lateWalk) add(ctx context.Context, e *lateEntry, trial string, was, is *lateState) error {
	by, err := w.s.people.name(ctx, e.Author)
	if err != nil {
		return err
	}
	values, err := w.values(ctx, e, was, is)
	if err != nil {
		return err
	}
	kind := e.Kind
	if kind == study.KindAssignment {
		kind = study.KindTrial
	}
	for _, v := range values {
		w.found.rows = append(w.found.rows, AfterOpening{
			Kind: string(kind), ID: e.Subject, Trial: trial, Field: v.Field, From: v.From, To: v.To,
			When: e.Wall.In(w.zone).Format(time.RFC3339), By: by, Reason: e.Reason, Entry: e.ID,
		})
	}
	return nil
}

func (w *lateWalk) values(ctx context.Context, e *lateEntry, was, is *lateState) ([]EntryChange, error) {
	var from, to map[string]string
	switch e.Act {
	case journal.Correct:
		from, to = e.Body.Was, e.Body.Fields
	case journal.Remove:
		if was.state != nil {
			from = was.state.Fields
		}
	default:
		to = e.Body.Fields
	}
	if e.Kind == study.KindAssignment {
		return w.s.assignmentValues(ctx, w.right, e.Subject, from[refField], to[refField])
	}
	if e.Kind == study.KindTrack {
		return []EntryChange{{From: howMany(e.Act != journal.Record, was.fixes), To: howMany(e.Act != journal.Remove, is.fixes)}}, nil
	}
	before, err := w.s.people.clear(ctx, study.Record{Kind: e.Kind, Fields: from})
	if err != nil {
		return nil, err
	}
	after, err := w.s.people.clear(ctx, study.Record{Kind: e.Kind, Fields: to})
	if err != nil {
		return nil, err
	}
	return valueChanges(e.Kind, before.Fields, after.Fields), nil
}

func howMany(there bool, n int) string {
	if !there {
		return ""
	}
	return strconv.Itoa(n)
}
