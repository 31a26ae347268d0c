package files

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"brinefield/internal/app"
)

// mostPacked is more than any file can shrink in an archive: deflate writes at
// least one bit for 258 bytes and a few bits more (RFC 1951), about 1 : 1032.
const mostPacked = 1100

// ReadBackup reads all of a backup and checks it against its list. The error
// says what is wrong with it.
func ReadBackup(ctx context.Context, file string) (Manifest, error) {
	b, err := openBackup(file)
	if err != nil {
		return Manifest{}, err
	}
	defer b.Close()
	for _, f := range b.manifest.Files {
		if err := b.unpack(ctx, f, io.Discard); err != nil {
			return Manifest{}, err
		}
	}
	return b.manifest, nil
}

// ExtractBackup writes what a backup holds into dir, which must be there and
// empty, and checks every file. It is on the disc when ExtractBackup returns;
// on an error dir is empty again. Rights of other users are never restored.
// Call it in [Shelf.NewFolder], which gives the folder its name at the end.
func ExtractBackup(ctx context.Context, file, dir string) (Manifest, error) {
	d, err := openDisc(dir)
	if err != nil {
		return Manifest{}, err
	}
	defer d.root.Close()
	return d.extract(ctx, file, dir)
}

func (d disc) extract(ctx context.Context, file, dir string) (Manifest, error) {
	doing := "restoring a backup into " + dir
	entries, err := fs.ReadDir(d.root.FS(), ".")
	if err != nil {
		return Manifest{}, elsewhere(doing, err)
	}
	if len(entries) > 0 {
		return Manifest{}, fmt.Errorf("%s: the folder is not empty; name a new one", doing)
	}
	b, err := openBackup(file)
	if err != nil {
		return Manifest{}, err
	}
	defer b.Close()
	if free, err := FreeSpace(dir); err == nil && free < b.total { // a drive that does not say is tried
		return Manifest{}, fmt.Errorf("%s needs %d MB, and %d MB are free: %w", doing, b.total>>20+1, free>>20, app.ErrNoSpace)
	}
	if err := d.extractFiles(ctx, b); err != nil {
		return Manifest{}, errors.Join(elsewhere(doing, err), d.empty())
	}
	return b.manifest, nil
}

func (d disc) extractFiles(ctx context.Context, b *backup) error {
	for _, f := range b.manifest.Files {
		if err := d.root.MkdirAll(path.Dir(f.Path), privateFolder); err != nil {
			return err
		}
		if err := d.create(f.Path, func(w io.Writer) error { return b.unpack(ctx, f, w) }); err != nil {
			return err
		}
		if mode := f.ownMode(); mode != privateFile {
			if err := d.root.Chmod(f.Path, mode); err != nil {
				return err
			}
		}
	}
	return d.syncTree(".")
}

// empty removes all that was written below d.
func (d disc) empty() error {
	entries, err := fs.ReadDir(d.root.FS(), ".")
	for _, e := range entries {
		err = errors.Join(err, d.root.RemoveAll(e.Name()))
	}
	return err
}

// NewestBackup finds the backup in a folder that was made last and is whole:
// it reads those that come into question. Without one, the path is "".
func NewestBackup(ctx context.Context, dir string) (string, Manifest, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return "", Manifest{}, nil
	}
	if err != nil {
		return "", Manifest{}, fmt.Errorf("the folder of backups %s cannot be read: %w", dir, err)
	}
	type candidate struct {
		file string
		Manifest
	}
	var found []candidate
	for _, e := range entries {
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), ".") || !strings.EqualFold(filepath.Ext(e.Name()), ".zip") {
			continue
		}
		file := filepath.Join(dir, e.Name())
		if b, err := openBackup(file); err == nil { // others are no backups, or not whole
			found = append(found, candidate{file, b.manifest})
			b.Close()
		}
	}
	slices.SortStableFunc(found, func(a, b candidate) int { return b.MadeAt.Compare(a.MadeAt) })
	for _, c := range found {
		if _, err := ReadBackup(ctx, c.file); err == nil {
			return c.file, c.Manifest, nil
		}
		if err := ctx.Err(); err != nil {
			return "", Manifest{}, err
		}
	}
	return "", Manifest{}, nil
}

// backup is an archive whose list was read and agrees with its contents page.
type backup struct {
	*zip.ReadCloser
	file     string
	manifest Manifest
	entries  map[string]*zip.File
	total    uint64 // bytes of all files
}

func openBackup(file string) (*backup, error) {
	info, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no backup %s", file)
	case err != nil:
		return nil, fmt.Errorf("the backup %s cannot be read: %w", file, err)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is no backup: a backup is one file with the ending .zip", file)
	}
	archive, err := zip.OpenReader(file)
	if errors.Is(err, zip.ErrFormat) {
		return nil, fmt.Errorf("%s is no whole backup: it was cut short, or is another kind of file; use another backup", file)
	}
	if err != nil {
		return nil, fmt.Errorf("the backup %s cannot be read: %w", file, err)
	}
	b := &backup{ReadCloser: archive, file: file, entries: map[string]*zip.File{}}
	if err := b.read(uint64(info.Size())); err != nil {
		archive.Close()
		return nil, fmt.Errorf("the backup %s cannot be trusted: %w; use another backup", file, err)
	}
	return b, nil
}

