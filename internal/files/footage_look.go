package files

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"brinefield/internal/app"
)

const (
	mostLooked = 5000    // files and folders of one folder that are listed
	mostWalked = 200_000 // files that are looked at when a missing one is searched
	deepest    = 16      // folders below the one that is searched
	sniffed    = 1024    // bytes at the beginning of a file that tell its kind
)

// footageEndings are how the names of files end that cameras write, and of those
// that people make of them.
var footageEndings = []string{
	".mp4", ".m4v", ".mov", ".qt", ".mkv", ".webm", ".avi", ".ts", ".mts", ".m2ts", ".m2t", ".mpg", ".mpeg", ".vob", ".3gp",
}

// Look lists a folder: folders by name, files that may be footage with the newest
// first. Hidden ones are left out, and those of the system.
func (f *Footage) Look(ctx context.Context, folder string) (app.FootageLook, error) {
	v := app.FootageLook{Folders: []string{}, Files: []app.FootageFile{}, Notes: []string{}, Places: places()}
	if folder == "" {
		folder = "."
		if len(v.Places) > 0 {
			folder = v.Places[0]
		}
	}
	folder, err := filepath.Abs(folder)
	if err != nil {
		return v, err
	}
	v.Folder = folder
	if up := filepath.Dir(folder); up != folder {
		v.Up = up
	}
	if ofSystem(folder) {
		return v, fmt.Errorf("%s is a folder of the system, which holds no footage", folder)
	}
	entries, more, err := readFolder(folder, mostLooked)
	if err != nil {
		return v, err
	}
	if more {
		v.Notes = append(v.Notes, fmt.Sprintf("Only %d files and folders of this folder are listed; put the clips into a folder of their own.", mostLooked))
	}
	type dated struct {
		app.FootageFile
		written time.Time
	}
	var found []dated
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return v, err
		}
		where := filepath.Join(folder, e.Name())
		if strings.HasPrefix(e.Name(), ".") || ofSystem(where) {
			continue
		}
		info, err := os.Stat(where) // through a link
		switch {
		case err != nil || !info.IsDir() && !info.Mode().IsRegular():
			continue
		case info.IsDir():
			v.Folders = append(v.Folders, e.Name())
			continue
		case !slices.Contains(footageEndings, strings.ToLower(filepath.Ext(e.Name()))):
			continue
		}
		if note := f.sniff(where, info.Size()); note != "" {
			if !strings.HasSuffix(e.Name(), ".ts") { // many texts of programs are called so too
				v.Notes = append(v.Notes, e.Name()+" "+note)
			}
			continue
		}
		found = append(found, dated{app.FootageFile{
			Name: e.Name(), Path: where, Bytes: info.Size(), Modified: info.ModTime().UTC().Format(time.RFC3339),
		}, info.ModTime()})
	}
	slices.SortStableFunc(found, func(a, b dated) int { return cmp.Or(b.written.Compare(a.written), strings.Compare(a.Name, b.Name)) })
	for _, d := range found {
		v.Files = append(v.Files, d.FootageFile)
	}
	slices.SortFunc(v.Folders, func(a, b string) int {
		return cmp.Or(strings.Compare(strings.ToLower(a), strings.ToLower(b)), strings.Compare(a, b))
	})
	return v, nil
}

// readFolder reads at most so many entries of a folder.
func readFolder(folder string, most int) (entries []fs.DirEntry, more bool, err error) {
	d, err := os.OpenFile(folder, os.O_RDONLY|dontWait, 0)
	if err == nil {
		defer d.Close()
		entries, err = d.ReadDir(most + 1)
		if errors.Is(err, io.EOF) {
			err = nil
		}
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, false, fmt.Errorf("there is no folder %s: the card or drive may be out", folder)
	case errors.Is(err, fs.ErrPermission):
		return nil, false, fmt.Errorf("you may not look into %s", folder)
	case err != nil:
		return nil, false, fmt.Errorf("the folder %s cannot be read (%w)", folder, err)
	}
	if more = len(entries) > most; more {
		entries = entries[:most]
	}
	return entries, more, nil
}

// sniff looks whether a file begins as footage does, and says why it is left out.
func (f *Footage) sniff(where string, bytes int64) string {
	if bytes == 0 {
		return "is empty."
	}
	r, err := f.Open(where)
	if err != nil {
		if errors.Is(err, fs.ErrPermission) {
			return "may not be read by you."
		}
		return "cannot be read."
	}
	defer r.Close()
	head := make([]byte, sniffed)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return "cannot be read."
	}
	if !beginsAsFootage(head[:n]) {
		return "is no footage by its first bytes, whatever its name says."
	}
	return ""
}

