package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// mostChapters is more than any camera splits a recording into.
const mostChapters = 200

// FootageImport makes a clip of files in the background: the answer tells only what
// can be told at once. The records are written when all files are in.
//
// Errors: [ErrReadOnly]; [ErrFootage]; [*EditError] for what the season would not
// take.
func (s *Study) FootageImport(ctx context.Context, in FootageImportRequest) (FootageView, error) {
	j, err := s.newImport(ctx, in)
	if err == nil {
		err = s.addJobs(j)
	}
	if err != nil {
		return FootageView{}, err
	}
	return s.Footage(ctx)
}

func (s *Study) newImport(ctx context.Context, in FootageImportRequest) (*footageJob, error) {
	files, err := s.footageFiles()
	if err != nil {
		return nil, err
	}
	if s.folder.ReadOnly {
		return nil, ErrReadOnly
	}
	if len(in.Files) == 0 || len(in.Files) > mostChapters {
		return nil, fmt.Errorf("%w: %d files were named; expected one, or the files that the camera split the recording into, at most %d", ErrFootage, len(in.Files), mostChapters)
	}
	if err := s.needTools(ctx); err != nil {
		return nil, err
	}
	for i, f := range in.Files {
		if slices.Contains(in.Files[:i], f) {
			return nil, fmt.Errorf("%w: %s is named twice; expected each file once, in the order in which they were filmed", ErrFootage, baseName(f))
		}
		if _, err := s.sourceOf(files, f); err != nil {
			return nil, err
		}
	}
	records, err := s.footageRecords(ctx)
	if err != nil {
		return nil, err
	}
	j := &footageJob{What: jobImport, Clip: strings.TrimSpace(in.Clip), File: baseName(in.Files[0]), Files: in.Files, Copy: in.Copy, Start: strings.TrimSpace(in.Start)}
	taken := func(clip string) bool {
		return slices.ContainsFunc(records, func(r footageRecord) bool { return r.id == clip && len(r.chapters) > 0 }) || s.isWaiting(jobImport, clip)
	}
	if j.Clip == "" {
		j.Clip = freeName(strings.TrimSuffix(j.File, path.Ext(j.File)), taken)
	}
	if taken(j.Clip) {
		return nil, fmt.Errorf("%w: the clip %s has its files already, or is being made; choose another name", ErrFootage, j.Clip)
	}
	if err := s.tryClip(ctx, j); err != nil {
		return nil, err
	}
	j.Author, err = s.people.mark(ctx, strings.TrimSpace(in.Author))
	return j, err
}

func freeName(name string, taken func(string) bool) string {
	free := name
	for n := 2; taken(free); n++ {
		free = name + "-" + strconv.Itoa(n)
	}
	return free
}

func (s *Study) isWaiting(what, clip string) bool {
	w := &s.footage.work
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.ContainsFunc(w.jobs, func(j *footageJob) bool { return j.What == what && j.Clip == clip && j.Why == "" })
}

// tryClip finds out before any long work whether the season would take the clip.
func (s *Study) tryClip(ctx context.Context, j *footageJob) error {
	s.write.Lock()
	defer s.write.Unlock()
	start := cmp.Or(j.Start, "2000-01-01T00:00:00Z") // what the file says is not known yet
	_, err := s.clipEdit(ctx, j, clipFound{file: j.File, start: start})
	return err
}

// clipFound is what files say of the season's clip.
type clipFound struct {
	file, start, rate string
}

// clipEdit is the edit that names a clip in the season. What stands there already
// stays. The caller holds s.write.
func (s *Study) clipEdit(ctx context.Context, j *footageJob, found clipFound) (*edit, error) {
	e, err := s.newEdit(ctx, "")
	if err != nil {
		return nil, err
	}
	name, err := e.nameIn(string(study.KindClip), j.Clip)
	if err != nil {
		return nil, err
	}
	r, err := e.take(ctx, name)
	if err != nil {
		return nil, err
	}
	if r == nil {
		r = &study.Record{Kind: name.kind, ID: name.id, Fields: map[string]string{}}
		e.after[name] = r
	}
	r.Fields["file"] = cmp.Or(r.Fields["file"], found.file)
	r.Fields["start"] = cmp.Or(j.Start, r.Fields["start"], found.start)
	if rate := cmp.Or(r.Fields["frame_rate"], found.rate); rate != "" {
		r.Fields["frame_rate"] = rate
	}
	return e, e.check()
}

// sourceOf is the path of a file that a request names: an upload, or a file of this
// laptop.
func (s *Study) sourceOf(files FootageFiles, name string) (string, error) {
	if where, err := files.Uploaded(name); err == nil {
		return where, nil
	}
	if _, _, err := files.Stat(name); err != nil {
		return "", fmt.Errorf("%w: %w", ErrFootage, err)
	}
	return name, nil
}

