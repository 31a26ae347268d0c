package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"brinefield/core/dossier"
)

// dossierJob is a dossier in the making, or what is to be said of one that broke
// off.
type dossierJob struct {
	stage       string
	done, total int
	err         error
	over        bool
	stop        context.CancelFunc
	ended       chan struct{}
}

// DossierMake begins a dossier, in the background.
//
// Errors: [ErrReadOnly], [ErrDossierRuns], [ErrIncomplete].
func (s *Study) DossierMake(ctx context.Context, in DossierMakeRequest) (DossierView, error) {
	switch {
	case s.folder.ReadOnly:
		return DossierView{}, ErrReadOnly
	case s.options.Printer == nil:
		return DossierView{}, ErrNoPrinter
	case s.folder.Dossiers == nil:
		return DossierView{}, ErrNoDossiers
	}
	data, err := s.assembledNow(ctx)
	if err != nil {
		return DossierView{}, err
	}
	if len(data.Faults) > 0 {
		return DossierView{}, ErrIncomplete
	}
	background, stop := context.WithCancel(s.options.Background)
	job := &dossierJob{stage: "Reading", stop: stop, ended: make(chan struct{})}
	s.dossiers.mu.Lock()
	if s.dossiers.closed || s.dossiers.job != nil && !s.dossiers.job.over {
		s.dossiers.mu.Unlock()
		stop()
		return DossierView{}, ErrDossierRuns
	}
	s.dossiers.job = job
	s.dossiers.mu.Unlock()
	go s.runDossier(background, job, in.Again)
	return s.Dossier(ctx)
}

func (s *Study) runDossier(ctx context.Context, job *dossierJob, again bool) {
	defer close(job.ended)
	defer job.stop()
	err := func() (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("the dossier broke off, which is a fault of this program: %v", p)
			}
		}()
		return s.makeDossier(ctx, again, func(stage string, done, total int) {
			s.dossiers.mu.Lock()
			defer s.dossiers.mu.Unlock()
			job.stage, job.done, job.total = stage, done, total
		})
	}()
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	job.over, job.err = true, err
	if (err == nil || ctx.Err() != nil) && s.dossiers.job == job {
		s.dossiers.job = nil
	}
}

// makeDossier makes a package and keeps it.
func (s *Study) makeDossier(ctx context.Context, again bool, progress func(stage string, done, total int)) error {
	made, err := s.MakePackage(ctx, s.options.Printer, progress)
	if err != nil {
		return err
	}
	progress("Writing", 0, 1)
	name, err := s.freeDossierName(ctx, made.Name, made.At)
	if err != nil {
		return err
	}
	err = s.folder.Dossiers.Put(ctx, name, func(w io.Writer) error { return WritePackage(w, made.Files) })
	if err != nil || !again {
		return err
	}
	progress("Working it out again", 0, 1)
	check, err := s.DossierCheck(ctx, DossierNameRequest{Package: name, Again: true})
	if err == nil {
		s.noteCheck(name, &check)
	}
	if err == nil && (!check.Check.Same || check.Again != nil && !check.Again.Same) {
		err = fmt.Errorf("the package %s was made and kept, but worked out again it does not come out the same: check it on this page", name)
	}
	return err
}

// noteCheck keeps what was found of a package, for the list.
func (s *Study) noteCheck(name string, check *DossierCheckView) {
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	if s.dossiers.checks == nil {
		s.dossiers.checks = map[string]*DossierCheckView{}
	}
	s.dossiers.checks[name] = check
}

// MadePackage is a package before it is written.
type MadePackage struct {
	Name  string // of the study, as the package gives it
	At    time.Time
	Files []dossier.File
	Lacks []string
}

// MakePackage makes the package of a study as it stands.
//
// Errors: [ErrIncomplete] where the study has faults; that of ctx.
func (s *Study) MakePackage(ctx context.Context, p DossierPrinter, progress func(stage string, done, total int)) (MadePackage, error) {
	prepared, err := s.prepareDossier(ctx, progress)
	if err != nil {
		return MadePackage{}, err
	}
	in, h := prepared.input, prepared.heading
	in.Made = s.options.Clock().In(in.Study.Site.Zone).Truncate(time.Second)
	h.Made = in.Made.Format(time.RFC3339)
	files, err := BuildDossier(ctx, in, h, p, false, progress)
	return MadePackage{Name: h.Name, At: in.Made, Files: files, Lacks: dossier.Lacks(in)}, err
}

