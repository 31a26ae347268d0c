package app

import (
	"archive/zip"
	"context"
	"io"
	"maps"
	"slices"
)

// WriteSeason writes the season folder of the study as it stands as a zip, and
// names the file. Where which pair was active is sealed, it stays sealed in
// it. A study with faults is written with them.
func (s *Study) WriteSeason(ctx context.Context, w io.Writer) (name string, err error) {
	right, err := s.right(ctx)
	if err != nil {
		return "", err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return "", err
	}
	files, err := s.withCompanions(ctx, a, right)
	if err != nil {
		return "", err
	}
	folder := s.folder.Name + " season"
	return folder + ".zip", writeZip(w, folder, files)
}

// writeZip writes files below one folder, in byte order and without times, so
// that the same files give the same bytes.
func writeZip(w io.Writer, folder string, files Input) error {
	z := zip.NewWriter(w)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f, err := z.CreateHeader(&zip.FileHeader{Name: folder + "/" + name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if _, err := f.Write(files[name]); err != nil {
			return err
		}
	}
	return z.Close()
}