// baseName is the last part of a path of any system, or the name that an upload
// came with.
func baseName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	if _, own, ok := strings.Cut(name, UploadMark); ok {
		return own
	}
	return name
}

// UploadMark stands in the name of an upload between what tells uploads apart and
// the file's own name.
const UploadMark = "--"

// chapterFile is a file on its way into a clip.
type chapterFile struct {
	name, path string
	uploaded   bool
	bytes      int64
	written    time.Time
	probed     *Probed
	record     chapterRecord
	fresh      bool // a copy that was not there before
}

// importing is one import at work.
type importing struct {
	study *Study
	job   *footageJob
	files FootageFiles
	parts []chapterFile
	bytes int64 // of all files
}

// probeShare is the part of an import's progress that looking into the files is.
const probeShare = 0.1

func (s *Study) doImport(ctx context.Context, j *footageJob) error {
	files, err := s.footageFiles()
	if err != nil {
		return err
	}
	if err := s.needTools(ctx); err != nil {
		return err
	}
	m := &importing{study: s, job: j, files: files}
	if err := m.look(ctx); err != nil {
		return err
	}
	if err := m.agree(); err != nil {
		return err
	}
	err = m.read(ctx)
	if err == nil {
		err = m.write(ctx)
	}
	if err != nil {
		for _, f := range m.parts {
			if f.fresh {
				err = errors.Join(err, files.Forget(f.record.SHA256))
			}
		}
		return err
	}
	var proxies []*footageJob
	for _, f := range m.parts {
		if needed, _ := s.options.Media.NeedsProxy(f.probed); needed {
			proxies = append(proxies, &footageJob{What: jobProxy, Clip: j.Clip, File: f.name, SHA256: f.record.SHA256})
		}
	}
	if len(proxies) == 0 {
		return nil
	}
	return s.addJobs(proxies...)
}

// look probes every file, before anything long is begun.
func (m *importing) look(ctx context.Context) error {
	var toCopy int64
	for i, name := range m.job.Files {
		where, err := m.study.sourceOf(m.files, name)
		if err != nil {
			return err
		}
		f := chapterFile{name: baseName(name), path: where, uploaded: where != name}
		if f.bytes, f.written, err = m.files.Stat(where); err != nil {
			return err
		}
		m.study.footage.work.tell(m.job, fmt.Sprintf("Looking into %s (%d of %d)", f.name, i+1, len(m.job.Files)), probeShare*float64(i)/float64(len(m.job.Files)))
		if f.probed, err = m.study.options.Media.Probe(ctx, where); err != nil {
			return err
		}
		if err := checkProbed(f.probed); err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
		m.bytes += f.bytes
		if m.job.Copy && !f.uploaded {
			toCopy += f.bytes
		}
		m.parts = append(m.parts, f)
	}
	if toCopy > 0 {
		return m.files.Room(toCopy)
	}
	return nil
}

// agree refuses files that are no chapters of one recording.
func (m *importing) agree() error {
	first := m.parts[0]
	for _, f := range m.parts[1:] {
		a, b := first.probed, f.probed
		var differs string
		switch rateA, rateB := rateOf(a), rateOf(b); {
		case a.WidthPx != b.WidthPx || a.HeightPx != b.HeightPx:
			differs = fmt.Sprintf("its picture is %d × %d, that of %s %d × %d", b.WidthPx, b.HeightPx, first.name, a.WidthPx, a.HeightPx)
		case a.RotationDeg != b.RotationDeg:
			differs = fmt.Sprintf("it is turned by %d°, %s by %d°", b.RotationDeg, first.name, a.RotationDeg)
		case a.Codec != b.Codec:
			differs = fmt.Sprintf("it is %s, %s is %s", b.Codec, first.name, a.Codec)
		case rateA > 0 && rateB > 0 && (rateA > 1.01*rateB || rateB > 1.01*rateA):
			differs = fmt.Sprintf("it has %.4g frames a second, %s %.4g", rateB, first.name, rateA)
		default:
			continue
		}
		return fmt.Errorf("%s is no chapter of the same recording: %s; make it a clip of its own", f.name, differs)
	}
	return nil
}

func rateOf(p *Probed) float64 {
	if median := (footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}).MedianS(); median > 0 {
		return 1 / median
	}
	return 0
}

