package access

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// plain is a code as it was made: capitals, without what people put between.
func plain(typed string) string {
	if len(typed) > 4*codeLength {
		return ""
	}
	return strings.ToUpper(strings.Map(func(r rune) rune {
		if r == '-' || unicode.IsSpace(r) {
			return -1
		}
		return r
	}, typed))
}

func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// cleanName is a device's name as it is shown: one line, without signs that
// cannot be seen.
func cleanName(name string) (string, error) {
	name = strings.TrimSpace(name)
	odd := func(r rune) bool { return !unicode.IsPrint(r) }
	if name == "" || !utf8.ValidString(name) || utf8.RuneCountInString(name) > longestName || strings.ContainsFunc(name, odd) {
		return "", fmt.Errorf("%w: the device's name %q; expected a name on one line of at most %d letters, such as \"tablet of the stern\"", ErrBad, short(name), longestName)
	}
	return name, nil
}

func short(s string) string {
	if len(s) > longestName {
		return strings.ToValidUTF8(s[:longestName], "") + "…"
	}
	return s
}

// A name under which entries are written: what the laptop gave, and a number
// behind it where the tablet had to begin again after damage. Only the first
// part is given and kept.
const (
	writesPrefix = "deck-"
	writesDigits = 4
)

var writesName = regexp.MustCompile(`^(deck-[0-9a-f]{4,16})(-[0-9]{1,4})?$`)

// cleanWrites are the names from before, each once, without the numbers behind.
func cleanWrites(was []string) ([]string, error) {
	if len(was) > MostNames {
		return nil, fmt.Errorf("%w: %d names from before; expected at most %d", ErrBad, len(was), MostNames)
	}
	var out []string
	for _, name := range was {
		parts := writesName.FindStringSubmatch(name)
		if parts == nil {
			return nil, fmt.Errorf("%w: the name from before %q; expected one such as deck-7c1e", ErrBad, short(name))
		}
		if !slices.Contains(out, parts[1]) {
			out = append(out, parts[1])
		}
	}
	return out, nil
}

// freeID draws an identity whose name for entries nobody has, nor ever had
// here. Where that fails again and again the names are used up.
func (k *Keeper) freeID() (string, error) {
	for range 1000 {
		b, err := k.chance(8)
		if err != nil {
			return "", err
		}
		id := hex.EncodeToString(b)
		taken := func(d Device) bool {
			return d.ID[:min(len(d.ID), writesDigits)] == id[:writesDigits] || slices.Contains(d.Writes, writesPrefix+id[:writesDigits])
		}
		if !slices.ContainsFunc(k.state.Devices, taken) {
			return id, nil
		}
	}
	return "", fmt.Errorf("%w: all names of devices are used up; move the list of devices away and pair every tablet again", ErrBad)
}

// takeOver gives names to a device that others may have had. One that is left
// without a name is the same tablet as it was before: its token ends.
func (k *Keeper) takeOver(now time.Time, d Device, writes []string) {
	for _, name := range writes {
		why := "goes on as " + name
		for i := range k.state.Devices {
			old := &k.state.Devices[i]
			if at := slices.Index(old.Writes, name); at >= 0 {
				old.Writes = slices.Delete(slices.Clone(old.Writes), at, at+1)
				why += fmt.Sprintf(", which was %s's", old.Name)
				if len(old.Writes) == 0 && old.Revoked == nil {
					old.Revoked = &now
					why += " and whose token is worth nothing from now on"
				}
			}
		}
		k.note(now, Event{What: TookOver, Device: d.ID, Name: d.Name, Why: why})
	}
}
