package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Long work on footage: one piece at a time in each study, the rest waits in
// order. The list is kept beside the footage, so that what was waiting or at work
// when the window closed begins again, from its beginning, when the page Footage is
// opened the next time; what failed stays until somebody dismisses it.

type footageWork struct {
	mu     sync.Mutex
	loaded bool
	closed bool
	next   int
	jobs   []*footageJob
	end    context.CancelFunc // of the worker
	ended  chan struct{}      // closed when it has ended; nil: there is none
	done   int                // jobs that came to an end
}

// What a job is for.
const (
	jobImport = "import"
	jobProxy  = "proxy"
	jobCheck  = "check"
	jobFind   = "find"
)

// footageJob is a piece of work as it is kept; what has no name in JSON lives in
// this window only. No path in it ever reaches the journal.
type footageJob struct {
	ID     string   `json:"id"`
	What   string   `json:"what"`
	Clip   string   `json:"clip"`
	File   string   `json:"file"` // its name
	Author string   `json:"author,omitempty"`
	Files  []string `json:"files,omitempty"` // paths, or names of uploads
	Copy   bool     `json:"copy,omitempty"`
	Start  string   `json:"start,omitempty"`
	SHA256 string   `json:"sha256,omitempty"`
	Path   string   `json:"path,omitempty"`
	Why    string   `json:"why,omitempty"` // it failed

	running, stopped bool
	stage            string
	done             float64
	stop             context.CancelFunc
	over             chan struct{}
}

// tell says how far a running job is.
func (w *footageWork) tell(j *footageJob, stage string, done float64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	j.stage, j.done = stage, min(max(done, j.done, 0), 1)
}

// footageJobs are the jobs as the page lists them. The first to ask in this window
// sets those going that an earlier one left.
func (s *Study) footageJobs() ([]FootageJob, error) {
	w := &s.footage.work
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := s.loadJobs(); err != nil {
		return nil, err
	}
	s.startWork()
	out := make([]FootageJob, len(w.jobs))
	for i, j := range w.jobs {
		out[i] = j.view()
	}
	return out, nil
}

func (j *footageJob) view() FootageJob {
	v := FootageJob{ID: j.ID, What: j.What, Clip: j.Clip, File: j.File, State: "waiting", Stage: "Waiting", Why: j.Why}
	switch {
	case j.Why != "":
		v.State, v.Stage = "failed", "Failed"
	case j.running:
		v.State, v.Stage, v.Done = "running", j.stage, j.done
	}
	return v
}

// loadJobs reads the list once. The caller holds the lock.
func (s *Study) loadJobs() error {
	w := &s.footage.work
	files, err := s.footageFiles()
	if w.loaded || err != nil || s.folder.ReadOnly {
		return nil // another window looks after them
	}
	text, err := files.Jobs()
	if err != nil {
		return err
	}
	w.loaded = true
	var kept []*footageJob
	if len(text) > 0 {
		if err := json.Unmarshal(text, &kept); err != nil {
			return nil // a list that cannot be read holds nothing that is lost: it is asked for again
		}
	}
	for _, j := range kept {
		if j == nil || !slices.Contains([]string{jobImport, jobProxy, jobCheck, jobFind}, j.What) {
			continue
		}
		n, _ := strconv.Atoi(j.ID)
		w.next = max(w.next, n)
		w.jobs = append(w.jobs, j)
	}
	return nil
}

// keepJobs writes the list down. The caller holds the lock.
func (s *Study) keepJobs() error {
	files, err := s.footageFiles()
	if err != nil {
		return err
	}
	if len(s.footage.work.jobs) == 0 {
		return files.PutJobs(nil)
	}
	text, err := json.Marshal(s.footage.work.jobs)
	if err != nil {
		return err
	}
	return files.PutJobs(text)
}

// addJobs puts jobs at the end, and begins.
func (s *Study) addJobs(jobs ...*footageJob) error {
	if s.folder.ReadOnly {
		return ErrReadOnly
	}
	w := &s.footage.work
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := s.loadJobs(); err != nil {
		return err
	}
	if w.closed {
		return errClosed
	}
	before := slices.Clone(w.jobs)
	for _, j := range jobs {
		if i := slices.IndexFunc(w.jobs, j.sameWork); i >= 0 {
			if w.jobs[i].Why == "" {
				continue // it is waiting already
			}
			w.jobs = slices.Delete(w.jobs, i, i+1) // another try takes the place of one that failed
		}
		w.next++
		j.ID = strconv.Itoa(w.next)
		w.jobs = append(w.jobs, j)
	}
	if err := s.keepJobs(); err != nil {
		w.jobs = before
		return err
	}
	s.startWork()
	return nil
}

// sameWork reports whether another job does the same.
func (j *footageJob) sameWork(other *footageJob) bool {
	switch {
	case j.What != other.What:
		return false
	case j.What == jobImport || j.What == jobFind:
		return j.Clip == other.Clip
	}
	return j.SHA256 == other.SHA256
}

