package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"brinefield/internal/app"
)

// IsPackage reports whether a path is a dossier's package, or is meant to be one:
// a zip, or a folder that holds dossier.json and is no study.
func IsPackage(name string) bool {
	info, err := os.Stat(name)
	if err != nil {
		return filepath.Ext(name) == ".zip"
	}
	if !info.IsDir() {
		return filepath.Ext(name) == ".zip" || beginsAsZip(name)
	}
	_, study := os.Stat(filepath.Join(name, "study.db"))
	_, found := os.Stat(filepath.Join(name, "dossier.json"))
	return found == nil && study != nil
}

func beginsAsZip(name string) bool {
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	var first [4]byte
	_, err = io.ReadFull(f, first[:])
	return err == nil && string(first[:]) == "PK\x03\x04"
}

// OpenPackage opens a package that is a zip, or the folder that one was unpacked
// into. The package reads from the disc until it is closed.
func OpenPackage(name string, limits app.PackageLimits) (*app.Package, io.Closer, error) {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil, fmt.Errorf("there is no package %s", name)
	case err != nil:
		return nil, nil, fmt.Errorf("%s cannot be read: %w", name, err)
	case info.IsDir():
		return openPackageFolder(name, limits)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	p, err := app.OpenPackage(filepath.Base(name), f, info.Size(), limits)
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return p, f, nil
}

// openPackageFolder lists a folder. The root is opened so that no link in it can
// lead out, and a link, wherever it leads, is refused.
func openPackageFolder(name string, limits app.PackageLimits) (*app.Package, io.Closer, error) {
	root, err := os.OpenRoot(name)
	if err != nil {
		return nil, nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	refused := &app.PackageError{Package: filepath.Base(name)}
	var found []app.PackageFile
	err = fs.WalkDir(root.FS(), ".", func(at string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			refused.Problems = append(refused.Problems, fmt.Sprintf("%s cannot be read: %v", at, err))
			return nil
		case entry.IsDir():
			return nil
		case leftByDesktop(path.Base(at)) && entry.Type().IsRegular():
			return nil
		case !entry.Type().IsRegular():
			refused.Problems = append(refused.Problems, fmt.Sprintf("%.100q is a link, a device or another thing that is no file", at))
			return nil
		case len(found) > limits.Files:
			return fs.SkipAll // NewPackage says so
		}
		info, err := entry.Info()
		if err != nil {
			refused.Problems = append(refused.Problems, fmt.Sprintf("%.100q cannot be read: %v", at, err))
			return nil
		}
		found = append(found, app.PackageFile{Name: at, Bytes: info.Size(), Open: func() (io.ReadCloser, error) { return openPlain(root, at) }})
		return nil
	})
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("%s cannot be read: %w", name, err), root.Close())
	}
	p, err := app.NewPackage(filepath.Base(name), found, limits)
	var more *app.PackageError
	if errors.As(err, &more) {
		refused.Problems = append(refused.Problems, more.Problems...)
	}
	if len(refused.Problems) > 0 {
		return nil, nil, errors.Join(refused, root.Close())
	}
	return p, root, nil
}

// openPlain opens a file that is still a plain one: between the list and now it
// could have become something that never ends.
func openPlain(root *os.Root, name string) (io.ReadCloser, error) {
	info, err := root.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is no plain file any more")
	}
	return root.Open(name)
}
