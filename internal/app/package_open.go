package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"brinefield/core/dossier"
)

// PackageLimits bound what is read of a package that could come from anywhere.
type PackageLimits struct {
	Files int     // how many
	File  int64   // bytes of one, unpacked
	Total int64   // bytes of all, unpacked
	Ratio float64 // most bytes unpacked for one packed, of files above a megabyte
}

// UsualLimits are those of the commands and pages. Tables of a season pack to a
// twentieth at most; what packs to a three-hundredth was made to fill a disc.
var UsualLimits = PackageLimits{Files: 20_000, File: 512 << 20, Total: 2 << 30, Ratio: 300}

// ErrNoPackage answers for what is no package, or one that cannot be read.
var ErrNoPackage = errors.New("this is no package that can be read")

// PackageError carries all that is wrong with a package that is refused; each is
// one line for the user.
type PackageError struct {
	Package  string
	Problems []string
}

// mostProblems is how many are listed.
const mostProblems = 100

func (e *PackageError) Error() string {
	lines := make([]string, 0, len(e.Problems))
	for i, p := range e.Problems {
		if i == mostProblems {
			lines = append(lines, fmt.Sprintf("%s: and %d more", e.Package, len(e.Problems)-i))
			break
		}
		lines = append(lines, e.Package+": "+p)
	}
	return strings.Join(lines, "\n")
}

// Is makes errors.Is(err, ErrNoPackage) true.
func (e *PackageError) Is(target error) bool { return target == ErrNoPackage }

func (e *PackageError) add(format string, args ...any) {
	e.Problems = append(e.Problems, fmt.Sprintf(format, args...))
}

func (e *PackageError) orNil() error {
	if len(e.Problems) == 0 {
		return nil
	}
	return e
}

// PackageFile is one file of a package, not yet read.
type PackageFile struct {
	Name  string // below the package's root, with "/"
	Bytes int64  // as it is declared
	// Packed is what it takes in the zip; 0 where it is not packed.
	Packed int64
	// Open begins to read it. What it gives may be longer than Bytes, and may end
	// with an error: whoever reads counts.
	Open func() (io.ReadCloser, error)
}

// Package is a dossier's package open for reading. Its layout was found to be
// safe; what its files hold was not looked at, but for dossier.json.
type Package struct {
	Name    string // of its file or folder
	Heading dossier.Heading

	limits PackageLimits
	names  []string // in byte order
	files  map[string]PackageFile
	hashes map[string]string // SHA-256 in hex; filled by Scan
}

// NewPackage takes files that are already known to lie where they say. It refuses
// names that could lead elsewhere or clash, too much of anything, a package
// without its root files, and one of a newer format.
func NewPackage(name string, files []PackageFile, limits PackageLimits) (*Package, error) {
	e := &PackageError{Package: name}
	p := &Package{Name: name, limits: limits, files: map[string]PackageFile{}}
	files = withoutFolder(files)
	checkPackageNames(e, files)
	checkPackageSizes(e, files, limits)
	if len(e.Problems) > 0 {
		return nil, e
	}
	for _, f := range files {
		p.files[f.Name] = f
		p.names = append(p.names, f.Name)
	}
	slices.Sort(p.names)
	for _, needed := range []string{dossier.DossierFile, dossier.ChecksumsFile, dossier.SeasonFolder + "study.toml"} {
		if !p.Has(needed) {
			e.add("%s is missing: a package holds %s, %s and the season folder season/", needed, dossier.DossierFile, dossier.ChecksumsFile)
		}
	}
	if p.Has(dossier.DossierFile) {
		p.readHeading(e)
	}
	if err := e.orNil(); err != nil {
		return nil, err
	}
	return p, nil
}

// withoutFolder takes off the one folder in which all files lie where somebody
// packed the folder instead of what is in it. That folder may have any safe name:
// it is not made.
func withoutFolder(files []PackageFile) []PackageFile {
	if len(files) == 0 {
		return files
	}
	first, _, found := strings.Cut(files[0].Name, "/")
	prefix := first + "/"
	if !found || badPackageName(strings.ReplaceAll(first, " ", "-")) != "" ||
		!slices.ContainsFunc(files, func(f PackageFile) bool { return f.Name == prefix+dossier.DossierFile }) {
		return files
	}
	out := slices.Clone(files)
	for i := range out {
		inside, below := strings.CutPrefix(out[i].Name, prefix)
		if !below {
			return files
		}
		out[i].Name = inside
	}
	return out
}

// largestHeading is far more than dossier.json ever holds.
const largestHeading = 4 << 20