// freeDossierName is the study's name and the minute, and a number where that
// minute has a package already.
func (s *Study) freeDossierName(ctx context.Context, study string, at time.Time) (string, error) {
	stored, err := s.folder.Dossiers.List(ctx)
	if err != nil {
		return "", err
	}
	stem := strings.TrimLeft(fileWords(study), ". ") + " " + at.Format("2006-01-02 15-04")
	name := stem + ".zip"
	taken := func(d StoredDossier) bool { return strings.EqualFold(d.Name, name) }
	for n := 2; slices.ContainsFunc(stored, taken); n++ {
		name = fmt.Sprintf("%s (%d).zip", stem, n)
	}
	return name, nil
}

// fileWords is a text that every system takes as the beginning of a file's name.
func fileWords(text string) string {
	out := strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, text)
	for len(out) > 120 {
		out = out[:len(out)-1]
	}
	return strings.ToValidUTF8(out, "")
}

// DossierStop ends the making, or dismisses what is said of one that broke off.
func (s *Study) DossierStop(ctx context.Context) (DossierView, error) {
	s.endDossier(false)
	return s.Dossier(ctx)
}

// endDossier waits until nothing is at work.
func (s *Study) endDossier(closing bool) {
	s.dossiers.mu.Lock()
	job := s.dossiers.job
	s.dossiers.closed = s.dossiers.closed || closing
	s.dossiers.mu.Unlock()
	if job == nil {
		return
	}
	job.stop()
	<-job.ended
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	if s.dossiers.job == job {
		s.dossiers.job = nil
	}
}

func (s *Study) dossierJobView() *DossierJob {
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	j := s.dossiers.job
	if j == nil {
		return nil
	}
	v := &DossierJob{Stage: j.stage, Done: j.done, Total: j.total}
	if j.err != nil {
		v.Error = j.err.Error()
	}
	return v
}

// DossierRemove takes a package away that was made.
//
// Errors: [ErrNoDossier], [ErrReadOnly].
func (s *Study) DossierRemove(ctx context.Context, in DossierNameRequest) (DossierView, error) {
	if s.folder.Dossiers == nil {
		return DossierView{}, ErrNoDossiers
	}
	if err := s.folder.Dossiers.Remove(ctx, in.Package); err != nil {
		return DossierView{}, err
	}
	return s.Dossier(ctx)
}

// lookedAt is a package that was read once; it is read again where its size or
// date is another.
type lookedAt struct {
	bytes   int64
	written time.Time
	made    DossierMade
}

// dossiersMade are the packages that are kept, newest first.
func (s *Study) dossiersMade(ctx context.Context) ([]DossierMade, error) {
	out := []DossierMade{}
	if s.folder.Dossiers == nil {
		return out, nil
	}
	stored, err := s.folder.Dossiers.List(ctx)
	if err != nil {
		return out, err
	}
	for _, d := range stored {
		s.dossiers.mu.Lock()
		seen, there := s.dossiers.made[d.Name]
		s.dossiers.mu.Unlock()
		if !there || seen.bytes != d.Bytes || !seen.written.Equal(d.Written) {
			seen = lookedAt{d.Bytes, d.Written, s.lookAtDossier(ctx, d)}
			if ctx.Err() != nil {
				return out, ctx.Err()
			}
			s.dossiers.mu.Lock()
			if s.dossiers.made == nil {
				s.dossiers.made = map[string]lookedAt{}
			}
			s.dossiers.made[d.Name] = seen
			s.dossiers.mu.Unlock()
		}
		s.dossiers.mu.Lock()
		seen.made.Check = s.dossiers.checks[d.Name]
		s.dossiers.mu.Unlock()
		out = append(out, seen.made)
	}
	return out, nil
}

