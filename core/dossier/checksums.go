package dossier

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
)

// checksumLines are lines that `sha256sum -c` reads, in the byte order of names.
func checksumLines(files []File) []byte {
	sorted := slices.SortedFunc(slices.Values(files), func(a, b File) int { return cmp.Compare(a.Name, b.Name) })
	var b bytes.Buffer
	for _, f := range sorted {
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(f.Bytes), f.Name)
	}
	return b.Bytes()
}
