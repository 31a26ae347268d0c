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
// After means after by either order: an entry came into this journal after the
// opening, or its ID follows that of the opening. On one device the two orders
// are one. An entry of another device that came in later, with an ID before the
// opening's, may have been made before it by a clock that is right, or after it
// by a clock that was set back: nobody can tell, so that it is listed, and Made
// says what its clock said. An ID that follows the opening's was made by somebody
// who could know it, or by a clock that ran ahead, wherever it came in first: the
// ID of an opening follows all that its device had. An import and an opening
// write the opening as the last entry of their transaction, so that what they
// write themselves comes before it.
//
// It reads back to the oldest opening and no further where one device has
// written all, and the history only of records that were changed since.
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
	entry    string
	position int64 // in this journal; 0 where it lies before all that is looked at
	trials   map[string]bool
}

// before reports whether an entry counts as one after the opening.
func (o *openingMark) before(e *lateEntry) bool { return o.position < e.position || o.entry < e.ID }

func (o *openingMark) opens(trial string) bool { return o.trials == nil || o.trials[trial] }

// openingMarks are the openings, oldest first.
func (s *Study) openingMarks(ctx context.Context) ([]openingMark, error) {
	states, err := s.openings(ctx)
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
	tabled   bool
	fixes    int
	position int64
}

// lateKinds are the kinds whose entries count, or say how to count.
var lateKinds = []study.Kind{study.KindPass, study.KindTrack, study.KindClip, study.KindTrial, study.KindAssignment, study.KindGuess, study.KindReading}

// changedSince finds what was changed after the opening of its trial by the
// entries that stand after one position of the journal, up to another.
func (s *Study) changedSince(ctx context.Context, right Right, from, to int64) (*laterChanges, error) {
	w := lateWalk{
		s: s, right: right, found: &laterChanges{rows: []AfterOpening{}, passes: map[string]bool{}, late: map[string]bool{}},
		now: map[recordName]*lateState{}, told: map[recordName]*told{}, ahead: map[recordName]int{}, passTrials: map[string][]string{},
	}
	var err error
	if w.openings, err = s.openingMarks(ctx); err != nil || len(w.openings) == 0 {
		return w.found, err
	}
	if w.zone, err = s.zone(ctx); err != nil {
		return nil, err
	}
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	w.many = len(head.Devices) > 1
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
	many     bool                 // several devices wrote the journal
	told     map[recordName]*told // where they did

	passTrials map[string][]string // of passes that were met
	clipTrials map[string][]string // nil: not yet asked for
}

// lateState is a record as the entries so far leave it, without its table.
type lateState struct {
	state *journal.State // nil: there is none
	fixes int
}

// gather reads back from one position to the oldest opening, or to another
// position, and gives the entries between in the order of their IDs. Where
// several devices wrote, entries that follow an opening may stand before it.
func (w *lateWalk) gather(ctx context.Context, from, to int64) ([]lateEntry, error) {
	left := len(w.openings)
	marks, oldestOpening := map[string]*openingMark{}, w.openings[0].entry
	for i := range w.openings {
		marks[w.openings[i].entry] = &w.openings[i]
		oldestOpening = min(oldestOpening, w.openings[i].entry)
	}
	var out []lateEntry
	done := func() bool { return left == 0 && !w.many }
	for before := int64(0); !done(); {
		entries, oldest, err := w.s.folder.Journal.Recent(ctx, before, 500)
		if err != nil {
			return nil, err
		}
		for i := range entries {
			e, position := &entries[i], oldest+int64(len(entries)-1-i)
			if position <= from {
				break
			}
			if done() {
				break
			}
			switch {
			case e.Kind == study.KindOpening && marks[e.ID] != nil:
				marks[e.ID].position = position
				left--
			case position > to: // it came in while we read
			case e.Kind == study.KindErasure:
				w.found.erased = true
			case slices.Contains(lateKinds, e.Kind) && (left > 0 || e.ID > oldestOpening):
				late := lateEntry{Entry: *e, position: position}
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
		if len(entries) == 0 || oldest <= max(from, 1) {
			break
		}
		before = oldest
	}
	slices.SortFunc(out, func(a, b lateEntry) int { return cmp.Compare(a.ID, b.ID) })
	return out, nil
}

// take sees what one entry changed.
func (w *lateWalk) take(ctx context.Context, e *lateEntry) error {
	name := recordName{e.Kind, e.Subject}
	was, is, err := w.change(ctx, e)
	if err != nil {
		return err
	}
	if w.now[name] = is; w.ahead[name] == 1 {
		delete(w.now, name) // nothing more comes of it
		delete(w.told, name)
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

// change is the record before and after an entry.
func (w *lateWalk) change(ctx context.Context, e *lateEntry) (was, is *lateState, err error) {
	if w.many {
		return w.changeAmong(ctx, e)
	}
	if was, err = w.before(ctx, e); err != nil {
		return nil, nil, err
	}
	after, err := journal.Apply(was.state, e.Entry)
	if err != nil {
		return nil, nil, err
	}
	is = &lateState{state: after, fixes: was.fixes}
	if e.tabled || e.Act == journal.Record {
		is.fixes = e.fixes
	}
	return was, is, nil
}

// changeAmong is change where entries of several devices lie between each other,
// so that those gathered need not follow each other.
func (w *lateWalk) changeAmong(ctx context.Context, e *lateEntry) (was, is *lateState, err error) {
	name := recordName{e.Kind, e.Subject}
	history := w.told[name]
	if history == nil {
		if history, err = w.s.tell(ctx, name); err != nil {
			return nil, nil, err
		}
		w.told[name] = history
	}
	i := history.index(e.ID)
	if i < 0 {
		return nil, nil, ErrUnknownEntry
	}
	was, is = withoutTable(history.before(i)), withoutTable(history.after[i])
	if e.Act == journal.Record {
		was = &lateState{}
	}
	return was, is, nil
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
	for i := range w.openings {
		o := &w.openings[i]
		if !o.before(e) {
			continue
		}
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
			Made: w.made(e, trial),
		})
	}
	return nil
}

// What the clock of an entry's device says of an entry after an opening.
const (
	madeAfter  = "after"
	madeBefore = "before, by the clock of its device"
)

// made is what the clock of the entry's device says, if it was right.
func (w *lateWalk) made(e *lateEntry, trial string) string {
	for i := range w.openings {
		if o := &w.openings[i]; o.entry < e.ID && (o.trials == nil || o.opens(trial)) {
			return madeAfter
		}
	}
	return madeBefore
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
	if e.Kind == study.KindReading {
		from, to = without(from, refField), without(to, refField)
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
