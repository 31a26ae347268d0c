package pictures

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// Markers of JPEG (ITU-T T.81, table B.1).
const (
	markTEM   = 0x01
	markSOF0  = 0xC0
	markDHT   = 0xC4
	markJPG   = 0xC8
	markDAC   = 0xCC
	markSOF15 = 0xCF
	markRST0  = 0xD0
	markRST7  = 0xD7
	markSOI   = 0xD8
	markEOI   = 0xD9
	markSOS   = 0xDA
	markEXP   = 0xDF
	markAPP0  = 0xE0
	markAPP1  = 0xE1
	markAPP2  = 0xE2
	markAPP14 = 0xEE
	markAPP15 = 0xEF
	markCOM   = 0xFE
)

const (
	exifMark  = "Exif\x00\x00"
	iccMark   = "ICC_PROFILE\x00"
	jfifMark  = "JFIF\x00"
	adobeMark = "Adobe"
	jfifSize  = 14 // T.871: without the small copy of the picture
	adobeSize = 12 // T.872: version, two flags, the transform of colours
)

var errCut = errors.New("it ends in the middle")

// jpegPart is a marker with its segment, or the entropy-coded data behind a scan.
type jpegPart struct {
	mark byte
	body []byte // of the segment, without its length
	raw  []byte // all of it, as it stands
}

// eachJPEGPart visits the parts of a JPEG file up to the end of the image. What
// stands behind the end is not visited: cameras put further pictures, films and
// positions there.
func eachJPEGPart(data []byte, visit func(jpegPart) error) error {
	at := 2 // behind SOI
	for {
		mark, start, err := nextMark(data, at)
		if err != nil {
			return err
		}
		at = start + 2
		part := jpegPart{mark: mark, raw: data[start:at]}
		switch {
		case mark == markEOI:
			return visit(part)
		case mark == markSOI:
			return errors.New("a second picture begins inside it")
		case mark == markTEM || mark >= markRST0 && mark <= markRST7:
		default:
			if at+2 > len(data) {
				return errCut
			}
			size := int(binary.BigEndian.Uint16(data[at:]))
			if size < 2 || at+size > len(data) {
				return errCut
			}
			part.body, part.raw = data[at+2:at+size], data[start:at+size]
			at += size
			if mark == markSOS {
				at = afterScan(data, at)
				part.raw = data[start:at]
			}
		}
		if err := visit(part); err != nil {
			return err
		}
	}
}

// nextMark finds the marker at a place; bytes 0xFF before it only fill.
func nextMark(data []byte, at int) (mark byte, start int, err error) {
	if at >= len(data) {
		return 0, 0, errCut
	}
	if data[at] != 0xFF {
		return 0, 0, fmt.Errorf("at byte %d stands no part of a JPEG file", at)
	}
	for at+1 < len(data) && data[at+1] == 0xFF {
		at++
	}
	if at+1 >= len(data) {
		return 0, 0, errCut
	}
	return data[at+1], at, nil
}

// afterScan is where the entropy-coded data end: at the first marker that is
// neither a stuffed byte nor a restart.
func afterScan(data []byte, at int) int {
	for at < len(data) {
		next := bytes.IndexByte(data[at:], 0xFF)
		if next < 0 || at+next+1 >= len(data) {
			return len(data)
		}
		at += next
		if m := data[at+1]; m != 0 && m != 0xFF && (m < markRST0 || m > markRST7) {
			return at
		}
		at++
		if data[at] != 0xFF { // else it may begin a marker itself
			at++
		}
	}
	return len(data)
}

// jpegNotes is what is kept of the parts that are left out.
type jpegNotes struct {
	exif    bool // was seen
	turned  uint16
	profile iccParts
}

// iccParts follows the pieces of a colour profile (ICC.1, annex B: each says its
// number and how many there are).
type iccParts struct {
	next, of   int
	size, have int
	wrong      bool
}

func (p *iccParts) add(body []byte) {
	const head = len(iccMark) + 2
	if len(body) < head {
		p.wrong = true
		return
	}
	number, of, piece := int(body[head-2]), int(body[head-1]), body[head:]
	if p.next == 0 {
		p.next, p.of = 1, of
		if len(piece) >= 4 {
			p.size = int(min(uint64(binary.BigEndian.Uint32(piece)), 1<<30))
		}
		p.wrong = p.wrong || !isProfile(piece, p.size)
	}
	p.wrong = p.wrong || number != p.next || of != p.of
	p.next++
	p.have += len(piece)
}

// whole reports whether the pieces are one profile.
func (p *iccParts) whole() bool {
	return p.next > 0 && !p.wrong && p.next == p.of+1 && p.have == p.size
}

func (n *jpegNotes) look(p jpegPart) error {
	switch {
	case p.mark == markAPP1 && !n.exif && bytes.HasPrefix(p.body, []byte(exifMark)):
		n.exif, n.turned = true, orientation(p.body[len(exifMark):])
	case p.mark == markAPP2 && bytes.HasPrefix(p.body, []byte(iccMark)):
		n.profile.add(p.body)
	}
	return nil
}

// cleanJPEG keeps what T.81 needs to show the image, the colour profile and the
// two application segments that say how colours are meant.
func cleanJPEG(data []byte) ([]byte, error) {
	var notes jpegNotes
	if err := eachJPEGPart(data, notes.look); err != nil {
		return nil, err
	}
	out := make([]byte, 0, len(data)+64)
	out = append(out, 0xFF, markSOI)
	noted, frame, scan := false, false, false
	// Exif stands behind JFIF where there is one, and before everything else.
	note := func() {
		if !noted && notes.turned != 0 {
			out = appendJPEGSegment(out, markAPP1, append([]byte(exifMark), exifOf(notes.turned)...))
		}
		noted = true
	}
	err := eachJPEGPart(data, func(p jpegPart) error {
		switch {
		case p.mark == markAPP0:
			if !noted && len(p.body) >= jfifSize && bytes.HasPrefix(p.body, []byte(jfifMark)) {
				body := bytes.Clone(p.body[:jfifSize])
				body[jfifSize-2], body[jfifSize-1] = 0, 0 // the small copy
				out = appendJPEGSegment(out, markAPP0, body)
				note()
			}
			return nil
		case p.mark == markAPP14 && len(p.body) >= adobeSize && bytes.HasPrefix(p.body, []byte(adobeMark)):
			note()
			out = appendJPEGSegment(out, markAPP14, p.body[:adobeSize])
			return nil
		case p.mark == markAPP2 && notes.profile.whole() && bytes.HasPrefix(p.body, []byte(iccMark)):
		case p.mark >= markAPP0 && p.mark <= markAPP15, p.mark == markCOM:
			return nil
		case p.mark == markTEM, p.mark == markJPG, p.mark < markSOF0, p.mark > markEXP:
			return fmt.Errorf("it has a part of an unknown kind (marker FF%02X)", p.mark)
		}
		note()
		frame = frame || p.mark <= markSOF15 && p.mark != markDHT && p.mark != markDAC
		if p.mark == markSOS {
			if !frame {
				return errors.New("its image data come before what says their size")
			}
			scan = true
		}
		out = append(out, p.raw...)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if !scan {
		return nil, errors.New("it holds no image")
	}
	return out, nil
}

func appendJPEGSegment(out []byte, mark byte, body []byte) []byte {
	out = append(out, 0xFF, mark)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2)) // short: what is written here is
	return append(out, body...)
}
