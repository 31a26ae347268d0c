package files

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"brinefield/internal/app"
)

const (
	erasableFolder = "files"
	saltBytes      = 32
	erasedMark     = ".erased"
	partMark       = ".part"
)

// Erasable is the folder `files` of a study: what may have to be forgotten,
// such as names of people, voice and photos. It is an app.ErasableStore.
//
// A file is 32 bytes of chance and then the data; its name is the SHA-256 of
// all of it in hexadecimal, in a folder named after the first two digits. The
// chance keeps a short text, such as a name, from being guessed from its hash
// after it was erased. One program at a time may write (see [Acquire]).
type Erasable struct {
	disc
	dir      string
	random   io.Reader
	readOnly bool
	largest  int64 // bytes of data in one file
	lock     sync.RWMutex
}

// OpenErasable opens the store of the study in dir. random gives the chance;
// it must be the system's except in tests. The caller should call
// [Erasable.Tidy] once where it may write.
func OpenErasable(dir string, random io.Reader, readOnly bool) (*Erasable, error) {
	d, err := openDisc(dir)
	if err != nil {
		return nil, err
	}
	return &Erasable{disc: d, dir: dir, random: random, readOnly: readOnly, largest: largestFile}, nil
}

// Close lets go of the folder.
func (e *Erasable) Close() error { return e.root.Close() }

// Put keeps data and returns its reference when it is on the disc.
func (e *Erasable) Put(ctx context.Context, data []byte) (string, error) {
	if err := e.mayWrite(ctx); err != nil {
		return "", err
	}
	if int64(len(data)) > e.largest {
		return "", fmt.Errorf("a file of %d bytes is too large to keep in a study: at most %d MB", len(data), e.largest>>20)
	}
	content := make([]byte, saltBytes, saltBytes+len(data))
	if _, err := io.ReadFull(e.random, content); err != nil {
		return "", fmt.Errorf("the system gives no random numbers: %w", err)
	}
	content = append(content, data...)
	ref := refOf(content)
	e.lock.Lock()
	defer e.lock.Unlock()
	if e.known(ref) {
		return "", errors.New("the system's random numbers repeat: nothing can be kept safely on this machine")
	}
	if err := e.put(ref, content); err != nil {
		return "", inStudy("keeping a file in the study", e.dir, err)
	}
	return ref, nil
}

// Take keeps what another device has made a reference to. A file that was
// damaged here is replaced by what was sent.
func (e *Erasable) Take(ctx context.Context, ref string, salt, data []byte) (bool, error) {
	if err := e.mayWrite(ctx); err != nil {
		return false, err
	}
	if err := checkRef(ref); err != nil {
		return false, err
	}
	if int64(len(data)) > e.largest {
		return false, fmt.Errorf("a file of %d bytes is too large to keep in a study: at most %d MB", len(data), e.largest>>20)
	}
	if err := app.CheckBlob(ref, salt, data); err != nil {
		return false, err
	}
	e.lock.Lock()
	defer e.lock.Unlock()
	_, err := e.content(ref)
	switch {
	case errors.Is(err, app.ErrErased):
		return false, err
	case err == nil:
		// A run that was killed may have given it its name and no more.
		return false, inStudy("keeping a file in the study", e.dir, e.syncName(ref))
	}
	if err := e.scrub(nameOf(ref) + partMark); err != nil { // of a try that failed
		return false, inStudy("keeping a file in the study", e.dir, err)
	}
	if err := e.put(ref, slices.Concat(salt, data)); err != nil {
		return false, inStudy("keeping a file in the study", e.dir, err)
	}
	return true, nil
}

func (e *Erasable) put(ref string, content []byte) error {
	name := nameOf(ref)
	folder := path.Dir(name)
	err := e.place(name, content)
	if err == nil {
		err = e.syncName(ref)
	}
	if err != nil { // nobody has the reference: leave nothing of a person behind
		_ = e.scrub(name + partMark)
		_ = e.scrub(name)
		_ = e.root.Remove(folder) // refused while it holds others
	}
	return err
}

// syncName makes a file's name last. A folder that an earlier, killed run made
// may not be on the disc yet.
func (e *Erasable) syncName(ref string) error {
	for _, folder := range []string{path.Dir(nameOf(ref)), erasableFolder, "."} {
		if err := e.syncFolder(folder); err != nil {
			return err
		}
	}
	return nil
}

