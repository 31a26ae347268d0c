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
	"strings"
	"time"

	"brinefield/internal/app"
)

const (
	backupFormat  = 1
	backupFolder  = "backups"
	manifestName  = "MANIFEST.json"
	manifestLimit = 64 << 20
)

// BackupInfo says whose backup is to be made.
type BackupInfo struct {
	Program app.Program
	MadeAt  time.Time
	Study   string // name of the study
	// Held are files that are never changed, and that are taken from where they
	// are: footage is not copied twice.
	Held []HeldFile
}

// HeldFile is a file of a backup that is not in the snapshot.
type HeldFile struct {
	Path string // in the backup
	At   string // on this machine
}

// Manifest is the list in a backup of what it holds.
type Manifest struct {
	Format  int          `json:"format"`
	Program app.Program  `json:"program"`
	MadeAt  time.Time    `json:"made_at"`
	Study   string       `json:"study"`
	Files   []BackupFile `json:"files"` // in order of path
}

// BackupFile is one file of a backup.
type BackupFile struct {
	Path   string `json:"path"` // with slashes, from the study's folder
	Size   int64  `json:"size_bytes"`
	SHA256 string `json:"sha256"`
	Mode   string `json:"mode"` // rights of a Unix file, such as "0600"
}

// BackupName is a file name for a backup, sorted by time where it stands among
// others of the same study.
func BackupName(study string, at time.Time) string {
	return fmt.Sprintf("%s %s.zip", study, at.UTC().Format("2006-01-02 150405Z"))
}

// BackupsFolder makes the folder `backups` of a study, for the backups before
// a change of its storage, and sweeps it of what killed runs left more than a
// day before now.
func BackupsFolder(dir string, now time.Time) (string, error) {
	const doing = "making the folder of backups"
	d, err := openDisc(dir)
	if err != nil {
		return "", err
	}
	defer d.root.Close()
	switch err := d.mkdir(backupFolder); {
	case errors.Is(err, fs.ErrExist):
	case err != nil:
		return "", inStudy(doing, dir, err)
	default:
		if err := d.syncFolder("."); err != nil {
			return "", inStudy(doing, dir, err)
		}
	}
	entries, err := fs.ReadDir(d.root.FS(), backupFolder)
	if err != nil {
		return "", inStudy(doing, dir, err)
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() || !leftOver.MatchString(e.Name()) || now.Sub(info.ModTime()) < leftOverAge {
			continue
		}
		if err := d.removeAll(path.Join(backupFolder, e.Name())); err != nil {
			return "", inStudy(doing, dir, err)
		}
	}
	return filepath.Join(dir, backupFolder), nil
}

// WriteBackup writes all files of the folder from, a snapshot that nobody
// changes, into a new zip archive at file, with a list of their sizes and
// hashes. The archive appears whole or not at all and replaces nothing. Only
// this user can read it: it holds which pairs were active, and what people can
// ask to have erased.
func WriteBackup(ctx context.Context, file, from string, info BackupInfo) (Manifest, error) {
	d, err := openDisc(filepath.Dir(file))
	if err != nil {
		return Manifest{}, err
	}
	defer d.root.Close()
	return d.writeBackup(ctx, file, from, info)
}

func (d disc) writeBackup(ctx context.Context, file, from string, info BackupInfo) (Manifest, error) {
	doing := "writing the backup " + file
	name := filepath.Base(file)
	if err := checkElement(name); err != nil {
		return Manifest{}, fmt.Errorf("%s: %w", doing, err)
	}
	if within(filepath.Dir(file), from) {
		return Manifest{}, fmt.Errorf("%s: it would lie in the folder that it is made of; choose another folder", doing)
	}
	if d.has(name) {
		return Manifest{}, fmt.Errorf("%s: there is already a file of this name; choose another", doing)
	}
	source, err := openDisc(from)
	if err != nil {
		return Manifest{}, err
	}
	defer source.root.Close()
	m := Manifest{Format: backupFormat, Program: info.Program, MadeAt: info.MadeAt.UTC(), Study: info.Study, Files: []BackupFile{}}
	staged := stagedName(name)
	if err := d.create(staged, func(w io.Writer) error { return source.pack(ctx, w, &m, info.Held) }); err != nil {
		return Manifest{}, elsewhere(doing, err)
	}
	if err := d.publish(staged, name); err != nil {
		_ = d.root.Remove(staged)
		return Manifest{}, elsewhere(doing, err)
	}
	return m, nil
}

