package pictures

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// The container of WebP (RFC 9649, section 2).
const (
	riffHead  = 12 // "RIFF", size, "WEBP"
	chunkHead = 8  // name and size

	vp8xSize   = 10
	flagMoving = 0x02
	flagExif   = 0x08
	flagAlpha  = 0x10
	flagICC    = 0x20
	animFrame  = 16 // what stands in a frame of an animation before its own chunks
)

type webpChunk struct {
	kind string
	body []byte
}

// eachWebPChunk visits the chunks in a part of the container.
func eachWebPChunk(data []byte, visit func(webpChunk) error) error {
	for at := 0; at < len(data); {
		if len(data)-at < chunkHead {
			return errCut
		}
		size := uint64(binary.LittleEndian.Uint32(data[at+4:]))
		padded := size + size&1
		if padded > uint64(len(data)-at-chunkHead) {
			return errCut
		}
		end := at + chunkHead + int(size)
		err := visit(webpChunk{kind: string(data[at : at+4]), body: data[at+chunkHead : end]})
		if err != nil {
			return err
		}
		at += chunkHead + int(padded)
	}
	return nil
}

// webpNotes is what the first look at a file finds.
type webpNotes struct {
	extended, image bool
	profile         bool
	exif            bool
	turned          uint16
}

func (n *webpNotes) look(first bool) func(webpChunk) error {
	return func(c webpChunk) error {
		switch c.kind {
		case "VP8X":
			if !first || len(c.body) < vp8xSize {
				return errors.New("its header is not where it belongs")
			}
			n.extended = true
		case "VP8 ", "VP8L", "ANMF":
			if c.kind == "ANMF" && len(c.body) < animFrame {
				return errCut
			}
			n.image = true
		case "ICCP":
			n.profile = n.profile || isProfile(c.body, len(c.body))
		case "EXIF":
			if !n.exif {
				n.exif, n.turned = true, orientation(bytes.TrimPrefix(c.body, []byte(exifMark)))
			}
		}
		first = false
		return nil
	}
}

func cleanWebP(data []byte) ([]byte, error) {
	if len(data) < riffHead {
		return nil, errCut
	}
	size := uint64(binary.LittleEndian.Uint32(data[4:]))
	if size < 4 || size > uint64(len(data)-8) {
		return nil, errCut
	}
	inside := data[riffHead : 8+size] // what stands behind is nothing of the picture
	var notes webpNotes
	if err := eachWebPChunk(inside, notes.look(true)); err != nil {
		return nil, err
	}
	if !notes.image {
		return nil, errors.New("it holds no image")
	}
	out := make([]byte, 0, len(data)+64)
	out = append(out, "RIFF\x00\x00\x00\x00WEBP"...)
	profile, still := false, false
	err := eachWebPChunk(inside, func(c webpChunk) error {
		switch c.kind {
		case "VP8X":
			out = appendWebPChunk(out, c.kind, notes.header(c.body))
		case "VP8 ", "VP8L":
			if !still {
				still, out = true, appendWebPChunk(out, c.kind, c.body)
			}
		case "ALPH", "ANIM":
			if notes.extended {
				out = appendWebPChunk(out, c.kind, c.body)
			}
		case "ICCP":
			if notes.extended && !profile && isProfile(c.body, len(c.body)) {
				profile, out = true, appendWebPChunk(out, c.kind, c.body)
			}
		case "ANMF":
			frame, err := cleanFrame(c.body)
			if err != nil {
				return err
			}
			out = appendWebPChunk(out, c.kind, frame)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if notes.extended && notes.turned != 0 {
		out = appendWebPChunk(out, "EXIF", exifOf(notes.turned))
	}
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out, nil
}

// header is the extended header with flags that say what is in the file now.
func (n *webpNotes) header(was []byte) []byte {
	body := bytes.Clone(was[:vp8xSize])
	body[0] &= flagAlpha | flagMoving // the rest is told anew, or has no meaning yet
	body[1], body[2], body[3] = 0, 0, 0
	if n.profile {
		body[0] |= flagICC
	}
	if n.turned != 0 {
		body[0] |= flagExif
	}
	return body
}

// cleanFrame keeps the image data of one frame of an animation.
func cleanFrame(body []byte) ([]byte, error) {
	out := bytes.Clone(body[:animFrame])
	err := eachWebPChunk(body[animFrame:], func(c webpChunk) error {
		switch c.kind {
		case "VP8 ", "VP8L", "ALPH":
			out = appendWebPChunk(out, c.kind, c.body)
		case "EXIF", "XMP ", "ICCP", "VP8X", "ANIM", "ANMF":
			return fmt.Errorf("a frame of it holds a part that belongs elsewhere (%q)", c.kind)
		}
		return nil
	})
	return out, err
}

func appendWebPChunk(out []byte, kind string, body []byte) []byte {
	out = append(out, kind...)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(body)))
	out = append(out, body...)
	if len(body)%2 == 1 {
		out = append(out, 0)
	}
	return out
}
