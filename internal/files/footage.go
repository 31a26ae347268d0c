package files

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"brinefield/internal/app"
)

const (
	footageFolder  = "footage"
	copiesFolder   = footageFolder + "/files"    // copies of footage, by hash
	proxiesFolder  = footageFolder + "/proxies"  // small copies for browsers
	probedFolder   = footageFolder + "/probed"   // times of frames
	incomingFolder = footageFolder + "/incoming" // what a browser sends
	placesFile     = footageFolder + "/places.json"
	jobsFile       = footageFolder + "/jobs.json"

	keptFree     = 1 << 30   // bytes that footage leaves free on the disc
	largestProbe = 256 << 20 // far more than the times of three million frames
)

var (
	copyName  = regexp.MustCompile(`^([0-9a-f]{64})\.([a-z0-9]{1,8})$`)
	proxyName = regexp.MustCompile(`^[0-9a-f]{64}\.mp4$`)
	probeName = regexp.MustCompile(`^[0-9a-f]{64}\.json$`)
)

// Footage is the folder `footage` of a study: copies of clips, what was found out
// about them, and where on this machine those lie that were not copied. It is an
// app.FootageFiles.
//
// Everything is written beside its place and gets its name when it is on the disc.
// One program at a time may write (see [Acquire]).
type Footage struct {
	disc
	dir      string
	readOnly bool
	keep     uint64 // bytes to be left free

	mu     sync.Mutex
	copies map[string]string // file names by hash
	places map[string]footagePlace
}

// footagePlace is where a file is that was not copied. Paths of this machine stand
// here and in the list of jobs, and nowhere else in a study.
type footagePlace struct {
	Path    string    `json:"path"`
	Bytes   int64     `json:"bytes"`
	Written time.Time `json:"written"`
	// Other is when the file was written that was found there and is another.
	Other *time.Time `json:"other,omitempty"`
}

// OpenFootage opens the footage of the study in dir. The caller should call
// [Footage.Tidy] once where it may write.
func OpenFootage(dir string, readOnly bool) (*Footage, error) {
	d, err := openDisc(dir)
	if err != nil {
		return nil, err
	}
	f := &Footage{disc: d, dir: dir, readOnly: readOnly, keep: keptFree, copies: map[string]string{}, places: map[string]footagePlace{}}
	entries, err := f.list(copiesFolder)
	if err != nil {
		return nil, errors.Join(err, d.root.Close())
	}
	for _, e := range entries {
		if m := copyName.FindStringSubmatch(e.Name()); m != nil && e.Type().IsRegular() {
			f.copies[m[1]] = e.Name()
		}
	}
	// A list that cannot be read costs only that the files are looked for again.
	if text, err := f.readRegular(placesFile, largestFile); err == nil {
		var places map[string]footagePlace
		if json.Unmarshal(text, &places) == nil && places != nil {
			f.places = places
		}
	}
	return f, nil
}

// Close lets go of the folder.
func (f *Footage) Close() error { return f.root.Close() }

// list is what lies in a folder of the study, nothing where there is none.
func (f *Footage) list(folder string) ([]fs.DirEntry, error) {
	entries, err := fs.ReadDir(f.root.FS(), folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the study's folder %s cannot be read: %w", filepath.FromSlash(folder), err)
	}
	return entries, nil
}

// Tidy removes what killed runs left: whatever has not got its name, and uploads
// that no waiting import names.
func (f *Footage) Tidy(ctx context.Context) error {
	if f.readOnly {
		return app.ErrReadOnly
	}
	jobs, err := f.Jobs()
	if err != nil {
		return err
	}
	for _, of := range []struct {
		folder string
		stays  func(name string) bool
	}{
		{footageFolder, func(name string) bool { return !strings.HasSuffix(name, partMark) }},
		{copiesFolder, copyName.MatchString},
		{proxiesFolder, proxyName.MatchString},
		{probedFolder, probeName.MatchString},
		{incomingFolder, func(name string) bool { return uploadName.MatchString(name) && named(jobs, name) }},
	} {
		entries, err := f.list(of.folder)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if err := ctx.Err(); err != nil {
				return err
			}
			if e.IsDir() || of.stays(e.Name()) || leftByDesktop(e.Name()) {
				continue
			}
			if err := f.root.Remove(path.Join(of.folder, e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return inStudy("removing what is left of footage that did not come in", f.dir, err)
			}
		}
	}
	return nil
}

// named reports whether a list of jobs names an upload.
func named(jobs []byte, token string) bool {
	text, err := json.Marshal(token)
	return err == nil && strings.Contains(string(jobs), string(text))
}

