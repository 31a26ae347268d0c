package ffmpeg

import (
	"context"
	"errors"
	"os"
	"regexp"
	"strings"
	"unicode"

	"brinefield/internal/app"
)

// wrong puts what a program said into words.
func (p *probe) wrong(err error, said string) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if _, gone := os.Stat(p.path); gone != nil {
		return cannotOpen(p.file, gone)
	}
	again := "copy it again from the camera's card"
	kind := strings.ToUpper(p.kind.name)
	bad := func(wrong, right string) error { return &app.MediaError{File: p.file, Wrong: wrong, Right: right} }
	refused := notListed.FindStringSubmatch(said)
	switch {
	case errors.Is(err, errTooMany):
		return bad("has more than 3 million frames", "cut it into clips of at most ten hours")
	case errors.Is(err, errTooLong):
		return bad("took too long to look into", "look whether the card or drive is slow, and copy the file to this computer's own disc")
	case errors.Is(err, errStalled):
		return bad("could not be looked into: the program that reads it stopped answering", "look whether the card or drive is sound; else the file is broken: "+again)
	case errors.Is(err, errTooMuch):
		return bad("made the program that reads it answer without end: it is broken", again)
	case strings.Contains(said, "moov atom not found"):
		return bad("has no index (moov): the camera was cut off before it finished the file, or the copy ends too early", again+"; some cameras mend such a file when the card is put back")
	case refused != nil:
		return bad("holds a stream coded as "+refused[1]+", which is not taken", "convert it, for instance to MP4 with H.264, keeping the frame times")
	case strings.Contains(said, "Cannot allocate memory"):
		return bad("would take more memory than it may", "it is broken, or larger than this program takes: "+again)
	}
	return bad("cannot be read as "+kind+because(said), again)
}

var notListed = regexp.MustCompile(`Codec \((\w+)\) not on whitelist`)

// because is what a program complained about last, in brackets; "" where it said
// nothing.
func because(said string) string {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	line := lines[len(lines)-1]
	if strings.HasSuffix(line, "Invalid data found when processing input") && len(lines) > 1 {
		line = lines[len(lines)-2]
	}
	line = addressed.ReplaceAllString(line, "")
	if strings.HasPrefix(line, "file:") { // the whole path of this machine
		if _, after, found := strings.Cut(line, ": "); found {
			line = after
		}
	}
	line = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, line)
	if len(line) > 200 {
		line = strings.ToValidUTF8(line[:200], "") + "…"
	}
	if line == "" {
		return ""
	}
	return " (ffmpeg: " + line + ")"
}

var addressed = regexp.MustCompile(`^\[[^\]]* @ 0x[0-9a-f]+\] `)
