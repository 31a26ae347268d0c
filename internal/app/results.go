package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"brinefield/core/study"
)

// The kinds under which a guarded store keeps an analysis. The exposures of a
// large study are read only when somebody looks at them.
const (
	keptFindings  = "findings"
	keptExposures = "exposures"
)

// quick is how long an analysis may have taken so that it is repeated without
// being asked, when somebody looks at results that are out of date.
const quick = 3 * time.Second

// readAtOnce is how many entries a journal may have so that a question about
// the results reads the records while the page waits.
var readAtOnce int64 = 20_000

var (
	// ErrDataGone answers for a pass of results whose data have changed since.
	ErrDataGone = errors.New("the data that these results were made from have changed since: work the results out again to look at a pass")
	// ErrIncomplete answers for results of a study that has faults.
	ErrIncomplete = errors.New("the study cannot be analysed as it stands: its faults are listed with the state of the results")
)

// results are what one analysis found, as it is shown and kept.
type results struct {
	Format   int           `json:"format"`
	Key      string        `json:"key"`      // of data, choices and program
	Data     string        `json:"data"`     // fingerprint of the data
	Position int64         `json:"position"` // of the journal
	Computed time.Time     `json:"computed"`
	Took     time.Duration `json:"took_ns"`
	Findings Findings      `json:"findings"`
	Curves   CurvesView    `json:"curves"`

	granted   bool           // made with the right to see which pair was active
	exposures *ExposuresView // nil: in the store
}

// resultsState is what a study knows of its results while it is open.
type resultsState struct {
	mu     sync.Mutex
	right  Right // under which the rest was found
	looked bool  // the store was asked for its newest
	shown  *results
	read   *dataRead
	job    *resultsJob
	failed *failedRun
	export exportState

	holding chan struct{} // one pass at a time asks for the fields
	held    *Analysis     // of the key below
	heldKey string
}

// dataRead is what reading the data of one position of the journal said.
type dataRead struct {
	position    int64
	fingerprint string
	key         string
	faults      []FaultView
	rows        []FaultRows
}

type failedRun struct {
	position int64
	err      error
}

// resultsJob is one run in the background.
type resultsJob struct {
	position int64
	analyse  bool // else it only finds out how things stand
	cancel   context.CancelFunc
	done     chan struct{}
	progress ProgressView
}

// standing is how the results stand at one moment.
type standing struct {
	right Right
	head  JournalHead
	shown *results
	read  *dataRead // of this very position, or nil
	job   ProgressView
	runs  bool
	came  bool  // an import since the results shown
	err   error // of the last run on these data
	moved bool  // the data may differ from those of the results shown
}

// Results says whether what Exposures and Findings show is up to date. It
// never reads the whole journal, and starts an analysis where there is none
// yet or where an import came in.
func (s *Study) Results(ctx context.Context) (ResultsView, error) {
	st, err := s.standing(ctx)
	if err != nil {
		return ResultsView{}, err
	}
	if st.moved && !st.runs && st.err == nil && !st.wantsFirst() {
		if err := s.noteImport(ctx, st); err != nil {
			return ResultsView{}, err
		}
	}
	if st.wantsFirst() {
		s.startRun(st, true)
		if st, err = s.standing(ctx); err != nil {
			return ResultsView{}, err
		}
	}
	return st.view(), nil
}

// Analyse works the results out again in the background, for the data as they
// stand now.
func (s *Study) Analyse(ctx context.Context) (ResultsView, error) {
	st, err := s.standing(ctx)
	if err != nil {
		return ResultsView{}, err
	}
	s.stopRun(st.head.Position)
	s.startRun(st, true)
	if st, err = s.standing(ctx); err != nil {
		return ResultsView{}, err
	}
	return st.view(), nil
}

// standing finds out how the results stand. It reads the records only where
// that is quick, and starts to read them in the background elsewhere.
func (s *Study) standing(ctx context.Context) (*standing, error) {
	st := &standing{}
	var err error
	if st.right, err = s.right(ctx); err != nil {
		return nil, err
	}
	if st.head, err = s.folder.Journal.Head(ctx); err != nil {
		return nil, err
	}
	if err := s.lookForKept(ctx, st.right); err != nil {
		return nil, err
	}
	s.fill(st)
	if st.read != nil || st.runs {
		return st, nil
	}
	if st.shown != nil && st.shown.Position == st.head.Position && st.shown.Key == s.resultsKey(st.shown.Data) && st.shown.granted == st.right.Granted() {
		return st, nil // nothing was written since
	}
	if st.head.Entries > readAtOnce {
		st.moved, err = s.movedSince(ctx, st.shown)
		if err == nil && st.moved && st.shown != nil && st.err == nil {
			s.startRun(st, false)
		}
		return st, err
	}
	data, err := s.assemble(ctx, st.right)
	if err != nil {
		return nil, err
	}
	print, err := data.Fingerprint()
	if err != nil {
		return nil, err
	}
	s.noteRead(ctx, st.right, data, print)
	s.fill(st)
	return st, nil
}

// fill takes over what is known under the lock.
func (s *Study) fill(st *standing) {
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	st.shown, st.read, st.err = r.shown, nil, nil
	if r.read != nil && r.read.position == st.head.Position {
		st.read = r.read
	}
	if r.job != nil {
		st.job, st.runs = r.job.progress, r.job.analyse
	}
	if r.failed != nil && r.failed.position == st.head.Position {
		st.err = r.failed.err
	}
	st.moved = st.shown != nil && (st.read == nil && st.shown.Position != st.head.Position || st.read != nil && st.read.key != st.shown.Key)
}

