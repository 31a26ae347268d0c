package files

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"brinefield/internal/app"
)

// block is what is read at once: memory does not grow with the file.
const block = 1 << 20

// Hash reads a file. progress may be nil.
func (f *Footage) Hash(ctx context.Context, where string, progress func(done float64)) (string, int64, error) {
	return f.readThrough(ctx, where, io.Discard, progress)
}

// readThrough reads a file once, writes it to w and hashes it. An error of w comes
// back as a *writeError.
func (f *Footage) readThrough(ctx context.Context, where string, w io.Writer, progress func(done float64)) (string, int64, error) {
	name := filepath.Base(where)
	if _, _, err := f.Stat(where); err != nil {
		return "", 0, err
	}
	r, err := f.Open(where)
	if err != nil {
		return "", 0, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	defer r.Close()
	hash, buffer, n := sha256.New(), make([]byte, block), int64(0)
	for {
		if err := ctx.Err(); err != nil {
			return "", n, err
		}
		got, err := r.Read(buffer)
		hash.Write(buffer[:got])
		if _, fault := w.Write(buffer[:got]); fault != nil {
			return "", n, &writeError{fault}
		}
		n += int64(got)
		if progress != nil && r.Bytes() > 0 {
			progress(min(float64(n)/float64(r.Bytes()), 1))
		}
		if errors.Is(err, io.EOF) {
			return hex.EncodeToString(hash.Sum(nil)), n, nil
		}
		if err != nil {
			return "", n, fmt.Errorf("%s cannot be read to its end (%w): see whether the card or drive is sound", name, err)
		}
	}
}

type writeError struct{ error }

func (e *writeError) Unwrap() error { return e.error }

// Copy keeps a file in the study: it is read once. What was uploaded gets a second
// name instead.
func (f *Footage) Copy(ctx context.Context, where string, progress func(done float64)) (string, int64, bool, error) {
	const doing = "copying footage into the study"
	if f.readOnly {
		return "", 0, false, app.ErrReadOnly
	}
	if err := f.folder(copiesFolder); err != nil {
		return "", 0, false, inStudy(doing, f.dir, err)
	}
	if token := f.tokenOf(where); token != "" {
		return f.takeUpload(ctx, token, where, progress)
	}
	bytes, _, err := f.Stat(where)
	if err != nil {
		return "", 0, false, err
	}
	if err := f.Room(bytes); err != nil {
		return "", 0, false, fmt.Errorf("%s %s: %w", doing, filepath.Base(where), err)
	}
	part := path.Join(copiesFolder, strings.ToLower(rand.Text())+partMark)
	var sum string
	err = f.create(part, func(w io.Writer) (err error) {
		sum, bytes, err = f.readThrough(ctx, where, w, progress)
		return err
	})
	var writing *writeError
	switch {
	case errors.As(err, &writing):
		return "", 0, false, inStudy(doing, f.dir, writing.error)
	case err != nil:
		return "", 0, false, err
	}
	fresh, err := f.name(sum, where, func(name string) error { return f.rename(part, name) })
	if err != nil || !fresh {
		_ = f.root.Remove(part)
	}
	return sum, bytes, fresh, inStudy(doing, f.dir, err)
}

func (f *Footage) takeUpload(ctx context.Context, token, where string, progress func(done float64)) (string, int64, bool, error) {
	sum, bytes, err := f.Hash(ctx, where, progress)
	if err != nil {
		return "", 0, false, err
	}
	fresh, err := f.name(sum, where, func(name string) error {
		from := path.Join(incomingFolder, token)
		if err := f.step("link", name); err != nil {
			return err
		}
		if f.root.Link(from, name) == nil {
			return nil
		}
		return f.rename(from, name) // a disc that gives no file two names
	})
	return sum, bytes, fresh, inStudy("taking over an upload", f.dir, err)
}

// name gives a copy its name, unless there is a whole one of this hash.
func (f *Footage) name(sum, where string, give func(name string) error) (fresh bool, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if there := f.copies[sum]; there != "" {
		if info, err := f.root.Lstat(path.Join(copiesFolder, there)); err == nil && info.Mode().IsRegular() {
			return false, nil
		}
	}
	name := sum + endingOf(where)
	if err := give(path.Join(copiesFolder, name)); err != nil {
		return false, err
	}
	f.copies[sum] = name
	return true, f.syncFolder(copiesFolder)
}

var oddInEnding = regexp.MustCompile(`[^a-z0-9]`)

// endingOf is the ending of a file's name in a form that every system takes.
func endingOf(where string) string {
	ending := oddInEnding.ReplaceAllString(strings.ToLower(filepath.Ext(where)), "")
	if ending == "" || len(ending) > 8 {
		return ".bin"
	}
	return "." + ending
}

// Forget removes a copy.
func (f *Footage) Forget(sum string) error {
	if f.readOnly {
		return app.ErrReadOnly
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	name, ok := f.copies[sum]
	if !ok {
		return nil
	}
	if err := f.root.Remove(path.Join(copiesFolder, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return inStudy("removing a copy of footage", f.dir, err)
	}
	delete(f.copies, sum)
	return nil
}

var uploadName = regexp.MustCompile(`^[a-z2-7]{16}` + app.UploadMark + `.+$`)

// Upload keeps what a browser sends, until an import takes it.
func (f *Footage) Upload(ctx context.Context, name string, bytes int64, from io.Reader) (string, error) {
	const doing = "taking in an upload"
	if f.readOnly {
		return "", app.ErrReadOnly
	}
	if err := f.Room(bytes); err != nil {
		return "", fmt.Errorf("%s: %w", doing, err)
	}
	if err := f.folder(incomingFolder); err != nil {
		return "", inStudy(doing, f.dir, err)
	}
	token := strings.ToLower(rand.Text()[:16]) + app.UploadMark + plainFileName(name)
	part := path.Join(incomingFolder, token+partMark)
	var reading error
	err := f.create(part, func(w io.Writer) error {
		n, err := f.pour(ctx, w, from, &reading)
		if err == nil && bytes >= 0 && n != bytes {
			reading = fmt.Errorf("%d bytes came in of %d: send the file again", n, bytes)
			err = reading
		}
		return err
	})
	switch {
	case ctx.Err() != nil:
		return "", ctx.Err()
	case reading != nil:
		return "", fmt.Errorf("%s: %w", doing, reading)
	case err != nil:
		return "", inStudy(doing, f.dir, err)
	}
	if err := f.rename(part, path.Join(incomingFolder, token)); err != nil {
		_ = f.root.Remove(part)
		return "", inStudy(doing, f.dir, err)
	}
	return token, inStudy(doing, f.dir, f.syncFolder(incomingFolder))
}

// pour writes what comes in, and looks now and then whether there is room.
func (f *Footage) pour(ctx context.Context, w io.Writer, from io.Reader, reading *error) (n int64, err error) {
	buffer, looked := make([]byte, block), int64(0)
	for {
		if err := ctx.Err(); err != nil {
			return n, err
		}
		if n-looked > 64*block {
			if err := f.Room(0); err != nil {
				return n, err
			}
			looked = n
		}
		got, err := from.Read(buffer)
		if _, fault := w.Write(buffer[:got]); fault != nil {
			return n, fault
		}
		n += int64(got)
		if errors.Is(err, io.EOF) {
			return n, nil
		}
		if err != nil {
			*reading = fmt.Errorf("it broke off after %d bytes (%w): send the file again", n, err)
			return n, *reading
		}
	}
}

// plainFileName is a name that every system takes, as near as can be to the one
// that was given.
func plainFileName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune(`/\:*?"<>|`, r), unicode.IsControl(r), r == unicode.ReplacementChar:
			return '_'
		case unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp):
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, "_"))
	stem, ending := strings.TrimSuffix(name, filepath.Ext(name)), filepath.Ext(name)
	if len(ending) > 10 || len(ending) < 2 {
		stem, ending = strings.TrimRight(stem+ending, "."), ""
	}
	for len(stem) > 120 {
		stem = stem[:len(stem)-1]
	}
	name = strings.ToValidUTF8(stem, "") + ending
	name = strings.TrimRight(strings.TrimSpace(name), ". ")
	if name == "" || deviceName.MatchString(name) {
		name = "clip" + ending
	}
	return name
}

