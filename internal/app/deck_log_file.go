package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"unicode/utf8"

	"brinefield/core/journal"
)

// A log that a tablet saved as a file: docs/formats/deck-log.md.
const (
	deckLogFormat  = "brinefield deck log"
	deckLogVersion = 1
)

// ErrNoDeckLog answers for a file that is no saved log.
var ErrNoDeckLog = errors.New(`this file is no saved log of a tablet: its first line does not say "` + deckLogFormat + `"`)

// deckLogFile is all that is whole in a saved log.
type deckLogFile struct {
	study   string // identity of the study, which is the name of the log
	device  string // as which the tablet wrote when it saved the file
	entries []journal.Offered
	places  []int // the line of each entry
	blobs   []DeckBlob
	faults  []string
}

func (f *deckLogFile) fault(line int, format string, args ...any) {
	f.faults = append(f.faults, fmt.Sprintf("line %d: ", line)+fmt.Sprintf(format, args...))
}

// IsDeckLog reports whether a file begins as a saved log does.
func IsDeckLog(data []byte) bool {
	first, _, _ := bytes.Cut(data, []byte("\n"))
	var head struct {
		Deck struct {
			Format string `json:"format"`
		} `json:"deck"`
	}
	return json.Unmarshal(first, &head) == nil && head.Deck.Format == deckLogFormat
}

// readDeckLog reads a saved log. Whatever is whole is given, and each fault with its
// line.
//
// Errors: [ErrNoDeckLog]; one that names the version of a newer program.
func readDeckLog(data []byte) (*deckLogFile, error) {
	f := &deckLogFile{}
	lines := bytes.Split(data, []byte("\n"))
	if err := f.readHead(lines[0]); err != nil {
		return nil, err
	}
	ends := map[string]journal.Hash{} // of each device's chain, by what it must go on from
	hash := sha256.New()
	counted, end := 0, (*logEnd)(nil)
	for i, line := range lines[1:] {
		at := i + 2
		line = bytes.TrimSuffix(line, []byte("\r"))
		switch {
		case len(line) == 0:
		case end != nil:
			f.fault(at, "it stands after the end")
		case bytes.HasPrefix(line, []byte(`{"blob":`)):
			f.readBlob(at, line)
		case bytes.HasPrefix(line, []byte(`{"end":`)):
			end = &logEnd{}
			if err := json.Unmarshal(line, &struct {
				End *logEnd `json:"end"`
			}{end}); err != nil {
				f.fault(at, "the end cannot be read: it was cut off or changed")
			}
		default:
			counted++
			hash.Write(line)
			hash.Write([]byte("\n"))
			f.readEntry(at, line, ends)
		}
	}
	f.checkEnd(end, counted, hex.EncodeToString(hash.Sum(nil)))
	return f, nil
}

// logEnd is what the last line counts.
type logEnd struct {
	Entries int    `json:"entries"`
	Blobs   int    `json:"blobs"`
	Missing int    `json:"missing"`
	SHA256  string `json:"sha256"`
}

func (f *deckLogFile) readHead(line []byte) error {
	var head struct {
		Deck *struct {
			Format  string          `json:"format"`
			Version json.RawMessage `json:"version"`
			Name    string          `json:"name"`
			Device  string          `json:"device"`
		} `json:"deck"`
	}
	if err := json.Unmarshal(line, &head); err != nil || head.Deck == nil || head.Deck.Format != deckLogFormat {
		return ErrNoDeckLog
	}
	if string(head.Deck.Version) != fmt.Sprint(deckLogVersion) {
		return fmt.Errorf("this log has version %.20s, and this program reads version %d: update the program", head.Deck.Version, deckLogVersion)
	}
	f.study, f.device = head.Deck.Name, head.Deck.Device
	return nil
}

func (f *deckLogFile) readBlob(at int, line []byte) {
	var read struct {
		Blob struct {
			Kind string `json:"kind"`
			Ref  string `json:"ref"`
			Salt []byte `json:"salt"`
			Data []byte `json:"data"`
		} `json:"blob"`
	}
	if err := json.Unmarshal(line, &read); err != nil {
		f.fault(at, "it cannot be read: it was cut off or changed")
		return
	}
	b := DeckBlob{Ref: read.Blob.Ref, Kind: read.Blob.Kind, Salt: read.Blob.Salt, Data: read.Blob.Data}
	if !slices.Contains([]string{"person", "photo", "voice", blobGuarded}, b.Kind) {
		f.fault(at, "%.40q is no kind of what an entry refers to; expected person, photo, voice or guarded", b.Kind)
		return
	}
	if err := CheckBlob(b.Ref, b.Salt, b.Data); err != nil {
		f.fault(at, "%v", err)
		return
	}
	f.blobs = append(f.blobs, b)
}

// readEntry takes an entry that goes on from those of its device before it. The first
// one may stand anywhere in its chain: the study knows what is before it.
func (f *deckLogFile) readEntry(at int, line []byte, ends map[string]journal.Hash) {
	if !utf8.Valid(line) {
		f.fault(at, "it is not UTF-8: it was changed")
		return
	}
	o, err := journal.Offer(line)
	if err != nil {
		f.fault(at, "it is no entry: it was cut off or changed")
		return
	}
	if end, begun := ends[o.Device]; begun && end != o.Previous {
		if end != o.Hash { // else the same line once more
			f.fault(at, "entry %d of device %s does not go on from the one before it of that device, so that it is left out", o.Seq, o.Device)
		}
		return
	}
	ends[o.Device] = o.Hash
	f.entries, f.places = append(f.entries, o), append(f.places, at)
}

func (f *deckLogFile) checkEnd(end *logEnd, entries int, sha string) {
	switch {
	case end == nil:
		f.faults = append(f.faults, "the file has no last line: it was cut off, and what stood behind is not in it")
		return
	case end.Entries != entries:
		f.faults = append(f.faults, fmt.Sprintf("the last line counts %d entries, and %d are there", end.Entries, entries))
	}
	if end.SHA256 != sha {
		f.faults = append(f.faults, "the entries are not those of which the last line holds the hash")
	}
	if end.Blobs != len(f.blobs) {
		f.faults = append(f.faults, fmt.Sprintf("the last line counts %d names, pictures, voices and readings, and %d whole ones are there", end.Blobs, len(f.blobs)))
	}
	if end.Missing > 0 {
		f.faults = append(f.faults, fmt.Sprintf("%s could not be read by the tablet any more when it saved the file", counted(end.Missing, "name, picture, voice or reading", "names, pictures, voices or readings")))
	}
}

// without leaves out the entries of a device.
func (f *deckLogFile) without(device string) {
	var entries []journal.Offered
	var places []int
	for i := range f.entries {
		if f.entries[i].Device != device {
			entries, places = append(entries, f.entries[i]), append(places, f.places[i])
		}
	}
	f.entries, f.places = entries, places
}