// lookForKept asks the store for its newest results once under each right.
// What was found with the right is never shown without it.
func (s *Study) lookForKept(ctx context.Context, right Right) error {
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.right != right {
		r.right, r.looked, r.read, r.failed, r.held = right, false, nil, nil, nil
		if r.shown != nil && r.shown.granted && !right.Granted() {
			r.shown = nil
		}
	}
	if r.looked || !right.Granted() {
		return nil
	}
	_, text, err := s.folder.Guarded.LatestResult(ctx, right, keptFindings)
	if err != nil && !errors.Is(err, ErrNoResult) {
		return err
	}
	r.looked = true
	if kept := parseResults(text); kept != nil {
		r.shown = kept
	}
	return nil
}

// parseResults reads what was kept; nil where another program kept it in a
// form that this one does not know: results can always be made again.
func parseResults(text []byte) *results {
	var kept results
	if len(text) == 0 || json.Unmarshal(text, &kept) != nil || kept.Format != Format || kept.Key == "" {
		return nil
	}
	kept.granted = true
	return &kept
}

// movedSince reports whether an entry after the results shown is about
// something that results depend on.
func (s *Study) movedSince(ctx context.Context, shown *results) (bool, error) {
	if shown == nil {
		return true, nil
	}
	for before := int64(0); ; {
		entries, oldest, err := s.folder.Journal.Recent(ctx, before, 500)
		if err != nil || len(entries) == 0 {
			return false, err
		}
		for i := range entries {
			if position := oldest + int64(len(entries)-1-i); position <= shown.Position {
				return false, nil
			}
			if countsForResults(entries[i].Kind) {
				return true, nil
			}
		}
		before = oldest
	}
}

func countsForResults(kind study.Kind) bool {
	return slices.Contains(study.SeasonKinds, kind) || kind == study.KindAssignment || kind == study.KindOpening || kind == study.KindErasure
}

// noteRead takes down what reading the data said, and shows the results that
// were once kept for these very data.
func (s *Study) noteRead(ctx context.Context, right Right, data *Assembled, print string) {
	read := &dataRead{
		position: data.Position, fingerprint: print, key: s.resultsKey(print),
		faults: faultViews(data.Faults), rows: data.faultRows(),
	}
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.right != right {
		return
	}
	r.read = read
	if r.shown != nil && r.shown.Key == read.key || len(data.Faults) > 0 || !right.Granted() {
		return
	}
	text, err := s.folder.Guarded.Result(ctx, right, read.key, keptFindings)
	if err != nil {
		return
	}
	if kept := parseResults(text); kept != nil && kept.Key == read.key {
		r.shown = kept
	}
}

// resultsKey names the results of data, choices and program.
func (s *Study) resultsKey(fingerprint string) string {
	o := s.options
	sum := sha256.Sum256(fmt.Appendf(nil, "%d\n%s\n%d\n%t\n%s\n%s\n%s\n", Format, fingerprint, o.Analyse.Seed, o.Analyse.TreatOldAsExact, o.Program.Version, o.Program.Commit, o.Program.OSArch))
	return hex.EncodeToString(sum[:])
}

// noteImport looks whether an import came in since the results shown. It looks
// at the newest entries only: an import ends with what it says of itself.
func (s *Study) noteImport(ctx context.Context, st *standing) error {
	entries, oldest, err := s.folder.Journal.Recent(ctx, 0, 500)
	for i := range entries {
		if entries[i].Kind == study.KindImport && oldest+int64(len(entries)-1-i) > st.shown.Position {
			st.came = true
		}
	}
	return err
}

// wantsFirst reports whether an analysis starts without being asked.
func (st *standing) wantsFirst() bool {
	return !st.runs && (st.shown == nil || st.came) && st.err == nil && (st.read == nil || len(st.read.faults) == 0)
}

// view is the standing as the pages show it.
func (st *standing) view() ResultsView {
	v := ResultsView{State: st.state(), Faults: []FaultView{}, FaultRows: []FaultRows{}, Blind: !st.right.Granted()}
	if st.shown != nil {
		v.Shown, v.Computed = st.shown.Data, st.shown.Computed.Format(time.RFC3339)
		v.Since = int(max(st.head.Position-st.shown.Position, 0))
		if !st.moved {
			v.Since, v.Data = 0, st.shown.Data
		}
	}
	if st.read != nil {
		v.Data, v.Faults, v.FaultRows = st.read.fingerprint, st.read.faults, st.read.rows
	}
	if st.runs {
		p := st.job
		v.Progress = &p
	}
	if v.State == "failed" {
		v.Error = st.err.Error()
	}
	return v
}

func (st *standing) state() string {
	switch {
	case st.runs:
		return "running"
	case st.read != nil && len(st.read.faults) > 0:
		return "incomplete"
	case st.err != nil:
		return "failed"
	case st.shown == nil:
		return "none"
	case st.moved:
		return "out_of_date"
	}
	return "current"
}

// missing says why there is nothing to show.
func (st *standing) missing() error {
	switch {
	case st.runs:
		return ErrNotReady
	case st.read != nil && len(st.read.faults) > 0:
		return ErrIncomplete
	case st.err != nil:
		return st.err
	}
	return ErrNoResult
}