// folder makes a folder of the footage, if it is not there.
func (f *Footage) folder(name string) error {
	made := false
	for _, folder := range []string{footageFolder, name} {
		switch err := f.mkdir(folder); {
		case err == nil:
			made = true
		case !errors.Is(err, fs.ErrExist):
			return err
		}
	}
	if !made {
		return nil
	}
	return errors.Join(f.syncFolder(footageFolder), f.syncFolder("."))
}

// put writes a small file, whole or not at all. Empty data removes it.
func (f *Footage) put(name string, data []byte) error {
	const doing = "writing down what is known of footage"
	if f.readOnly {
		return app.ErrReadOnly
	}
	if len(data) == 0 {
		err := f.root.Remove(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return inStudy(doing, f.dir, err)
	}
	if err := f.folder(path.Dir(name)); err != nil {
		return inStudy(doing, f.dir, err)
	}
	if err := f.root.Remove(name + partMark); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return inStudy(doing, f.dir, err)
	}
	err := f.createBytes(name+partMark, data)
	if err == nil {
		if err = f.rename(name+partMark, name); err != nil {
			_ = f.root.Remove(name + partMark)
		}
	}
	if err == nil {
		err = f.syncFolder(path.Dir(name))
	}
	return inStudy(doing, f.dir, err)
}

// PutJobs keeps the list of what is waiting.
func (f *Footage) PutJobs(data []byte) error { return f.put(jobsFile, data) }

// Jobs gives it back.
func (f *Footage) Jobs() ([]byte, error) {
	data, err := f.readRegular(jobsFile, largestFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the list of waiting work on footage cannot be read: %w", err)
	}
	return data, nil
}

// PutProbed keeps the times of a file's frames.
func (f *Footage) PutProbed(sha256 string, p *app.Probed) error {
	if err := checkRef(sha256); err != nil {
		return err
	}
	text, err := json.Marshal(p)
	if err != nil {
		return err
	}
	return f.put(path.Join(probedFolder, sha256+".json"), text)
}

// Probed gives them back.
func (f *Footage) Probed(sha256 string) (*app.Probed, error) {
	if err := checkRef(sha256); err != nil {
		return nil, err
	}
	text, err := f.readRegular(path.Join(probedFolder, sha256+".json"), largestProbe)
	if err != nil {
		return nil, fmt.Errorf("the frame times of this file cannot be read: %w", err)
	}
	var p app.Probed
	if err := json.Unmarshal(text, &p); err != nil {
		return nil, fmt.Errorf("the frame times of this file (%s) are damaged: %w", filepath.Join("footage", "probed", sha256+".json"), err)
	}
	return &p, nil
}

// Proxy is where a small copy lies or is to be written, and whether it is there.
func (f *Footage) Proxy(sha256 string) (string, bool) {
	if checkRef(sha256) != nil {
		return "", false
	}
	name := path.Join(proxiesFolder, sha256+".mp4")
	info, err := f.root.Lstat(name)
	ready := err == nil && info.Mode().IsRegular()
	if !ready && !f.readOnly {
		_ = f.folder(proxiesFolder) // or whoever writes there says why it cannot
	}
	return filepath.Join(f.dir, filepath.FromSlash(name)), ready
}

// DropProxy removes a small copy.
func (f *Footage) DropProxy(sha256 string) error {
	if err := checkRef(sha256); err != nil {
		return err
	}
	return f.put(path.Join(proxiesFolder, sha256+".mp4"), nil)
}

// Refer remembers where a file is, as large as it is and written when it was.
func (f *Footage) Refer(sha256, where string) error {
	if err := checkRef(sha256); err != nil {
		return err
	}
	bytes, written, err := f.Stat(where)
	if err != nil {
		return err
	}
	return f.remember(sha256, footagePlace{Path: filepath.Clean(where), Bytes: bytes, Written: written})
}

func (f *Footage) remember(sha256 string, r footagePlace) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	before, had := f.places[sha256]
	f.places[sha256] = r
	text, err := json.MarshalIndent(f.places, "", " ")
	if err == nil {
		err = f.put(placesFile, text)
	}
	if err != nil {
		delete(f.places, sha256)
		if had {
			f.places[sha256] = before
		}
	}
	return err
}

