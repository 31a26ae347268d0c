package app_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// smallLimits make hostile sizes cheap.
var smallLimits = app.PackageLimits{Files: 40, File: 4 << 20, Total: 6 << 20, Ratio: 300}

// leastPackage are the files without which nothing is a package.
func leastPackage() map[string]string {
	return map[string]string{
		"dossier.json":      `{"format": 1, "name": "bay", "program": {"version": "1", "commit": "c", "os_arch": "linux/amd64"}, "made": "2026-11-29T12:00:00Z"}`,
		"checksums.sha256":  strings.Repeat("0", 64) + "  dossier.json\n",
		"season/study.toml": "format = 1\n",
	}
}

type zipEntry struct {
	name string
	body string
	edit func(*zip.FileHeader)
}

func zipOf(t testing.TB, entries ...zipEntry) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range entries {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		if e.edit != nil {
			e.edit(h)
		}
		w, err := z.CreateHeader(h)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, e.body); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func leastEntries(more ...zipEntry) []zipEntry {
	var out []zipEntry
	for _, name := range []string{"dossier.json", "checksums.sha256", "season/study.toml"} {
		out = append(out, zipEntry{name: name, body: leastPackage()[name]})
	}
	return append(out, more...)
}

// openedPackage reads all of a package, as every command does before it believes any of it.
func openedPackage(t testing.TB, data []byte) (*app.Package, error) {
	p, err := app.OpenPackage("p.zip", bytes.NewReader(data), int64(len(data)), smallLimits)
	if err == nil {
		err = p.Scan(t.Context(), nil)
	}
	return p, err
}

func bytesChanged(data []byte, edit func([]byte) []byte) []byte { return edit(bytes.Clone(data)) }

// rawZip writes entries by hand, so that what they say of themselves can be a lie.
// Layout: APPNOTE.TXT 6.3.10 (PKWARE), sections 4.3.7, 4.3.12, 4.3.16.
func rawZip(entries []rawEntry) []byte {
	var b, directory bytes.Buffer
	for _, e := range entries {
		offset := b.Len()
		if e.over { // its data are those of the first entry
			offset = 0
		} else {
			b.WriteString("PK\x03\x04")
			for _, v := range []any{uint16(20), e.flags, uint16(0), uint16(0), uint16(0), crc32.ChecksumIEEE([]byte(e.body)), uint32(len(e.body)), e.size, uint16(len(e.name)), uint16(0)} {
				_ = binary.Write(&b, binary.LittleEndian, v)
			}
			b.WriteString(e.name)
			b.WriteString(e.body)
		}
		directory.WriteString("PK\x01\x02")
		for _, v := range []any{uint16(20), uint16(20), e.flags, uint16(0), uint16(0), uint16(0), crc32.ChecksumIEEE([]byte(e.body)), uint32(len(e.body)), e.size, uint16(len(e.name)), uint16(0), uint16(0), uint16(0), uint16(0), uint32(0), uint32(offset)} {
			_ = binary.Write(&directory, binary.LittleEndian, v)
		}
		directory.WriteString(e.name)
	}
	at := b.Len()
	b.Write(directory.Bytes())
	b.WriteString("PK\x05\x06")
	for _, v := range []any{uint16(0), uint16(0), uint16(len(entries)), uint16(len(entries)), uint32(directory.Len()), uint32(at), uint16(0)} {
		_ = binary.Write(&b, binary.LittleEndian, v)
	}
	return b.Bytes()
}

type rawEntry struct {
	name, body string
	size       uint32
	flags      uint16
	over       bool
}

func rawLeast(more ...rawEntry) []byte {
	var out []rawEntry
	for _, e := range leastEntries() {
		out = append(out, rawEntry{name: e.name, body: e.body, size: uint32(len(e.body))})
	}
	return rawZip(append(out, more...))
}