func (e *Erasable) place(name string, content []byte) error {
	for _, folder := range []string{erasableFolder, path.Dir(name)} {
		if err := e.mkdir(folder); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	if err := e.createBytes(name+partMark, content); err != nil {
		return err
	}
	return e.rename(name+partMark, name)
}

// Get gives data back, checked against its reference.
func (e *Erasable) Get(ctx context.Context, ref string) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := checkRef(ref); err != nil {
		return nil, err
	}
	e.lock.RLock()
	defer e.lock.RUnlock()
	content, err := e.content(ref)
	if err != nil {
		return nil, err
	}
	return content[saltBytes:], nil
}

// content reads and checks one file.
func (e *Erasable) content(ref string) ([]byte, error) {
	name := nameOf(ref)
	if e.erased(ref) {
		return nil, app.ErrErased
	}
	content, err := e.readRegular(name, e.largest+saltBytes)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, &app.AbsentError{Ref: ref, Lost: fmt.Errorf("the study's file %s is missing: restore it from a backup", filepath.FromSlash(name))}
	case err != nil:
		return nil, fmt.Errorf("the study's file %s cannot be read: %w", filepath.FromSlash(name), err)
	case refOf(content) != ref || len(content) < saltBytes:
		return nil, fmt.Errorf("the study's file %s is damaged (its content is not what was kept): restore it from a backup", filepath.FromSlash(name))
	}
	return content, nil
}

// Erase forgets what stands under a reference; twice is no error. The file
// first loses its name, so that nobody reads it from then on, even where the
// program is killed in the middle; then it is overwritten with zeros and made
// empty. What is left is an empty file REF.erased, by which [Erasable.Get]
// tells "erased" from "missing". It needs no room on the disc.
//
// What this can do: on a plain magnetic disc the old content is gone. What it
// cannot do: an SSD, a memory card and a file system that copies on write or
// keeps snapshots may hold the old content in blocks that no program can
// reach; only encryption of the whole disc helps there. Backups, exports and
// copies made before hold it too, and must be dealt with one by one.
func (e *Erasable) Erase(ctx context.Context, ref string) error {
	if err := e.mayWrite(ctx); err != nil {
		return err
	}
	if err := checkRef(ref); err != nil {
		return err
	}
	e.lock.Lock()
	defer e.lock.Unlock()
	name := nameOf(ref)
	info, err := e.root.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist) && e.erased(ref):
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no file %s in this study", filepath.FromSlash(name))
	case err != nil:
		return inStudy("erasing a file of the study", e.dir, err)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is not an ordinary file: look at it yourself", filepath.FromSlash(name))
	default:
		if err := e.rename(name, name+erasedMark); err != nil {
			return inStudy("erasing a file of the study", e.dir, err)
		}
	}
	return inStudy("erasing a file of the study", e.dir, e.blank(name+erasedMark))
}

// blank overwrites a file with zeros, empties it, and makes its name last.
func (e *Erasable) blank(name string) error {
	if err := e.step("overwrite", name); err != nil {
		return err
	}
	f, err := e.root.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(e.zeros(name, f), f.Close()); err != nil {
		return err
	}
	return e.syncFolder(path.Dir(name))
}

func (e *Erasable) zeros(name string, f *os.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	block := make([]byte, 64<<10)
	for left := info.Size(); left > 0; {
		n, err := f.Write(block[:min(left, int64(len(block)))])
		if err != nil {
			return err
		}
		left -= int64(n)
	}
	if err := f.Sync(); err != nil { // before the size goes, or the zeros may never be written
		return err
	}
	if err := e.step("empty", name); err != nil {
		return err
	}
	if err := f.Truncate(0); err != nil {
		return err
	}
	return f.Sync()
}

// scrub overwrites and removes a file that no reference leads to.
func (e *Erasable) scrub(name string) error {
	if _, err := e.root.Lstat(name); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return errors.Join(e.blank(name), e.root.Remove(name))
}

// Tidy finishes what a killed run left: it completes erasures that had begun,
// erases files that were never acknowledged, and erases again what something
// else brought back, such as a folder kept in step with another machine.
func (e *Erasable) Tidy(ctx context.Context) error {
	if err := e.mayWrite(ctx); err != nil {
		return err
	}
	e.lock.Lock()
	defer e.lock.Unlock()
	return e.each(ctx, func(name string, info fs.FileInfo) error {
		var err error
		switch {
		case strings.HasSuffix(name, partMark):
			err = e.scrub(name)
		case strings.HasSuffix(name, erasedMark) && info.Size() > 0:
			err = e.blank(name)
		case checkRef(path.Base(name)) == nil && e.erased(path.Base(name)):
			if err = e.rename(name, name+erasedMark); err == nil {
				err = e.blank(name + erasedMark)
			}
		}
		return inStudy("finishing an erasure", e.dir, err)
	})
}