// beginsAsFootage knows how files of footage begin.
//
// Source: ISO/IEC 14496-12 (boxes), RFC 8794 (EBML), the RIFF format, ISO/IEC
// 13818-1 (packets of 188 bytes that begin with 0x47; with a time in front, 192).
func beginsAsFootage(head []byte) bool {
	at := func(i int, s string) bool { return len(head) >= i+len(s) && string(head[i:i+len(s)]) == s }
	for _, box := range []string{"ftyp", "moov", "mdat", "wide", "skip", "free", "pnot"} {
		if at(4, box) {
			return true
		}
	}
	return at(0, "\x1a\x45\xdf\xa3") || at(0, "RIFF") && at(8, "AVI") || at(0, "\x00\x00\x01\xba") ||
		at(0, "\x47") && at(188, "\x47") && at(376, "\x47") || at(4, "\x47") && at(196, "\x47") && at(388, "\x47")
}

// places are folders in which footage usually is: the user's own, then where cards
// and drives appear.
func places() []string {
	var out []string
	add := func(dir string) {
		if info, err := os.Stat(dir); err == nil && info.IsDir() && !ofSystem(dir) && !slices.Contains(out, dir) {
			out = append(out, dir)
		}
	}
	home, err := os.UserHomeDir()
	if err == nil {
		for _, name := range []string{"Videos", "Movies"} {
			add(filepath.Join(home, name))
		}
		add(home)
	}
	if runtime.GOOS == "windows" {
		for letter := 'A'; letter <= 'Z'; letter++ {
			add(string(letter) + `:\`)
		}
		return out
	}
	user := filepath.Base(home)
	for _, root := range []string{"/media/" + user, "/run/media/" + user, "/media", "/Volumes", "/mnt"} {
		entries, _, err := readFolder(root, 100)
		if err != nil {
			continue
		}
		for _, e := range entries {
			if dir := filepath.Join(root, e.Name()); !strings.HasPrefix(e.Name(), ".") && dir != "/media/"+user {
				add(dir)
			}
		}
	}
	return out
}

// systemFolders hold no footage, and things that are no files.
var systemFolders = []string{"/proc", "/dev", "/sys", "/run"}

// ofSystem reports whether a path leads into a folder of the system, also through
// a link.
func ofSystem(where string) bool {
	if runtime.GOOS == "windows" {
		return false
	}
	if resolved, err := filepath.EvalSymlinks(where); err == nil && resolved != where && inSystem(resolved) {
		return true
	}
	return inSystem(where)
}

func inSystem(where string) bool {
	where = filepath.Clean(where) + "/"
	for _, own := range []string{"/run/media/", "/run/user/", "/dev/shm/"} { // which the user's own files lie in
		if strings.HasPrefix(where, own) {
			return false
		}
	}
	return slices.ContainsFunc(systemFolders, func(dir string) bool { return strings.HasPrefix(where, dir+"/") })
}

// Candidates are the ordinary files in a folder and below it that have one of some
// sizes. Links are not followed; what cannot be read is passed over.
func (f *Footage) Candidates(ctx context.Context, folder string, bytes []int64) ([]string, error) {
	if !filepath.IsAbs(folder) {
		return nil, fmt.Errorf("%q is no full path of a folder on this laptop", folder)
	}
	if ofSystem(folder) {
		return nil, fmt.Errorf("%s is a folder of the system, which holds no footage", folder)
	}
	if _, _, err := readFolder(folder, 1); err != nil {
		return nil, err
	}
	var found []string
	walked, top := 0, strings.Count(filepath.Clean(folder), string(filepath.Separator))
	err := filepath.WalkDir(folder, func(where string, e fs.DirEntry, err error) error {
		if walked++; walked > mostWalked {
			return filepath.SkipAll
		}
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			if e != nil && e.IsDir() {
				return filepath.SkipDir
			}
			return nil
		case e.IsDir():
			if where != folder && (strings.HasPrefix(e.Name(), ".") || ofSystem(where) || strings.Count(where, string(filepath.Separator))-top > deepest) {
				return filepath.SkipDir
			}
			return nil
		case !e.Type().IsRegular():
			return nil
		}
		if info, err := e.Info(); err == nil && slices.Contains(bytes, info.Size()) {
			found = append(found, where)
		}
		return nil
	})
	return found, err
}