// lookAtDossier reads what the list shows of a package. What cannot be read is
// listed with the reason.
func (s *Study) lookAtDossier(ctx context.Context, d StoredDossier) DossierMade {
	v := DossierMade{Name: d.Name, Made: d.Written.UTC().Format(time.RFC3339), Bytes: d.Bytes, Files: []string{}}
	err := func() error {
		f, err := s.folder.Dossiers.Open(ctx, d.Name)
		if err != nil {
			return err
		}
		defer f.Close()
		h := sha256.New()
		if _, err := io.Copy(h, readerOf(ctx, f)); err != nil {
			return err
		}
		v.SHA256 = hex.EncodeToString(h.Sum(nil))
		p, err := OpenPackage(d.Name, f, f.Size(), UsualLimits)
		if err != nil {
			return err
		}
		v.Files = p.Names()
		v.Made, v.Title = p.Heading.Made, p.Heading.Spec.Title
		if text, err := p.Read(dossier.DescriptorFile); err == nil && v.Title == "" {
			var descriptor struct {
				Title string `json:"title"`
			}
			if json.Unmarshal(text, &descriptor) == nil {
				v.Title = descriptor.Title
			}
		}
		return nil
	}()
	if err != nil {
		v.Why = err.Error()
	}
	return v
}

func readerOf(ctx context.Context, f StoredFile) io.Reader {
	return readerUntil{ctx, io.NewSectionReader(f, 0, f.Size())}
}

// readerUntil ends with ctx.
type readerUntil struct {
	ctx context.Context
	r   io.Reader
}

func (r readerUntil) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(p)
}

// darwinZip is the name under which the Darwin Core Archive of a package is
// asked for alone.
const darwinZip = "darwin-core.zip"

// DossierFile gives a package that was made, or one file in it; name "" is the
// package, "darwin-core.zip" its Darwin Core Archive alone.
//
// Errors: [ErrNoDossier].
func (s *Study) DossierFile(ctx context.Context, pack, name string) (file DossierFile, err error) {
	if s.folder.Dossiers == nil {
		return DossierFile{}, ErrNoDossiers
	}
	f, err := s.folder.Dossiers.Open(ctx, pack)
	if err != nil {
		return DossierFile{}, err
	}
	if name == "" {
		return DossierFile{Name: pack, Media: "application/zip", File: f}, nil
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	p, err := OpenPackage(pack, f, f.Size(), UsualLimits)
	if err != nil {
		return DossierFile{}, err
	}
	if name == darwinZip {
		return darwinOf(p)
	}
	if !p.Has(name) {
		return DossierFile{}, fmt.Errorf("%w: %.80q", ErrNoDossier, name)
	}
	data, err := p.Read(name)
	if err != nil {
		return DossierFile{}, err
	}
	return DossierFile{Name: path.Base(name), Media: mediaOf(name), Bytes: data}, nil
}

// darwinOf is the folder darwin-core of a package as an archive of its own.
func darwinOf(p *Package) (DossierFile, error) {
	folder := path.Dir(dossier.MetaFile) + "/"
	var files []dossier.File
	for _, name := range p.Names() {
		if below, found := strings.CutPrefix(name, folder); found {
			data, err := p.Read(name)
			if err != nil {
				return DossierFile{}, err
			}
			files = append(files, dossier.File{Name: below, Bytes: data})
		}
	}
	if len(files) == 0 {
		return DossierFile{}, fmt.Errorf("%w: %s", ErrNoDossier, folder)
	}
	var b bytes.Buffer
	err := WritePackage(&b, files)
	return DossierFile{Name: darwinZip, Media: "application/zip", Bytes: b.Bytes()}, err
}

// mediaOf is how a file of a package is sent, by its ending.
func mediaOf(name string) string {
	switch strings.ToLower(path.Ext(name)) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".pdf":
		return "application/pdf"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".json", ".geojson":
		return "application/json"
	case ".csv":
		return "text/csv; charset=utf-8"
	case ".xml":
		return "application/xml"
	case ".md", ".txt", ".toml", ".cff", ".sha256":
		return "text/plain; charset=utf-8"
	}
	return "application/octet-stream"
}
