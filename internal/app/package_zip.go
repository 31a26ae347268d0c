package app

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// OpenPackage opens a package that is a zip. It trusts nothing of it: names, sizes
// and places are checked before a byte is unpacked, and the files are counted while
// they are. The error is a [*PackageError] that holds all that is wrong. Nothing is
// written, and a zip inside the zip is a file like any other.
func OpenPackage(name string, r io.ReaderAt, size int64, limits PackageLimits) (*Package, error) {
	e := &PackageError{Package: name}
	if wrong := checkZipEnd(r, size, limits); wrong != "" {
		e.add("%s", wrong)
		return nil, e
	}
	z, err := zip.NewReader(r, size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // names are told below, all of them
		e.add("the zip cannot be read: %s", packedError(err))
		return nil, e
	}
	files := zippedFiles(e, z.File)
	checkZipPlaces(e, z.File, size)
	p, err := NewPackage(name, files, limits)
	var more *PackageError
	if errors.As(err, &more) {
		e.Problems = append(e.Problems, more.Problems...)
	}
	if err := e.orNil(); err != nil {
		return nil, err
	}
	return p, nil
}

// zippedFiles are the files of a zip; whatever is no plain file is told.
func zippedFiles(e *PackageError, entries []*zip.File) []PackageFile {
	var out []PackageFile
	for _, f := range entries {
		mode := f.Mode()
		switch {
		case f.Flags&1 != 0:
			e.add("%s is encrypted; expected a package that anybody can read", sayName(f.Name))
		case f.Method != zip.Store && f.Method != zip.Deflate:
			e.add("%s is packed by method %d; expected deflate, or none", sayName(f.Name), f.Method)
		case mode.IsDir() && strings.HasSuffix(f.Name, "/") && f.UncompressedSize64 == 0:
			if wrong := badPackageName(strings.ReplaceAll(strings.TrimSuffix(f.Name, "/"), " ", "-")); wrong != "" {
				e.add("%s: %s", sayName(f.Name), wrong)
			}
			continue // a folder says nothing that its files do not
		case !mode.IsRegular():
			e.add("%s is a link, a device or another thing that is no file", sayName(f.Name))
		case f.Method == zip.Store && f.CompressedSize64 != f.UncompressedSize64:
			e.add("%s says that it is not packed, and that it has %d bytes packed and %d unpacked", sayName(f.Name), f.CompressedSize64, f.UncompressedSize64)
		}
		out = append(out, PackageFile{Name: f.Name, Bytes: clampSize(f.UncompressedSize64), Packed: clampSize(f.CompressedSize64), Open: f.Open})
	}
	return out
}

func clampSize(n uint64) int64 { return int64(min(n, 1<<62)) } //nolint:gosec // clamped

// The end of a zip: APPNOTE.TXT 6.3.10, section 4.3.16 (PKWARE; from memory).
const (
	zipEndLength  = 22
	zipEntryLeast = 46 // bytes of an entry in the directory, without its name
	longestExtra  = 1024
)

// checkZipEnd looks at the end of a zip before its directory is read into memory,
// so that the size of that is bounded by what the end says.
func checkZipEnd(r io.ReaderAt, size int64, limits PackageLimits) string {
	const cutOff = "the file is no zip, or it is cut off: expected a whole package as brinefield dossier writes it"
	if size < zipEndLength {
		return cutOff
	}
	tail := make([]byte, min(size, zipEndLength+1<<16))
	if _, err := r.ReadAt(tail, size-int64(len(tail))); err != nil && !errors.Is(err, io.EOF) {
		return "the file cannot be read: " + err.Error()
	}
	at := -1
	for i := len(tail) - zipEndLength; i >= 0; i-- {
		if bytes.HasPrefix(tail[i:], []byte("PK\x05\x06")) && i+zipEndLength+int(binary.LittleEndian.Uint16(tail[i+20:])) == len(tail) {
			at = i
			break
		}
	}
	if at < 0 {
		return cutOff
	}
	end := tail[at:]
	count, length, offset := binary.LittleEndian.Uint16(end[10:]), binary.LittleEndian.Uint32(end[12:]), binary.LittleEndian.Uint32(end[16:])
	switch {
	case count == 0xffff || length == 0xffffffff || offset == 0xffffffff:
		return "the zip is one of more than 65 534 files or 4 GB, and no package is so large"
	case int(count) > limits.Files:
		return fmt.Sprintf("the zip holds %d files; a package has at most %d", count, limits.Files)
	case int64(length) > int64(limits.Files)*(zipEntryLeast+longestExtra):
		return "the directory of the zip is far too large for a package"
	case int64(offset)+int64(length) != size-int64(len(tail))+int64(at):
		return "the directory of the zip does not lie where the zip says: something stands before it, or was cut out"
	}
	return ""
}

// checkZipPlaces finds files that lie over one another, by which a small zip can
// claim to hold very much.
func checkZipPlaces(e *PackageError, entries []*zip.File, size int64) {
	type place struct {
		from, to int64
		name     string
	}
	var places []place
	for _, f := range entries {
		from, err := f.DataOffset()
		if err != nil {
			e.add("%s: its place in the zip cannot be found", sayName(f.Name))
			continue
		}
		to := from + clampSize(f.CompressedSize64)
		if from < 0 || to < from || to > size {
			e.add("%s is cut off: it goes on behind the end of the zip", sayName(f.Name))
			continue
		}
		places = append(places, place{from, to, f.Name})
	}
	slices.SortFunc(places, func(a, b place) int {
		if a.from != b.from {
			return int(max(-1, min(1, a.from-b.from)))
		}
		return int(max(-1, min(1, a.to-b.to)))
	})
	var end place
	for _, p := range places {
		// An entry has at least its own header between the one before and its data,
		// empty ones too.
		if p.from < end.to+localHeaderLeast && end.name != "" {
			e.add("%s lies over %s in the zip", sayName(p.name), sayName(end.name))
		}
		if p.to >= end.to {
			end = p
		}
	}
}

const localHeaderLeast = 30

// packedError says of damaged files what people can use.
func packedError(err error) string {
	switch {
	case errors.Is(err, zip.ErrChecksum):
		return "its bytes are damaged: they are not those that its checksum in the zip was made of"
	case errors.Is(err, zip.ErrFormat):
		return "the zip is damaged there"
	case errors.Is(err, zip.ErrAlgorithm):
		return "it is packed in a way that is not known"
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return "it is cut off"
	}
	return err.Error()
}