// Place says where a file is, by a look at its size and when it was written.
func (f *Footage) Place(sha256 string) (string, string) {
	f.mu.Lock()
	name, copied := f.copies[sha256]
	r, referred := f.places[sha256]
	f.mu.Unlock()
	if copied {
		where := path.Join(copiesFolder, name)
		if info, err := f.root.Lstat(where); err == nil && info.Mode().IsRegular() {
			return filepath.Join(f.dir, filepath.FromSlash(where)), app.PlaceCopy
		}
	}
	if !referred {
		return "", app.PlaceMissing
	}
	bytes, written, err := f.Stat(r.Path)
	switch {
	case err != nil:
		return r.Path, app.PlaceMissing
	case bytes != r.Bytes, r.Other != nil && r.Other.Equal(written):
		return r.Path, app.PlaceChanged
	case !r.Written.Equal(written):
		return r.Path, app.PlaceUnsure
	}
	return r.Path, app.PlaceReference
}

// Known is the hash of a file that was remembered.
func (f *Footage) Known(where string) string {
	where = filepath.Clean(where)
	f.mu.Lock()
	defer f.mu.Unlock()
	var known []string
	for sha256, r := range f.places {
		if r.Path == where {
			known = append(known, sha256)
		}
	}
	slices.Sort(known) // of a place where two files lay one after the other, always the same is told first
	for _, sha256 := range known {
		r := f.places[sha256]
		if bytes, written, err := f.Stat(where); err == nil && bytes == r.Bytes && (r.Other == nil || !r.Other.Equal(written)) {
			return sha256
		}
	}
	return ""
}

// Recheck reads a file that was written since it was remembered.
func (f *Footage) Recheck(ctx context.Context, sha256 string, progress func(done float64)) (bool, error) {
	f.mu.Lock()
	r, ok := f.places[sha256]
	f.mu.Unlock()
	if !ok {
		return true, nil
	}
	bytes, written, err := f.Stat(r.Path)
	if err != nil {
		return false, err
	}
	found, _, err := f.Hash(ctx, r.Path, progress)
	if err != nil {
		return false, err
	}
	same := found == sha256
	if same {
		r = footagePlace{Path: r.Path, Bytes: bytes, Written: written}
	} else {
		r.Other = &written
	}
	return same, f.remember(sha256, r)
}

// Room is an error where there is none for so many bytes more: a gigabyte is left
// free for the study itself.
func (f *Footage) Room(bytes int64) error {
	free, err := FreeSpace(f.dir)
	if err != nil || bytes < 0 { // a drive that does not say is tried
		return nil
	}
	if free >= f.keep && uint64(bytes) <= free-f.keep {
		return nil
	}
	return fmt.Errorf("%s more are needed on the study's disc and %s are to stay free, and it has %s: %w", size(uint64(bytes)), size(f.keep), size(free), app.ErrNoSpace)
}

// size is a number of bytes for people.
func size(bytes uint64) string {
	if bytes < 1e9 {
		return fmt.Sprintf("%.0f MB", math.Ceil(float64(bytes)/1e6))
	}
	return fmt.Sprintf("%.1f GB", float64(bytes)/1e9)
}

// Stat is the size of an ordinary file of this machine and when it was written.
func (f *Footage) Stat(where string) (int64, time.Time, error) {
	name := filepath.Base(where)
	if !filepath.IsAbs(where) {
		return 0, time.Time{}, fmt.Errorf("%q is no full path of a file on this laptop", where)
	}
	info, err := os.Stat(where)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, time.Time{}, fmt.Errorf("there is no file %s in %s: it was moved or renamed, or the card or drive is out", name, filepath.Dir(where))
	case errors.Is(err, fs.ErrPermission):
		return 0, time.Time{}, fmt.Errorf("you may not read %s: change its permissions, or copy it into a folder of yours", where)
	case err != nil:
		return 0, time.Time{}, fmt.Errorf("%s cannot be looked at (%w): see whether the card or drive is sound", where, err)
	case !info.Mode().IsRegular() || ofSystem(where):
		return 0, time.Time{}, fmt.Errorf("%s is a folder, a pipe or a device: name a file of footage", where)
	}
	return info.Size(), info.ModTime().UTC(), nil
}

// file is an open file of footage.
type file struct {
	*os.File
	bytes    int64
	modified time.Time
}

func (f file) Bytes() int64        { return f.bytes }
func (f file) Modified() time.Time { return f.modified }

// Open opens an ordinary file.
func (f *Footage) Open(where string) (app.FootageReader, error) {
	r, err := os.OpenFile(where, os.O_RDONLY|dontWait, 0)
	if err != nil {
		return nil, err
	}
	info, err := r.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s is not an ordinary file", filepath.Base(where))
	}
	if err != nil {
		return nil, errors.Join(err, r.Close())
	}
	return file{r, info.Size(), info.ModTime()}, nil
}