// read hashes every file, and copies it where that was asked for.
func (m *importing) read(ctx context.Context) error {
	records, err := m.study.footageRecords(ctx)
	if err != nil {
		return err
	}
	clips := map[string]string{}
	for _, r := range records {
		for _, c := range r.chapters {
			clips[c.SHA256] = r.id
		}
	}
	var before int64
	for i := range m.parts {
		f := &m.parts[i]
		copied := m.job.Copy || f.uploaded
		stage := fmt.Sprintf("%s %s (%d of %d)", map[bool]string{true: "Copying", false: "Reading"}[copied], f.name, i+1, len(m.parts))
		progress := func(done float64) {
			share := (float64(before) + done*float64(f.bytes)) / max(float64(m.bytes), 1)
			m.study.footage.work.tell(m.job, stage, probeShare+(1-probeShare)*share)
		}
		progress(0)
		sha256, bytes, err := "", int64(0), error(nil)
		if copied {
			sha256, bytes, f.fresh, err = m.files.Copy(ctx, f.path, progress)
		} else {
			sha256, bytes, err = m.files.Hash(ctx, f.path, progress)
		}
		if err != nil {
			return err
		}
		f.record = recordOf(f.name, sha256, bytes, f.probed)
		if bytes != f.bytes {
			return fmt.Errorf("%s was written while it was read (%d bytes, then %d): wait until the camera or the copying is done, and try again", f.name, f.bytes, bytes)
		}
		for _, other := range m.parts[:i] {
			if other.record.SHA256 == sha256 {
				return fmt.Errorf("%s and %s are the same file: expected each once", other.name, f.name)
			}
		}
		if clip := clips[sha256]; clip != "" && clip != m.job.Clip {
			return fmt.Errorf("%s is part of the clip %s already: a file is in one clip only", f.name, clip)
		}
		if err := m.files.PutProbed(sha256, f.probed); err != nil {
			return err
		}
		if !copied {
			if err := m.files.Refer(sha256, f.path); err != nil {
				return err
			}
		}
		before += f.bytes
	}
	return nil
}

func recordOf(name, sha256 string, bytes int64, p *Probed) chapterRecord {
	return chapterRecord{
		Name: name, SHA256: sha256, Bytes: bytes, Frames: len(p.PTS), FirstPTS: p.PTS[0], LastPTS: p.PTS[len(p.PTS)-1], TimeBase: p.TimeBase,
		WidthPx: p.WidthPx, HeightPx: p.HeightPx, Codec: p.Codec, RotationDeg: p.RotationDeg, Made: p.Made,
	}
}

// write makes the clip of the season and the record of its footage, in one edit.
func (m *importing) write(ctx context.Context) error {
	s, j := m.study, m.job
	s.footage.work.tell(j, "Writing it down", 1)
	s.write.Lock()
	defer s.write.Unlock()
	before, err := s.folder.Journal.State(ctx, study.KindFootage, j.Clip)
	if err != nil {
		return err
	}
	chapters := make([]chapterRecord, len(m.parts))
	for i, f := range m.parts {
		chapters[i] = f.record
	}
	text, err := chaptersText(chapters)
	if err != nil {
		return err
	}
	if before != nil && !before.Removed && before.Fields["chapters"] != "" {
		if before.Fields["chapters"] == text {
			return nil // written by a run that was killed before it could say so
		}
		return fmt.Errorf("the clip %s got other files meanwhile: choose another name", j.Clip)
	}
	found := clipFound{file: m.parts[0].name, start: m.parts[0].probed.Made}
	if rate := rateOf(m.parts[0].probed); rate > 0 {
		found.rate = strconv.FormatFloat(rate, 'g', 6, 64)
	}
	standing, err := s.folder.Journal.State(ctx, study.KindClip, j.Clip)
	if err != nil {
		return err
	}
	stated := j.Start != "" || standing != nil && !standing.Removed && standing.Fields["start"] != ""
	if !stated && found.start == "" {
		return fmt.Errorf("%s does not say when it was filmed, and nobody has stated it: state when its first frame was filmed (the file was last written %s, when the recording ended or the file was copied)",
			found.file, m.parts[0].written.UTC().Format(time.RFC3339))
	}
	e, err := s.clipEdit(ctx, j, found)
	if err != nil {
		return err
	}
	after := study.Record{Kind: study.KindFootage, ID: j.Clip, Fields: map[string]string{"chapters": text}}
	var was *study.Record
	if before != nil && !before.Removed {
		was = &before.Record
		for field, value := range before.Fields {
			if field != "chapters" {
				after.Fields[field] = value
			}
		}
	}
	if notes := m.notes(stated, standing); len(notes) > 0 {
		after.Fields["note"] = strings.Join(append(notesOf(after.Fields["note"]), notes...), "\n")
	}
	author, err := s.authorOf(ctx, j.Author)
	if err != nil {
		return err
	}
	changes := append(e.changes(), change{name: nameOf(after), before: was, after: &after})
	done, err := s.writeChanges(ctx, e.from.current, e.right, author, changes)
	if err == nil && len(done.Entries) > 0 {
		s.takeOver(e)
	}
	return err
}

// authorOf is the name behind a mark that was kept while work waited; who was
// erased meanwhile is nobody.
func (s *Study) authorOf(ctx context.Context, mark string) (string, error) {
	name, err := s.people.name(ctx, mark)
	if ref := strings.TrimPrefix(mark, personMark); name == erasedName(ref) || name == absentName(ref) {
		name = ""
	}
	return name, err
}