// hostilePackages are packages that are refused, and a part of what is said of each.
func hostilePackages(t testing.TB) map[string]struct {
	data []byte
	want string
} {
	fine := zipOf(t, leastEntries()...)
	link := func(h *zip.FileHeader) { h.SetMode(fs.ModeSymlink | 0o777) }
	many := leastEntries()
	for i := range 60 {
		many = append(many, zipEntry{name: fmt.Sprintf("photos/%d.jpg", i)})
	}
	return map[string]struct {
		data []byte
		want string
	}{
		"nothing":          {nil, "no zip, or it is cut off"},
		"a text":           {[]byte("This is a letter, and no package at all."), "no zip, or it is cut off"},
		"cut off":          {fine[:len(fine)-9], "no zip, or it is cut off"},
		"begun elsewhere":  {append([]byte("#!/bin/sh\n"), fine...), "something stands before it"},
		"damaged":          {bytesChanged(rawLeast(), func(b []byte) []byte { b[bytes.Index(b, []byte("2026-11"))] = '9'; return b }), "dossier.json cannot be read: its bytes are damaged"},
		"out of it":        {zipOf(t, leastEntries(zipEntry{name: "../../etc/passwd"})...), "leads out of the package"},
		"out, hidden":      {zipOf(t, leastEntries(zipEntry{name: "photos/../../x"})...), "leads out of the package"},
		"absolute":         {zipOf(t, leastEntries(zipEntry{name: "/etc/passwd"})...), "a place of its own on the disc"},
		"drive":            {zipOf(t, leastEntries(zipEntry{name: "C:/x"})...), "a place of its own on the disc"},
		"backslash":        {zipOf(t, leastEntries(zipEntry{name: `photos\x.jpg`})...), `expected / between folders`},
		"nul":              {zipOf(t, leastEntries(zipEntry{name: "photos/a\x00.jpg"})...), "control character U+0000"},
		"line break":       {zipOf(t, leastEntries(zipEntry{name: "photos/a\n.jpg"})...), "control character U+000A"},
		"blank":            {zipOf(t, leastEntries(zipEntry{name: "photos/a b.jpg"})...), "without blanks"},
		"right to left":    {zipOf(t, leastEntries(zipEntry{name: "photos/a\u202egpj.exe"})...), "letters, digits"},
		"device":           {zipOf(t, leastEntries(zipEntry{name: "photos/aux.jpg"})...), "a device on Windows"},
		"dot":              {zipOf(t, leastEntries(zipEntry{name: "photos/./a.jpg"})...), "empty or a dot"},
		"long name":        {zipOf(t, leastEntries(zipEntry{name: "photos/" + strings.Repeat("a", 300)})...), "307 characters"},
		"folder leads out": {zipOf(t, leastEntries(zipEntry{name: "photos/../../x/"})...), "leads out of the package"},
		"twice":            {zipOf(t, leastEntries(zipEntry{name: "season/study.toml", body: "other"})...), "season/study.toml is there twice"},
		"twice by case":    {zipOf(t, leastEntries(zipEntry{name: "Season/study.TOML"})...), "one name where capitals do not count"},
		"file and folder":  {zipOf(t, leastEntries(zipEntry{name: "photos/a"}, zipEntry{name: "photos/a/b.jpg"})...), "photos/a is a file, and photos/a/b.jpg lies in a folder of that name"},
		"link":             {zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: "/etc/passwd", edit: link})...), "no file"},
		"encrypted":        {rawLeast(rawEntry{name: "photos/a.jpg", body: "x", size: 1, flags: 1}), "is encrypted"},
		"unknown method": {bytesChanged(rawLeast(), func(b []byte) []byte {
			b[8], b[bytes.Index(b, []byte("PK\x01\x02"))+10] = 12, 12
			return b
		}), "packed by method 12"},
		"too many":      {zipOf(t, many...), "at most 40"},
		"too large":     {zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: strings.Repeat("ab", 3<<20)})...), "photos/a.jpg unpacks to more than 4 MB"},
		"bomb":          {zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: strings.Repeat("\x00", 3<<20)})...), "times its size"},
		"all too large": {zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: unpackable(3 << 20)}, zipEntry{name: "photos/b.jpg", body: unpackable(3<<20 + 1)}, zipEntry{name: "photos/c.jpg", body: unpackable(3<<20 + 2)})...), "all files together"},
		"lies over":     {rawLeast(rawEntry{name: "photos/a.jpg", body: leastPackage()["dossier.json"], size: uint32(len(leastPackage()["dossier.json"])), over: true}), "lies over"},
		"longer than it says": {bytesChanged(zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: strings.Repeat("abcdefghij", 1000)})...), func(b []byte) []byte {
			binary.LittleEndian.PutUint32(b[bytes.LastIndex(b, []byte("PK\x01\x02"))+24:], 5000)
			return b
		}), "photos/a.jpg"},
		"shorter than it says": {bytesChanged(zipOf(t, leastEntries(zipEntry{name: "photos/a.jpg", body: strings.Repeat("abcdefghij", 1000)})...), func(b []byte) []byte {
			binary.LittleEndian.PutUint32(b[bytes.LastIndex(b, []byte("PK\x01\x02"))+24:], 50000)
			return b
		}), "photos/a.jpg"},
		"no season":        {zipOf(t, leastEntries()[:2]...), "season/study.toml is missing"},
		"no dossier.json":  {zipOf(t, leastEntries()[1:]...), "dossier.json is missing"},
		"newer":            {zipOf(t, append(leastEntries()[1:], zipEntry{name: "dossier.json", body: `{"format": 7, "program": {"version": "9.1", "commit": "f", "os_arch": "x/y"}}`})...), "made by a newer program (brinefield 9.1 (f) on x/y): its format is 7"},
		"no format":        {zipOf(t, append(leastEntries()[1:], zipEntry{name: "dossier.json", body: `{"name": "bay"}`})...), "does not say its format"},
		"no JSON":          {zipOf(t, append(leastEntries()[1:], zipEntry{name: "dossier.json", body: `PK`})...), "does not say its format"},
		"wrong types":      {zipOf(t, append(leastEntries()[1:], zipEntry{name: "dossier.json", body: `{"format": 1, "seed": "one"}`})...), "dossier.json cannot be read: line 1, seed"},
		"no time":          {zipOf(t, append(leastEntries()[1:], zipEntry{name: "dossier.json", body: `{"format": 1, "made": "yesterday"}`})...), `made is "yesterday"`},
		"a directory only": {zipOf(t, zipEntry{name: "season/"}), "dossier.json is missing"},
	}
}

