package files

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	longestName      = 80  // characters
	longestNameBytes = 200 // room for what is put round a name within the 255 bytes of most file systems
)

// Names that Windows keeps for devices, with any ending and in any case.
// Source: "Naming Files, Paths, and Namespaces", Microsoft's documentation of
// Windows (from memory).
var deviceName = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$) *(\.|$)`)

// pageAddress are the words that addresses of the app begin with beside the
// names of studies.
var pageAddress = regexp.MustCompile(`(?i)^(api|assets|deck|download|enter|media|upload)$`)

// CheckName says whether a study can have this name, on any system: the folder
// may be carried from one to another.
func CheckName(name string) error {
	switch {
	case strings.TrimSpace(name) == "":
		return fmt.Errorf("a study needs a name")
	case utf8.RuneCountInString(name) > longestName || len(name) > longestNameBytes:
		return fmt.Errorf("the name of a study has at most %d characters, fewer in some scripts: this one has %d", longestName, utf8.RuneCountInString(name))
	case strings.HasPrefix(name, "."):
		return fmt.Errorf("the name %q begins with a dot, which hides a folder on many systems: begin with a letter or a digit", name)
	case name != strings.TrimSpace(name):
		return fmt.Errorf("the name %q begins or ends with a blank: leave the blank out", name)
	case pageAddress.MatchString(name):
		return fmt.Errorf("the name %q is an address of the app itself: choose another, such as %q", name, "Study "+name)
	}
	return checkElement(name)
}

// checkElement says whether one element of a path is a name on any system.
func checkElement(name string) error {
	switch {
	case name == "" || name == "." || name == "..":
		return fmt.Errorf("%q is no name of a file or folder", name)
	case !utf8.ValidString(name):
		return fmt.Errorf("the name %q is not written in UTF-8", name)
	case strings.HasSuffix(name, ".") || strings.HasSuffix(name, " "):
		return fmt.Errorf("the name %q ends with a dot or a blank, which Windows drops: leave it out", name)
	case deviceName.MatchString(name):
		return fmt.Errorf("the name %q belongs to a device on Windows: choose another, such as %q", name, "Study "+name)
	}
	for _, r := range name {
		switch {
		case strings.ContainsRune(`/\:*?"<>|`, r):
			return fmt.Errorf(`the name %q holds %q: a name that works on every system is without / \ : * ? " < > |`, name, r)
		case unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp):
			return fmt.Errorf("the name %q holds the invisible character U+%04X: type the name again", name, r)
		}
	}
	return nil
}
