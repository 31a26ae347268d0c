package pictures

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
)

const (
	pngSignature = "\x89PNG\r\n\x1a\n"
	pngFrame     = 12 // length, type and checksum of a chunk
)

// pngKept are the chunks that say how the image looks (PNG, third edition, section
// 11); of a colour profile the name is written anew. All other chunks that a viewer
// may do without are left out: texts, times, Exif, and those that only some
// program knows.
var pngKept = map[string]bool{
	"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true,
	"cHRM": true, "gAMA": true, "sBIT": true, "sRGB": true, "cICP": true, "mDCV": true, "cLLI": true,
	"bKGD": true, "pHYs": true,
	"acTL": true, "fcTL": true, "fdAT": true, // a moving one
}

type pngChunk struct {
	kind string
	body []byte
	raw  []byte
}

// eachPNGChunk visits the chunks of a PNG file up to its end; what stands behind it
// is not visited.
func eachPNGChunk(data []byte, visit func(pngChunk) error) error {
	for at := len(pngSignature); ; {
		if at+pngFrame > len(data) {
			return errCut
		}
		size := uint64(binary.BigEndian.Uint32(data[at:]))
		if size > uint64(len(data)-at-pngFrame) {
			return errCut
		}
		end := at + pngFrame + int(size)
		c := pngChunk{kind: string(data[at+4 : at+8]), body: data[at+8 : end-4], raw: data[at:end]}
		if crc32.ChecksumIEEE(data[at+4:end-4]) != binary.BigEndian.Uint32(data[end-4:]) {
			return fmt.Errorf("its part %q at byte %d is damaged", c.kind, at)
		}
		if at == len(pngSignature) && c.kind != "IHDR" {
			return errors.New("it does not begin with its size")
		}
		if err := visit(c); err != nil || c.kind == "IEND" {
			return err
		}
		at = end
	}
}

func cleanPNG(data []byte) ([]byte, error) {
	var turned uint16
	exif, image := false, false
	err := eachPNGChunk(data, func(c pngChunk) error {
		switch {
		case c.kind == "eXIf" && !exif:
			exif, turned = true, orientation(c.body)
		case c.kind == "IDAT":
			image = true
		case c.kind[0]&0x20 == 0 && !pngKept[c.kind]: // a capital: it cannot be done without
			return fmt.Errorf("it has a part of an unknown kind (%q)", c.kind)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if !image {
		return nil, errors.New("it holds no image")
	}
	out := make([]byte, 0, len(data)+64)
	out = append(out, pngSignature...)
	err = eachPNGChunk(data, func(c pngChunk) error {
		switch {
		case c.kind == "iCCP":
			if body := profileChunk(c.body); body != nil {
				out = appendPNGChunk(out, "iCCP", body)
			}
		case pngKept[c.kind]:
			out = append(out, c.raw...)
		}
		if c.kind == "IHDR" && turned != 0 {
			out = appendPNGChunk(out, "eXIf", exifOf(turned))
		}
		return nil
	})
	return out, err
}

// profileChunk is the body of an iCCP chunk under a name that says nothing; nil
// where it is none.
func profileChunk(body []byte) []byte {
	name, packed, found := bytes.Cut(body, []byte{0})
	if !found || len(name) == 0 || len(name) > 79 {
		return nil
	}
	return append([]byte("profile\x00"), packed...)
}

func appendPNGChunk(out []byte, kind string, body []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	begin := len(out)
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[begin:]))
}
