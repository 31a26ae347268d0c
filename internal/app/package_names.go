package app

import (
	"fmt"
	"path"
	"regexp"
	"strings"
)

// longestPackageName is the most characters of a name with its folders: short
// enough to be unpacked below a user's folder on any system.
const longestPackageName = 200

// Names that Windows keeps for devices, with any ending and in any case ("Naming
// Files, Paths, and Namespaces", Microsoft's documentation of Windows; from memory).
var deviceFile = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)`)

// badPackageName says why a name cannot be one of a file in a package; "" where
// it can. Names of packages are ASCII without blanks, so that they are the same
// file in every program and on every system.
func badPackageName(name string) string {
	switch {
	case name == "":
		return "a file without a name"
	case len(name) > longestPackageName:
		return fmt.Sprintf("the name has %d characters; expected at most %d", len(name), longestPackageName)
	case strings.ContainsRune(name, '\\'):
		return `the name holds \; expected / between folders`
	case strings.HasPrefix(name, "/"), len(name) > 1 && name[1] == ':':
		return "the name leads to a place of its own on the disc; expected one inside the package"
	}
	for _, part := range strings.Split(name, "/") {
		switch {
		case part == "..":
			return "the name leads out of the package"
		case part == "", part == ".":
			return "the name has a part that is empty or a dot"
		case strings.HasSuffix(part, "."):
			return "the name has a part that ends with a dot, which Windows drops"
		case deviceFile.MatchString(part):
			return "the name belongs to a device on Windows"
		}
	}
	for _, r := range name {
		switch {
		case r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0:
			return fmt.Sprintf("the name holds the control character U+%04X", r)
		case r == ' ' || r > 0x7e || strings.ContainsRune(`:*?"<>|`, r):
			return fmt.Sprintf("the name holds %q; names in a package are letters, digits and - _ . + without blanks", r)
		}
	}
	return ""
}

// sayName is a name as it can be printed whatever it holds.
func sayName(name string) string {
	const most = 100
	if len(name) > most {
		name = name[:most] + "…"
	}
	if badPackageName(strings.TrimSuffix(name, "/")) != "" {
		return fmt.Sprintf("%q", name)
	}
	return name
}

// checkPackageNames finds names that lead elsewhere, and two that are one on some
// system.
func checkPackageNames(e *PackageError, files []PackageFile) {
	seen := make(map[string]string, len(files)) // folded name → name of the file
	for _, f := range files {
		if wrong := badPackageName(f.Name); wrong != "" {
			e.add("%s: %s", sayName(f.Name), wrong)
			continue
		}
		folded := strings.ToLower(f.Name)
		if other, twice := seen[folded]; twice {
			if other == f.Name {
				e.add("%s is there twice", f.Name)
			} else {
				e.add("%s and %s are one name where capitals do not count", other, f.Name)
			}
			continue
		}
		seen[folded] = f.Name
	}
	for _, f := range files {
		for dir := path.Dir(strings.ToLower(f.Name)); dir != "." && dir != "/"; dir = path.Dir(dir) {
			if other, clash := seen[dir]; clash {
				e.add("%s is a file, and %s lies in a folder of that name", other, sayName(f.Name))
				break
			}
		}
	}
}

// checkPackageSizes finds too many files, and sizes that no package has.
func checkPackageSizes(e *PackageError, files []PackageFile, limits PackageLimits) {
	if len(files) > limits.Files {
		e.add("%d files; a package has at most %d", len(files), limits.Files)
	}
	total := int64(0)
	for _, f := range files {
		if f.Bytes < 0 || f.Bytes > limits.File {
			e.add("%s unpacks to more than %s, the most that one file of a package may hold", sayName(f.Name), sayBytes(limits.File))
		}
		total = min(total+min(max(f.Bytes, 0), 1<<62), 1<<62)
		if f.Packed > 0 && f.Bytes > 1<<20 && float64(f.Bytes) > limits.Ratio*float64(f.Packed) {
			e.add("%s unpacks to %.0f times its size; a package has no such file", sayName(f.Name), float64(f.Bytes)/float64(f.Packed))
		}
	}
	if total > limits.Total {
		e.add("all files together unpack to more than %s, the most that a package may hold", sayBytes(limits.Total))
	}
}

// sayBytes is a size in words.
func sayBytes(n int64) string {
	switch {
	case n >= 1<<30:
		return fmt.Sprintf("%.3g GB", float64(n)/(1<<30))
	case n >= 1<<20:
		return fmt.Sprintf("%.3g MB", float64(n)/(1<<20))
	}
	return fmt.Sprintf("%d bytes", n)
}