// Refs lists what is held, in order.
func (e *Erasable) Refs(ctx context.Context) ([]string, error) {
	e.lock.RLock()
	defer e.lock.RUnlock()
	var refs []string
	err := e.each(ctx, func(name string, _ fs.FileInfo) error {
		if ref := path.Base(name); checkRef(ref) == nil && !e.erased(ref) {
			refs = append(refs, ref)
		}
		return nil
	})
	slices.Sort(refs)
	return refs, err
}

// Check reads everything that is held and says in words what is damaged.
// progress may be nil.
func (e *Erasable) Check(ctx context.Context, progress func(done, total int)) ([]string, error) {
	refs, err := e.Refs(ctx)
	if err != nil {
		return nil, err
	}
	var wrong []string
	for i, ref := range refs {
		_, err := e.Get(ctx, ref)
		if ctx.Err() != nil {
			return wrong, ctx.Err()
		}
		if err != nil && !errors.Is(err, app.ErrErased) { // erased since it was listed
			wrong = append(wrong, err.Error())
		}
		if progress != nil {
			progress(i+1, len(refs))
		}
	}
	return wrong, nil
}

// CopyTo writes all that is held, and the marks of what was erased, into the
// folder `files` of dir. A damaged file is an error: a backup of it would be
// worth nothing.
func (e *Erasable) CopyTo(ctx context.Context, dir string) error {
	into, err := openDisc(dir)
	if err != nil {
		return err
	}
	defer into.root.Close()
	into.before = e.before
	e.lock.RLock()
	defer e.lock.RUnlock()
	err = e.each(ctx, func(name string, _ fs.FileInfo) error {
		ref, erased := strings.CutSuffix(path.Base(name), erasedMark)
		if checkRef(ref) != nil || !erased && e.erased(ref) {
			return nil
		}
		var content []byte
		if !erased {
			var err error
			if content, err = e.content(ref); err != nil {
				return err
			}
		}
		if err := into.root.MkdirAll(path.Dir(name), privateFolder); err != nil {
			return elsewhere("copying the study's files", err)
		}
		return elsewhere("copying the study's files", into.createBytes(name, content))
	})
	if _, missing := into.root.Lstat(erasableFolder); err != nil || missing != nil {
		return err
	}
	return elsewhere("copying the study's files", into.syncTree(erasableFolder))
}

// each visits the ordinary files of the store in order of name.
func (e *Erasable) each(ctx context.Context, visit func(name string, info fs.FileInfo) error) error {
	folders, err := fs.ReadDir(e.root.FS(), erasableFolder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("the study's folder %s cannot be read: %w", erasableFolder, err)
	}
	for _, folder := range folders {
		if !folder.IsDir() || len(folder.Name()) != 2 {
			continue
		}
		inside := path.Join(erasableFolder, folder.Name())
		entries, err := fs.ReadDir(e.root.FS(), inside)
		if err != nil {
			return fmt.Errorf("the study's folder %s cannot be read: %w", inside, err)
		}
		for _, entry := range entries {
			if err := ctx.Err(); err != nil {
				return err
			}
			info, err := entry.Info()
			if err != nil || !info.Mode().IsRegular() {
				continue
			}
			if err := visit(path.Join(inside, entry.Name()), info); err != nil {
				return err
			}
		}
	}
	return nil
}

func (e *Erasable) mayWrite(ctx context.Context) error {
	if e.readOnly {
		return app.ErrReadOnly
	}
	return ctx.Err()
}

func (e *Erasable) erased(ref string) bool {
	_, err := e.root.Lstat(nameOf(ref) + erasedMark)
	return err == nil
}

func (e *Erasable) known(ref string) bool {
	_, err := e.root.Lstat(nameOf(ref))
	return err == nil || e.erased(ref)
}

func nameOf(ref string) string { return path.Join(erasableFolder, ref[:2], ref) }

func refOf(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

func checkRef(ref string) error {
	if len(ref) != 2*sha256.Size || strings.Trim(ref, "0123456789abcdef") != "" {
		return fmt.Errorf("%q is no reference to a file of a study: it has 64 hexadecimal digits", ref)
	}
	return nil
}