// within reports whether a folder is another or lies in it.
func within(dir, other string) bool {
	a, errA := filepath.EvalSymlinks(dir)
	b, errB := filepath.EvalSymlinks(other)
	if errA != nil || errB != nil {
		return false // neither can then be read or written
	}
	a, errA = filepath.Abs(a)
	b, errB = filepath.Abs(b)
	rel, err := filepath.Rel(b, a)
	return errA == nil && errB == nil && err == nil && filepath.IsLocal(rel)
}

// publish gives a finished file its name, unless something has the name.
func (d disc) publish(staged, name string) error {
	err := d.step("link", name)
	if err == nil {
		err = d.root.Link(staged, name)
	}
	switch {
	case errors.Is(err, fs.ErrExist):
		return errors.New("there is already a file of this name; choose another")
	case err != nil: // a file system without links, such as that of a memory card
		if d.has(name) {
			return errors.New("there is already a file of this name; choose another")
		}
		if err := d.rename(staged, name); err != nil {
			return err
		}
	default:
		if err := d.root.Remove(staged); err != nil {
			return errors.Join(err, d.root.Remove(name))
		}
	}
	if err := d.syncFolder("."); err != nil {
		return errors.Join(err, d.root.Remove(name))
	}
	return nil
}

// pack writes the files below d and their list into an archive.
func (d disc) pack(ctx context.Context, w io.Writer, m *Manifest, held []HeldFile) error {
	archive := zip.NewWriter(w)
	seen := map[string]string{}
	err := fs.WalkDir(d.root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case name == ".":
			return nil
		case seen[strings.ToLower(name)] != "":
			return fmt.Errorf("%s and %s differ only in capitals, which not every system can keep; rename one", seen[strings.ToLower(name)], name)
		}
		seen[strings.ToLower(name)] = name
		if err := checkElement(path.Base(name)); err != nil {
			return err
		}
		if e.IsDir() {
			return nil
		}
		if !e.Type().IsRegular() || strings.EqualFold(name, manifestName) {
			return fmt.Errorf("%s cannot be part of a backup: a study holds ordinary files, and none named %s; move it away", name, manifestName)
		}
		r, err := d.root.Open(name)
		if err != nil {
			return err
		}
		f, err := packFile(ctx, archive, name, r, zip.Deflate, m.MadeAt)
		m.Files = append(m.Files, f)
		return err
	})
	if err != nil {
		return err
	}
	for _, h := range held {
		if seen[strings.ToLower(h.Path)] != "" {
			return fmt.Errorf("%s is there twice", h.Path)
		}
		seen[strings.ToLower(h.Path)] = h.Path
		r, err := os.OpenFile(h.At, os.O_RDONLY|dontWait, 0)
		if err != nil {
			return err
		}
		f, err := packFile(ctx, archive, h.Path, r, methodOf(h.Path), m.MadeAt)
		if err != nil {
			return err
		}
		m.Files = append(m.Files, f)
	}
	slices.SortFunc(m.Files, func(a, b BackupFile) int { return strings.Compare(a.Path, b.Path) })
	list, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return err
	}
	entry, err := archive.CreateHeader(header(manifestName, m.MadeAt, privateFile))
	if err != nil {
		return err
	}
	if _, err := entry.Write(append(list, '\n')); err != nil {
		return err
	}
	return archive.Close()
}

// methodOf is how a file is packed: footage is as small as it gets.
func methodOf(name string) uint16 {
	if IsFootage(name) {
		return zip.Store
	}
	return zip.Deflate
}

// IsFootage reports whether a file of a backup is a copy of footage.
func IsFootage(name string) bool { return strings.HasPrefix(name, copiesFolder+"/") }

func packFile(ctx context.Context, archive *zip.Writer, name string, f *os.File, method uint16, at time.Time) (BackupFile, error) {
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return BackupFile{}, err
	}
	if !info.Mode().IsRegular() {
		return BackupFile{}, fmt.Errorf("%s cannot be part of a backup: it is not an ordinary file; move it away", name)
	}
	h := header(name, at, info.Mode().Perm())
	h.Method = method
	entry, err := archive.CreateHeader(h)
	if err != nil {
		return BackupFile{}, err
	}
	hash := sha256.New()
	n, err := io.Copy(io.MultiWriter(entry, hash), stoppable{ctx, f})
	return BackupFile{Path: name, Size: n, SHA256: hex.EncodeToString(hash.Sum(nil)), Mode: fmt.Sprintf("%04o", info.Mode().Perm())}, err
}

func header(name string, at time.Time, mode os.FileMode) *zip.FileHeader {
	h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at}
	h.SetMode(mode)
	return h
}

// stoppable is a reader that ends with its context.
type stoppable struct {
	ctx context.Context
	io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(p)
}