// startWork sets the worker going where there is work and none. The caller holds
// the lock.
func (s *Study) startWork() {
	w := &s.footage.work
	if w.ended != nil || w.closed || w.nextJob() == nil {
		return
	}
	ctx, end := context.WithCancel(s.options.Background)
	w.end, w.ended = end, make(chan struct{})
	go s.workOn(ctx, w.ended)
}

func (w *footageWork) nextJob() *footageJob {
	for _, j := range w.jobs {
		if j.Why == "" && !j.running {
			return j
		}
	}
	return nil
}

// workOn does one job after another until none is left or the window closes.
func (s *Study) workOn(ctx context.Context, ended chan struct{}) {
	w := &s.footage.work
	defer close(ended)
	for {
		w.mu.Lock()
		j := w.nextJob()
		if j == nil || ctx.Err() != nil || w.closed {
			w.end()
			w.end, w.ended = nil, nil
			w.mu.Unlock()
			return
		}
		own, stop := context.WithCancel(ctx)
		j.running, j.stage, j.done, j.stop, j.over = true, "Beginning", 0, stop, make(chan struct{})
		w.mu.Unlock()

		err := s.do(own, j)
		stop()

		w.mu.Lock()
		j.running = false
		switch {
		case err != nil && ctx.Err() != nil && !j.stopped: // closing: it begins again the next time
		case err == nil || j.stopped:
			j.drop(s.folder.Footage)
			w.jobs = slices.DeleteFunc(w.jobs, func(other *footageJob) bool { return other == j })
		default:
			j.Why = err.Error()
		}
		w.done++
		_ = s.keepJobs() // a full disc: an end that is not written down is only looked at again
		close(j.over)
		w.mu.Unlock()
	}
}

func (s *Study) do(ctx context.Context, j *footageJob) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("this broke off, which is a fault of this program: %v", p)
		}
	}()
	switch j.What {
	case jobImport:
		return s.doImport(ctx, j)
	case jobProxy:
		return s.doProxy(ctx, j)
	case jobCheck:
		return s.doCheck(ctx, j)
	}
	return s.doFind(ctx, j)
}

// drop removes uploads that this job was for: nobody waits for them any more.
func (j *footageJob) drop(files FootageFiles) {
	for _, name := range j.Files {
		_ = files.DropUpload(name) // a path is none, and what cannot be removed goes at the next opening
	}
}

// stopFootage ends the work before the study is closed, and waits for it.
func (s *Study) stopFootage() {
	w := &s.footage.work
	w.mu.Lock()
	w.closed = true
	ended := w.ended
	if w.end != nil {
		w.end()
	}
	w.mu.Unlock()
	if ended != nil {
		<-ended
	}
}

// endedJobs counts the jobs that came to an end in this window.
func (s *Study) endedJobs() int {
	w := &s.footage.work
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.done
}

// FootageStop ends a job that is waiting or at work, or dismisses one that failed.
// One that has come to its end meanwhile is no fault.
func (s *Study) FootageStop(ctx context.Context, in FootageStopRequest) (FootageView, error) {
	if s.folder.ReadOnly {
		return FootageView{}, ErrReadOnly
	}
	w := &s.footage.work
	w.mu.Lock()
	err := s.loadJobs()
	i := slices.IndexFunc(w.jobs, func(j *footageJob) bool { return j.ID == in.Job })
	var over chan struct{}
	switch {
	case err != nil || i < 0:
	case w.jobs[i].running:
		w.jobs[i].stopped = true
		w.jobs[i].stop()
		over = w.jobs[i].over
	default:
		w.jobs[i].drop(s.folder.Footage)
		w.jobs = slices.Delete(w.jobs, i, i+1)
		err = s.keepJobs()
	}
	w.mu.Unlock()
	if err != nil {
		return FootageView{}, err
	}
	if over != nil {
		select {
		case <-over:
		case <-ctx.Done():
			return FootageView{}, ctx.Err()
		}
	}
	return s.Footage(ctx)
}

// FootageProxy asks for a small copy of every chapter of a clip that has none.
//
// Errors: [ErrReadOnly]; [ErrNoClip]; [ErrFootageMissing]; [ErrFootage].
func (s *Study) FootageProxy(ctx context.Context, in FootageProxyRequest) (FootageView, error) {
	files, chapters, err := s.writableChapters(ctx, in.Clip)
	if err == nil {
		err = s.needTools(ctx)
	}
	if err != nil {
		return FootageView{}, err
	}
	var jobs []*footageJob
	for _, c := range chapters {
		if _, ready := files.Proxy(c.SHA256); ready {
			continue
		}
		if _, state := s.placeOf(c.SHA256); state == PlaceMissing || state == PlaceChanged {
			return FootageView{}, fmt.Errorf("%s: %w; say where it is now first", c.Name, ErrFootageMissing)
		}
		jobs = append(jobs, &footageJob{What: jobProxy, Clip: in.Clip, File: c.Name, SHA256: c.SHA256})
	}
	if len(jobs) > 0 {
		if err := s.addJobs(jobs...); err != nil {
			return FootageView{}, err
		}
	}
	return s.Footage(ctx)
}