func (p *Package) readHeading(e *PackageError) {
	if p.files[dossier.DossierFile].Bytes > largestHeading {
		e.add("%s is larger than %d MB: it cannot be the description of a package", dossier.DossierFile, largestHeading>>20)
		return
	}
	data, err := p.Read(dossier.DossierFile)
	if err != nil {
		e.add("%v", err)
		return
	}
	var version struct {
		Format  *int
		Program dossier.Build
	}
	if err := json.Unmarshal(data, &version); err != nil || version.Format == nil || *version.Format < 1 {
		e.add("%s does not say its format: expected JSON with \"format\": %d", dossier.DossierFile, Format)
		return
	}
	if *version.Format > Format {
		e.add("made by a newer program (%s): its format is %d, and this program reads format %d; use the newer one", sayVersion(version.Program), *version.Format, Format)
		return
	}
	if err := json.Unmarshal(data, &p.Heading); err != nil {
		e.add("%s cannot be read: %s", dossier.DossierFile, plainJSONError(data, err))
		return
	}
	if _, err := time.Parse(time.RFC3339, p.Heading.Made); err != nil {
		e.add("%s: made is %.60q; expected a time such as 2026-11-29T12:00:00Z", dossier.DossierFile, p.Heading.Made)
	}
}

// plainJSONError says where a text is no JSON, or not of the right type.
func plainJSONError(data []byte, err error) string {
	fault := noSchedule("", data, err)
	what := strings.TrimPrefix(strings.TrimPrefix(fault.Wrong, "this is no schedule"), ": ")
	if what == "" {
		what = err.Error()
	}
	if fault.Column != "" {
		return fmt.Sprintf("line %d, %s: %s", fault.Row, fault.Column, what)
	}
	return fmt.Sprintf("line %d: %s", fault.Row, what)
}

func sayVersion(b dossier.Build) string {
	v := "brinefield " + b.Version
	if b.Commit != "" && b.Commit != "unknown" {
		v += " (" + b.Commit + ")"
	}
	return v + " on " + b.OSArch
}

// Names are those of all files, in byte order.
func (p *Package) Names() []string { return slices.Clone(p.names) }

// Has reports whether the package holds a file.
func (p *Package) Has(name string) bool { _, ok := p.files[name]; return ok }

// In names the files below a folder, which ends with "/", in byte order.
func (p *Package) In(folder string) []string {
	var out []string
	for _, name := range p.names {
		if strings.HasPrefix(name, folder) {
			out = append(out, name)
		}
	}
	return out
}

// Open begins to read one file; the reader ends with an error where the file is
// not as long as it says, or damaged.
func (p *Package) Open(name string) (io.ReadCloser, error) {
	f, ok := p.files[name]
	if !ok {
		return nil, fmt.Errorf("%s is missing", name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %s", name, packedError(err))
	}
	return &exactReader{name: name, from: r, left: f.Bytes}, nil
}

// Read reads one file whole.
func (p *Package) Read(name string) ([]byte, error) {
	r, err := p.Open(name)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(r)
	return data, errors.Join(err, r.Close())
}

// exactReader gives as many bytes as were declared, or an error.
type exactReader struct {
	name string
	from io.ReadCloser
	left int64
}

func (r *exactReader) Read(b []byte) (int, error) {
	if int64(len(b)) > r.left+1 {
		b = b[:r.left+1] // one more, to see the end, and the checksum that is compared there
	}
	n, err := r.from.Read(b)
	if r.left -= int64(n); r.left < 0 {
		return 0, fmt.Errorf("%s is longer than the package says", r.name)
	}
	switch {
	case errors.Is(err, io.EOF) && r.left > 0:
		return n, fmt.Errorf("%s is shorter than the package says", r.name)
	case err != nil && !errors.Is(err, io.EOF):
		return n, fmt.Errorf("%s cannot be read: %s", r.name, packedError(err))
	}
	return n, err
}

func (r *exactReader) Close() error { return r.from.Close() }

// Scan reads every file once: it finds what is damaged, and the SHA-256 of each.
// progress may be nil.
func (p *Package) Scan(ctx context.Context, progress func(stage string, done, total int)) error {
	e := &PackageError{Package: p.Name}
	p.hashes = make(map[string]string, len(p.names))
	buffer := make([]byte, 256<<10)
	for i, name := range p.names {
		if err := ctx.Err(); err != nil {
			return err
		}
		if progress != nil && i%64 == 0 {
			progress("Reading", i, len(p.names))
		}
		h := sha256.New()
		r, err := p.Open(name)
		if err == nil {
			_, err = io.CopyBuffer(struct{ io.Writer }{h}, r, buffer)
			err = errors.Join(err, r.Close())
		}
		if err != nil {
			e.add("%v", err)
			continue
		}
		p.hashes[name] = hex.EncodeToString(h.Sum(nil))
	}
	if progress != nil {
		progress("Reading", len(p.names), len(p.names))
	}
	return e.orNil()
}