// unpackable does not pack: bytes of a linear congruence (Numerical Recipes' constants).
func unpackable(n int) string {
	b, x := make([]byte, n), uint32(n)
	for i := range b {
		x = x*1664525 + 1013904223
		b[i] = byte(x >> 24)
	}
	return string(b)
}

func TestHostilePackagesAreRefused(t *testing.T) {
	for name, c := range hostilePackages(t) {
		t.Run(name, func(t *testing.T) {
			_, err := openedPackage(t, c.data)
			var refused *app.PackageError
			if !errors.As(err, &refused) || !errors.Is(err, app.ErrNoPackage) {
				t.Fatalf("%v; want a *PackageError", err)
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q does not say %q", err, c.want)
			}
			for line := range strings.SplitSeq(err.Error(), "\n") {
				if !strings.HasPrefix(line, "p.zip: ") || strings.ContainsFunc(line, func(r rune) bool { return r < ' ' }) {
					t.Errorf("the line %q", line)
				}
			}
		})
	}
}

// All that is wrong is told at once.
func TestAllProblemsOfAPackageAreTold(t *testing.T) {
	_, err := openedPackage(t, zipOf(t, zipEntry{name: "/a"}, zipEntry{name: "b/../../c"}, zipEntry{name: "d"}, zipEntry{name: "D"}))
	var refused *app.PackageError
	if !errors.As(err, &refused) || len(refused.Problems) != 3 {
		t.Fatalf("%v; want three problems", err)
	}
}

// What people do to a zip that changes nothing of it is no fault: folders have
// entries of their own, and the folder is packed instead of what is in it.
func TestPackagesAsOtherProgramsPackThem(t *testing.T) {
	within := []zipEntry{{name: "bay 2026-11-29/"}, {name: "bay 2026-11-29/season/"}}
	for _, e := range leastEntries() {
		within = append(within, zipEntry{name: "bay 2026-11-29/" + e.name, body: e.body, edit: func(h *zip.FileHeader) { h.Method = zip.Store; h.SetMode(0o640) }})
	}
	for name, data := range map[string][]byte{
		"as it is": zipOf(t, leastEntries()...), "with folders": zipOf(t, append(leastEntries(), zipEntry{name: "season/"})...), "the folder": zipOf(t, within...), "by hand": rawLeast(),
	} {
		p, err := openedPackage(t, data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := strings.Join(p.Names(), " "); got != "checksums.sha256 dossier.json season/study.toml" {
			t.Errorf("%s: the files are %s", name, got)
		}
		if p.Heading.Name != "bay" || p.Heading.Program.OSArch != "linux/amd64" {
			t.Errorf("%s: the heading is %+v", name, p.Heading)
		}
		body, err := p.Read("season/study.toml")
		if err != nil || string(body) != "format = 1\n" {
			t.Errorf("%s: study.toml is %q, %v", name, body, err)
		}
	}
}

// FuzzPackage never panics, gives either a package or an error of its own type, and
// never more bytes than the limits say.
func FuzzPackage(f *testing.F) {
	f.Add(zipOf(f, leastEntries()...))
	for _, c := range hostilePackages(f) {
		if len(c.data) < 1<<16 {
			f.Add(c.data)
		}
	}
	limits := app.PackageLimits{Files: 20, File: 1 << 20, Total: 2 << 20, Ratio: 300}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := app.OpenPackage("p.zip", bytes.NewReader(data), int64(len(data)), limits)
		if err == nil {
			total := int64(0)
			for _, name := range p.Names() {
				if strings.Contains(name, "..") || strings.HasPrefix(name, "/") || strings.ContainsAny(name, "\\\x00") {
					t.Fatalf("the name %q", name)
				}
				body, err := p.Read(name)
				total += int64(len(body))
				if err != nil && len(err.Error()) > 1000 {
					t.Fatalf("an endless error: %.100s", err)
				}
			}
			if total > limits.Total || len(p.Names()) > limits.Files {
				t.Fatalf("%d bytes in %d files", total, len(p.Names()))
			}
			err = p.Scan(t.Context(), nil)
			if err == nil {
				_, err = app.CheckPackage(t.Context(), p, app.Program{}, nil)
			}
		}
		if err != nil && !errors.Is(err, app.ErrNoPackage) {
			t.Fatalf("%v is no *PackageError", err)
		}
	})
}
