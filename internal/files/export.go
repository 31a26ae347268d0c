package files

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"strings"
	"time"
)

// The plain export inside a study. `exported` in it says when it was written
// and which files it holds; the names with a dot are steps on the way.
const (
	exportFolder = "export"
	exportNew    = ".export.new"
	exportOld    = ".export.old"
	exportStamp  = "exported"
)

// WriteExport replaces the folder `export` of a study as a whole: where it
// fails, or the program is killed, the export from before is there. An export
// that somebody has changed or put files into is not thrown away: it is kept
// beside the new one, and kept is the name of its folder.
func WriteExport(ctx context.Context, dir string, files map[string][]byte, at time.Time) (kept string, err error) {
	d, err := openDisc(dir)
	if err != nil {
		return "", err
	}
	defer d.root.Close()
	return d.writeExport(ctx, dir, files, at)
}

func (d disc) writeExport(ctx context.Context, dir string, files map[string][]byte, at time.Time) (kept string, err error) {
	const doing = "writing the plain export of the study"
	names, err := exportNames(files)
	if err != nil {
		return "", fmt.Errorf("%s: %w", doing, err)
	}
	if err := d.settleExport(at); err != nil {
		return "", inStudy(doing, dir, err)
	}
	if err := d.fillExport(ctx, names, files, at); err != nil {
		_ = d.root.RemoveAll(exportNew) // the next export removes what this could not
		return "", inStudy(doing, dir, err)
	}
	if err := d.swapExport(); err != nil {
		if runtime.GOOS == "windows" { // which moves no folder with an open file in it
			return "", inStudy(doing+" (close its files that are open in other programs)", dir, err)
		}
		return "", inStudy(doing, dir, err)
	}
	// The new export is in place. What could not be put away waits for the next.
	kept, _ = d.putAway(at)
	return kept, nil
}

func exportNames(files map[string][]byte) ([]string, error) {
	names := make([]string, 0, len(files))
	seen := map[string]bool{exportStamp: true}
	for name := range files {
		if err := checkElement(name); err != nil {
			return nil, err
		}
		if folded := strings.ToLower(name); seen[folded] {
			return nil, fmt.Errorf("two files have the name %s", folded)
		}
		seen[strings.ToLower(name)] = true
		names = append(names, name)
	}
	slices.Sort(names)
	return names, nil
}

func (d disc) fillExport(ctx context.Context, names []string, files map[string][]byte, at time.Time) error {
	if err := d.mkdir(exportNew); err != nil {
		return err
	}
	stamp := "exported " + at.Format(time.RFC3339) + "\n"
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := d.createBytes(path.Join(exportNew, name), files[name]); err != nil {
			return err
		}
		stamp += hashOf(files[name]) + "  " + name + "\n" // as sha256sum writes it
	}
	if err := d.createBytes(path.Join(exportNew, exportStamp), []byte(stamp)); err != nil {
		return err
	}
	return d.syncFolder(exportNew)
}

// swapExport puts the new export in place of the old one, or leaves the old.
func (d disc) swapExport() error {
	had := d.has(exportFolder)
	if had {
		if err := d.rename(exportFolder, exportOld); err != nil {
			return errors.Join(err, d.root.RemoveAll(exportNew))
		}
	}
	err := d.rename(exportNew, exportFolder)
	if err == nil {
		if err = d.syncFolder("."); err == nil {
			return nil
		}
		err = errors.Join(err, d.root.Rename(exportFolder, exportNew))
	}
	if had {
		err = errors.Join(err, d.root.Rename(exportOld, exportFolder))
	}
	return errors.Join(err, d.root.RemoveAll(exportNew))
}

// settleExport brings what a killed run left into order: there is then an
// export or none, and nothing on the way.
func (d disc) settleExport(at time.Time) error {
	if err := d.removeAll(exportNew); err != nil {
		return err
	}
	if !d.has(exportOld) {
		return nil
	}
	if !d.has(exportFolder) {
		return d.rename(exportOld, exportFolder)
	}
	_, err := d.putAway(at)
	return err
}

// putAway removes the export from before, or gives it a name to keep it under
// where it holds anything that this program did not write.
func (d disc) putAway(at time.Time) (kept string, err error) {
	if !d.has(exportOld) {
		return "", nil
	}
	if d.untouched(exportOld) {
		return "", d.removeAll(exportOld)
	}
	kept = exportFolder + " kept " + at.Format("2006-01-02 150405")
	for n := 2; d.has(kept); n++ {
		kept = fmt.Sprintf("%s kept %s %d", exportFolder, at.Format("2006-01-02 150405"), n)
	}
	if err := d.rename(exportOld, kept); err != nil {
		return "", err
	}
	return kept, d.syncFolder(".")
}

// untouched reports whether a folder holds nothing but what its stamp lists.
func (d disc) untouched(folder string) bool {
	stamp, err := d.readRegular(path.Join(folder, exportStamp), largestFile)
	if err != nil {
		return false
	}
	sums := map[string]string{exportStamp: hashOf(stamp)}
	for line := range strings.Lines(string(stamp)) {
		if sum, name, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "  "); ok {
			sums[name] = sum
		}
	}
	entries, err := fs.ReadDir(d.root.FS(), folder)
	if err != nil {
		return false
	}
	for _, e := range entries {
		if leftByDesktop(e.Name()) && e.Type().IsRegular() {
			continue
		}
		data, err := d.readRegular(path.Join(folder, e.Name()), largestFile)
		if err != nil || sums[e.Name()] != hashOf(data) {
			return false
		}
	}
	return true
}

// leftByDesktop knows the files that file managers and office programs leave
// behind by themselves.
func leftByDesktop(name string) bool {
	switch strings.ToLower(name) {
	case ".ds_store", "thumbs.db", "desktop.ini", ".directory":
		return true
	}
	return strings.HasPrefix(name, ".~lock.") || strings.HasPrefix(name, "~$") || strings.HasPrefix(name, "._")
}

// SettleExport brings what a killed export left into order. Call it when a
// study was opened for writing.
func SettleExport(dir string, now time.Time) error {
	d, err := openDisc(dir)
	if err != nil {
		return err
	}
	defer d.root.Close()
	return inStudy("putting the plain export of the study in order", dir, d.settleExport(now))
}

// ExportedAt says when the export of a study was written: the zero time where
// there is none. The time stands in the export itself, not in the folder's
// dates, which copying changes.
func ExportedAt(dir string) (time.Time, error) {
	d, err := openDisc(dir)
	if err != nil {
		return time.Time{}, err
	}
	defer d.root.Close()
	stamp, err := d.readRegular(path.Join(exportFolder, exportStamp), largestFile)
	if errors.Is(err, fs.ErrNotExist) {
		return time.Time{}, nil
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("when the study was exported cannot be read: %w", err)
	}
	first, _, _ := strings.Cut(string(stamp), "\n")
	at, err := time.Parse("exported "+time.RFC3339, first)
	if err != nil {
		return time.Time{}, fmt.Errorf("export/exported does not say when the study was exported: its first line is %.40q, not \"exported\" and a time", first)
	}
	return at, nil
}

func (d disc) has(name string) bool {
	_, err := d.root.Lstat(name)
	return err == nil
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