func (b *backup) read(archiveSize uint64) error {
	for _, f := range b.File {
		if b.entries[f.Name] != nil {
			return fmt.Errorf("it holds %q twice", f.Name)
		}
		b.entries[f.Name] = f
	}
	list := b.entries[manifestName]
	if list == nil {
		return fmt.Errorf("it holds no %s, the list of what a backup holds", manifestName)
	}
	delete(b.entries, manifestName)
	r, err := list.Open()
	if err != nil {
		return fmt.Errorf("%s cannot be read: %w", manifestName, err)
	}
	defer r.Close()
	text, err := io.ReadAll(io.LimitReader(r, manifestLimit+1))
	switch {
	case err != nil:
		return fmt.Errorf("%s cannot be read: %w", manifestName, err)
	case len(text) > manifestLimit:
		return fmt.Errorf("%s is larger than %d MB", manifestName, manifestLimit>>20)
	}
	if err := json.Unmarshal(text, &b.manifest); err != nil {
		return fmt.Errorf("%s is not written as it should be: %w", manifestName, err)
	}
	if b.manifest.Format != backupFormat {
		return fmt.Errorf("its format is %d, and this program knows format %d: use the program that made it, or a newer one", b.manifest.Format, backupFormat)
	}
	if b.total, err = b.manifest.check(); err != nil {
		return err
	}
	if b.total/mostPacked > archiveSize {
		return fmt.Errorf("its list promises %d MB, more than a file of %d bytes can hold", b.total>>20, archiveSize)
	}
	return b.agree()
}

// check looks at the list alone: paths that stay inside, once each, sizes and
// hashes that can be. It returns the sum of the sizes.
func (m Manifest) check() (uint64, error) {
	var total uint64
	seen := map[string]bool{strings.ToLower(manifestName): true}
	folders := map[string]bool{}
	for _, f := range m.Files {
		if err := checkPath(f.Path); err != nil {
			return 0, err
		}
		folded := strings.ToLower(f.Path)
		if seen[folded] {
			return 0, fmt.Errorf("it lists %q twice", f.Path)
		}
		seen[folded] = true
		for up := path.Dir(folded); up != "."; up = path.Dir(up) {
			folders[up] = true
		}
		if f.Size < 0 || total+uint64(f.Size) < total {
			return 0, fmt.Errorf("it lists %q with the impossible size %d", f.Path, f.Size)
		}
		total += uint64(f.Size)
		if checkRef(f.SHA256) != nil {
			return 0, fmt.Errorf("it lists %q without a hash of 64 hexadecimal digits", f.Path)
		}
		if _, err := strconv.ParseUint(f.Mode, 8, 12); err != nil {
			return 0, fmt.Errorf("it lists %q with the mode %q, which is not one such as 0600", f.Path, f.Mode)
		}
	}
	for _, f := range m.Files {
		if folders[strings.ToLower(f.Path)] {
			return 0, fmt.Errorf("it lists %q as a file and as a folder", f.Path)
		}
	}
	return total, nil
}

func checkPath(name string) error {
	if !fs.ValidPath(name) || name == "." {
		return fmt.Errorf("it holds the path %q, which leads out of the study's folder", name)
	}
	for element := range strings.SplitSeq(name, "/") {
		if err := checkElement(element); err != nil {
			return err
		}
	}
	return nil
}

// agree compares the list with the archive's own contents page.
func (b *backup) agree() error {
	for _, f := range b.manifest.Files {
		entry := b.entries[f.Path]
		switch {
		case entry == nil:
			return fmt.Errorf("its list names %q, which it does not hold", f.Path)
		case !entry.Mode().IsRegular():
			return fmt.Errorf("it holds %q as a link or a device", f.Path)
		case entry.UncompressedSize64 != uint64(f.Size):
			return fmt.Errorf("%q has %d bytes, and its list says %d", f.Path, entry.UncompressedSize64, f.Size)
		}
	}
	if len(b.entries) == len(b.manifest.Files) {
		return nil
	}
	listed := map[string]bool{}
	for _, f := range b.manifest.Files {
		listed[f.Path] = true
	}
	for _, entry := range b.File {
		if entry.Name != manifestName && !listed[entry.Name] {
			return fmt.Errorf("it holds %q, which its list does not name", entry.Name)
		}
	}
	return nil
}

// unpack writes one file of the backup to w and checks it. Not more than the
// list says is ever written.
func (b *backup) unpack(ctx context.Context, f BackupFile, w io.Writer) error {
	damaged := func(how string) error {
		return fmt.Errorf("the backup %s is damaged: %s %s; use another backup", b.file, f.Path, how)
	}
	r, err := b.entries[f.Path].Open()
	if err != nil {
		return damaged("cannot be read (" + err.Error() + ")")
	}
	defer r.Close()
	hash := sha256.New()
	source := &faulty{Reader: stoppable{ctx, io.LimitReader(r, f.Size)}}
	n, err := io.Copy(io.MultiWriter(w, hash), source)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case source.err != nil:
		return damaged("cannot be read (" + source.err.Error() + ")")
	case err != nil: // of the place it is written to
		return err
	case n < f.Size:
		return damaged("is cut short")
	}
	// One byte more, also to make the archive compare its own checksum.
	switch extra, err := io.ReadFull(r, make([]byte, 1)); {
	case extra > 0:
		return damaged("is longer than the list says")
	case err != nil && !errors.Is(err, io.EOF):
		return damaged("cannot be read (" + err.Error() + ")")
	}
	if hex.EncodeToString(hash.Sum(nil)) != f.SHA256 {
		return damaged("is not what was put in")
	}
	return nil
}

// faulty remembers that it was the reading that failed, not the writing.
type faulty struct {
	io.Reader
	err error
}

func (f *faulty) Read(p []byte) (int, error) {
	n, err := f.Reader.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		f.err = err
	}
	return n, err
}

// ownMode is the mode to restore: the owner may read and write, others nothing.
func (f BackupFile) ownMode() fs.FileMode {
	mode, err := strconv.ParseUint(f.Mode, 8, 12)
	if err != nil {
		return privateFile
	}
	return fs.FileMode(mode)&0o700 | privateFile
}