// writableChapters are the files of a clip of a study that can be written.
func (s *Study) writableChapters(ctx context.Context, clip string) (FootageFiles, []chapterRecord, error) {
	files, err := s.footageFiles()
	if err != nil {
		return nil, nil, err
	}
	if s.folder.ReadOnly {
		return nil, nil, ErrReadOnly
	}
	records, err := s.footageRecords(ctx)
	if err != nil {
		return nil, nil, err
	}
	i := slices.IndexFunc(records, func(r footageRecord) bool { return r.id == clip && len(r.chapters) > 0 })
	if i < 0 {
		return nil, nil, fmt.Errorf("%w: no clip %q with files", ErrNoClip, clip)
	}
	return files, records[i].chapters, nil
}

// mediaTools says whether footage can be looked into here.
func (s *Study) mediaTools(ctx context.Context) MediaTools {
	if s.options.Media == nil {
		return MediaTools{Why: "this window cannot look into footage; what is measured already is shown", Remedy: "Open the study with: brinefield open"}
	}
	return s.options.Media.Tools(ctx)
}

func (s *Study) needTools(ctx context.Context) error {
	if t := s.mediaTools(ctx); !t.Found {
		return fmt.Errorf("%w: %s. %s", ErrFootage, strings.TrimSuffix(t.Why, "."), t.Remedy)
	}
	return nil
}

// proxyOf is how far the small copy of a file is.
func (s *Study) proxyOf(c chapterRecord) MediaProxy {
	files, err := s.footageFiles()
	if err != nil {
		return MediaProxy{State: "none"}
	}
	if _, ready := files.Proxy(c.SHA256); ready {
		return MediaProxy{State: "ready", Done: 1}
	}
	v := MediaProxy{State: "none"}
	w := &s.footage.work
	w.mu.Lock()
	for _, j := range w.jobs {
		if j.What == jobProxy && j.SHA256 == c.SHA256 {
			job := j.view()
			v = MediaProxy{State: job.State, Done: job.Done, Why: job.Why}
		}
	}
	w.mu.Unlock()
	if v.Why == "" && s.options.Media != nil {
		s.footage.mu.Lock()
		sum := s.footage.seen[c.SHA256]
		s.footage.mu.Unlock()
		if sum != nil {
			v.Why = sum.needsProxy
		}
	}
	return v
}

func (s *Study) doProxy(ctx context.Context, j *footageJob) error {
	files, err := s.footageFiles()
	if err != nil {
		return err
	}
	if err := s.needTools(ctx); err != nil {
		return err
	}
	out, ready := files.Proxy(j.SHA256)
	if ready {
		return nil
	}
	path, state := s.placeOf(j.SHA256)
	if state == PlaceMissing || state == PlaceChanged {
		return fmt.Errorf("%s: %w; say where it is now, and ask again", j.File, ErrFootageMissing)
	}
	if err := files.Room(0); err != nil {
		return fmt.Errorf("a small copy of %s: %w", j.File, err)
	}
	s.footage.work.tell(j, "Looking into "+j.File, 0)
	p, err := s.probeAgain(ctx, j.SHA256, path)
	if err != nil {
		return err
	}
	stage := "Making a small copy of " + j.File
	s.footage.work.tell(j, stage, 0)
	return s.options.Media.Proxy(ctx, path, out, p, func(done float64) { s.footage.work.tell(j, stage, done) })
}

// probeAgain are the frame times that are kept, read anew where there are none.
func (s *Study) probeAgain(ctx context.Context, sha256, path string) (*Probed, error) {
	p, err := s.probedOf(sha256)
	if err == nil {
		return p, nil
	}
	if err := s.needTools(ctx); err != nil {
		return nil, err
	}
	if p, err = s.options.Media.Probe(ctx, path); err != nil {
		return nil, err
	}
	if err := checkProbed(p); err != nil {
		return nil, err
	}
	return p, s.folder.Footage.PutProbed(sha256, p)
}

func (s *Study) doCheck(ctx context.Context, j *footageJob) error {
	files, err := s.footageFiles()
	if err != nil {
		return err
	}
	stage := "Reading " + j.File + " again, because it was written since"
	s.footage.work.tell(j, stage, 0)
	same, err := files.Recheck(ctx, j.SHA256, func(done float64) { s.footage.work.tell(j, stage, done) })
	if err == nil && !same {
		err = errors.New(j.File + " is not the file that was imported: it was changed. Say where the right one is, or import this one as a clip of its own")
	}
	return err
}