// tokenOf is the name of an upload whose path this is; "" for any other path.
func (f *Footage) tokenOf(where string) string {
	if filepath.Dir(where) != filepath.Join(f.dir, filepath.FromSlash(incomingFolder)) || !uploadName.MatchString(filepath.Base(where)) {
		return ""
	}
	return filepath.Base(where)
}

// Uploaded is the path of an upload.
func (f *Footage) Uploaded(token string) (string, error) {
	if !uploadName.MatchString(token) || checkElement(token) != nil || strings.HasSuffix(token, partMark) {
		return "", fmt.Errorf("%.100q is no upload", token)
	}
	info, err := f.root.Lstat(path.Join(incomingFolder, token))
	if err != nil || !info.Mode().IsRegular() {
		return "", errors.New("this upload is not here any more: send the file again")
	}
	return filepath.Join(f.dir, filepath.FromSlash(incomingFolder), token), nil
}

// DropUpload removes an upload; what is none is left alone.
func (f *Footage) DropUpload(token string) error {
	if _, err := f.Uploaded(token); err != nil || f.readOnly {
		return nil
	}
	return inStudy("removing an upload", f.dir, f.root.Remove(path.Join(incomingFolder, token)))
}

// Copies are the hashes of the copies that are there, in order.
func (f *Footage) Copies() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Sorted(maps.Keys(f.copies))
}

// Check reads every copy.
func (f *Footage) Check(ctx context.Context, progress func(done, total int)) (wrong []string, err error) {
	f.mu.Lock()
	names := maps.Clone(f.copies)
	f.mu.Unlock()
	copies := slices.Sorted(maps.Keys(names))
	const MB = 1e6
	var total, before int64
	for _, sum := range copies {
		if info, err := f.root.Lstat(path.Join(copiesFolder, names[sum])); err == nil {
			total += info.Size()
		}
	}
	for _, sum := range copies {
		where := filepath.Join(f.dir, filepath.FromSlash(copiesFolder), names[sum])
		found, n, err := f.Hash(ctx, where, nil)
		switch {
		case ctx.Err() != nil:
			return wrong, ctx.Err()
		case err != nil:
			wrong = append(wrong, err.Error())
		case found != sum:
			wrong = append(wrong, fmt.Sprintf("the copy of footage %s is damaged (its content is not what was kept): restore it from a backup, or import the clip again from the camera's card", filepath.FromSlash(path.Join(copiesFolder, names[sum]))))
		}
		before += n
		if progress != nil {
			progress(int(before/MB), max(int(total/MB), 1))
		}
	}
	return wrong, nil
}

// Held are the files that a backup takes from where they are: copies of footage,
// and the times of frames.
func (f *Footage) Held() ([]HeldFile, error) {
	var held []HeldFile
	for _, of := range []struct {
		folder string
		name   *regexp.Regexp
	}{{copiesFolder, copyName}, {probedFolder, probeName}} {
		entries, err := f.list(of.folder)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if e.Type().IsRegular() && of.name.MatchString(e.Name()) {
				name := path.Join(of.folder, e.Name())
				held = append(held, HeldFile{Path: name, At: filepath.Join(f.dir, filepath.FromSlash(name))})
			}
		}
	}
	return held, nil
}
