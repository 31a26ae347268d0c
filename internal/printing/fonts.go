package printing

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf16"
)

// table is one table of a TrueType font.
type table struct {
	tag  string
	data []byte
}

var errFont = errors.New("the font is not a TrueType font that can be cut")

// Bits of the flags of a component in a composite glyph (OpenType 1.9, glyf).
const (
	argsAreWords   = 0x0001
	haveScale      = 0x0008
	moreComponents = 0x0020
	haveXYScale    = 0x0040
	haveTwoByTwo   = 0x0080
)

// subset cuts a TrueType font to the outlines of some characters, under a name of
// its own, as WOFF 1.0 (W3C Recommendation 13 December 2012). Glyphs keep their
// numbers, so hinting and kerning stay right; those that are not needed are empty.
// Layout tables (GSUB, GPOS) are left out.
//
// The new name is what the licence of the Liberation fonts asks of changed ones
// (SIL Open Font License 1.1, 3: reserved names).
func subset(ttf []byte, chars map[rune]bool, name string) (woff []byte, err error) {
	defer func() { // a font that lies about its offsets
		if recover() != nil {
			woff, err = nil, errFont
		}
	}()
	in := tablesOf(ttf)
	head, maxp, hhea := in["head"], in["maxp"], in["hhea"]
	if len(head) < 54 || len(maxp) < 6 || len(hhea) < 36 {
		return nil, errFont
	}
	count := int(be16(maxp[4:]))
	offsets := glyphOffsets(in["loca"], count, be16(head[50:]) != 0)
	glyphOf, err := characters(in["cmap"])
	if err != nil {
		return nil, err
	}
	keep := map[int]bool{0: true}
	kept := map[rune]int{}
	for r := range chars {
		if g := glyphOf(r); g > 0 && g < count {
			kept[r], keep[g] = g, true
		}
	}
	glyf := in["glyf"]
	for todo := slices.Sorted(maps.Keys(keep)); len(todo) > 0; {
		g := todo[0]
		todo = todo[1:]
		for _, part := range components(glyf[offsets[g]:offsets[g+1]]) {
			if !keep[part] {
				keep[part] = true
				todo = append(todo, part)
			}
		}
	}
	newGlyf, newLoca := []byte{}, make([]byte, 0, 4*(count+1))
	for g := range count {
		newLoca = binary.BigEndian.AppendUint32(newLoca, uint32(len(newGlyf)))
		if keep[g] {
			newGlyf = append(newGlyf, glyf[offsets[g]:offsets[g+1]]...)
			for len(newGlyf)%4 != 0 {
				newGlyf = append(newGlyf, 0)
			}
		}
	}
	newLoca = binary.BigEndian.AppendUint32(newLoca, uint32(len(newGlyf)))
	hmtx := bytes.Clone(in["hmtx"])
	for g := range int(be16(hhea[34:])) - 1 { // but the last, which may stand for all after it
		if !keep[g] {
			clear(hmtx[4*g : 4*g+4])
		}
	}
	head = bytes.Clone(head)
	clear(head[8:12])                        // its checksum is reckoned below
	binary.BigEndian.PutUint16(head[50:], 1) // long offsets
	post := make([]byte, 32)
	copy(post, in["post"])
	binary.BigEndian.PutUint32(post, 0x00030000) // without names of glyphs
	out := []table{
		{"OS/2", in["OS/2"]},
		{"cmap", cmapOf(kept)},
		{"cvt ", in["cvt "]},
		{"fpgm", in["fpgm"]},
		{"gasp", in["gasp"]},
		{"glyf", newGlyf},
		{"head", head},
		{"hhea", hhea},
		{"hmtx", hmtx},
		{"kern", in["kern"]},
		{"loca", newLoca},
		{"maxp", maxp},
		{"name", nameOf(name)},
		{"post", post},
		{"prep", in["prep"]},
	}
	out = slices.DeleteFunc(out, func(t table) bool { return len(t.data) == 0 })
	return woffOf(out)
}

func be16(b []byte) uint16 { return binary.BigEndian.Uint16(b) }
func be32(b []byte) uint32 { return binary.BigEndian.Uint32(b) }

func tablesOf(ttf []byte) map[string][]byte {
	in := map[string][]byte{}
	for i := range int(be16(ttf[4:])) {
		r := ttf[12+16*i:]
		in[string(r[:4])] = ttf[be32(r[8:]):][:be32(r[12:])]
	}
	return in
}

// glyphOffsets are where each glyph begins in the table glyf, and where the last ends.
func glyphOffsets(loca []byte, count int, long bool) []int {
	at := make([]int, count+1)
	for i := range at {
		if long {
			at[i] = int(be32(loca[4*i:]))
		} else {
			at[i] = 2 * int(be16(loca[2*i:]))
		}
	}
	return at
}

// characters reads the character map in format 4, which every font for text has.
func characters(cmap []byte) (func(rune) int, error) {
	for i := range int(be16(cmap[2:])) {
		record := cmap[4+8*i:]
		sub := cmap[be32(record[4:]):]
		if be16(record) != 3 || be16(record[2:]) != 1 || be16(sub) != 4 { // Windows, Unicode BMP
			continue
		}
		n := int(be16(sub[6:])) / 2
		ends, starts := sub[14:], sub[16+2*n:]
		deltas, offsets := sub[16+4*n:], sub[16+6*n:]
		return func(r rune) int {
			if r < 0 || r > 0xffff {
				return 0
			}
			c := uint16(r)
			for s := range n {
				if c > be16(ends[2*s:]) {
					continue
				}
				start, delta, off := be16(starts[2*s:]), be16(deltas[2*s:]), be16(offsets[2*s:])
				switch {
				case c < start:
					return 0
				case off == 0:
					return int(c + delta)
				}
				g := be16(offsets[2*s+int(off)+2*int(c-start):])
				if g == 0 {
					return 0
				}
				return int(g + delta)
			}
			return 0
		}, nil
	}
	return nil, fmt.Errorf("%w: it has no map of Unicode characters", errFont)
}

// components are the glyphs that a composite glyph is made of.
func components(glyph []byte) (parts []int) {
	if len(glyph) < 12 || int16(be16(glyph)) >= 0 {
		return nil
	}
	for b, more := glyph[10:], true; more; {
		flags := be16(b)
		parts = append(parts, int(be16(b[2:])))
		n := 6
		if flags&argsAreWords != 0 {
			n += 2
		}
		switch {
		case flags&haveScale != 0:
			n += 2
		case flags&haveXYScale != 0:
			n += 4
		case flags&haveTwoByTwo != 0:
			n += 8
		}
		b, more = b[n:], flags&moreComponents != 0
	}
	return parts
}

// cmapOf is a character map in format 4, with a segment for each run of
// characters whose glyphs follow each other too.
func cmapOf(kept map[rune]int) []byte {
	type segment struct{ start, end, delta uint16 }
	var segments []segment
	for _, r := range slices.Sorted(maps.Keys(kept)) {
		delta := uint16(kept[r]) - uint16(r)
		if n := len(segments); n > 0 && rune(segments[n-1].end)+1 == r && segments[n-1].delta == delta {
			segments[n-1].end++
			continue
		}
		segments = append(segments, segment{uint16(r), uint16(r), delta})
	}
	segments = append(segments, segment{0xffff, 0xffff, 1}) // the format wants it last
	n, power, log := len(segments), 1, 0
	for power*2 <= n {
		power, log = power*2, log+1
	}
	put := binary.BigEndian.AppendUint16
	b := []byte{0, 0, 0, 1, 0, 3, 0, 1, 0, 0, 0, 12} // one table, of Windows, Unicode BMP
	for _, v := range []int{4, 16 + 8*n, 0, 2 * n, 2 * power, log, 2 * (n - power)} {
		b = put(b, uint16(v))
	}
	for _, s := range segments {
		b = put(b, s.end)
	}
	b = put(b, 0)
	for _, s := range segments {
		b = put(b, s.start)
	}
	for _, s := range segments {
		b = put(b, s.delta)
	}
	return append(b, make([]byte, 2*n)...) // no table of single glyphs
}

// nameOf is what the cut font is called, and under which licence it stands.
func nameOf(name string) []byte {
	names := []struct {
		id   uint16
		text string
	}{
		{0, "Some glyphs of a Liberation font, (c) 2007-2012 Red Hat, Inc., with reserved font name Liberation; (c) 2010 Google Corporation."},
		{1, name},
		{2, "Regular"},
		{4, name},
		{6, strings.ReplaceAll(name, " ", "")}, // PostScript knows no spaces
		{13, "SIL Open Font License, Version 1.1"},
		{14, "https://openfontlicense.org"},
	}
	put := binary.BigEndian.AppendUint16
	b := put(put(put(nil, 0), uint16(len(names))), uint16(6+12*len(names)))
	var texts []byte
	for _, n := range names {
		at := len(texts)
		for _, u := range utf16.Encode([]rune(n.text)) {
			texts = put(texts, u)
		}
		for _, v := range []int{3, 1, 0x409, int(n.id), len(texts) - at, at} {
			b = put(b, uint16(v))
		}
	}
	return append(b, texts...)
}

func checksum(b []byte) (sum uint32) {
	for len(b) >= 4 {
		sum += be32(b)
		b = b[4:]
	}
	var rest [4]byte
	copy(rest[:], b)
	return sum + be32(rest[:])
}

// woffOf packs tables, each compressed where that is shorter. The checksum of the
// whole font is the one that it would have unpacked.
func woffOf(tables []table) ([]byte, error) {
	slices.SortFunc(tables, func(a, b table) int { return cmp.Compare(a.tag, b.tag) })
	n, power, log := len(tables), 1, 0
	for power*2 <= n {
		power, log = power*2, log+1
	}
	sfnt := []byte{0, 1, 0, 0}
	for _, v := range []int{n, 16 * power, log, 16 * (n - power)} {
		sfnt = binary.BigEndian.AppendUint16(sfnt, uint16(v))
	}
	size, sum := 12+16*n, uint32(0)
	for _, t := range tables {
		sfnt = append(sfnt, t.tag...)
		for _, v := range []int{int(checksum(t.data)), size, len(t.data)} {
			sfnt = binary.BigEndian.AppendUint32(sfnt, uint32(v))
		}
		size += (len(t.data) + 3) &^ 3
		sum += checksum(t.data)
	}
	sum = 0xB1B0AFBA - (sum + checksum(sfnt))
	directory, body := []byte{}, []byte{}
	start := 44 + 20*n
	for _, t := range tables {
		stored := t.data
		if t.tag == "head" { // its own checksum is that of the table with a zero here
			stored = bytes.Clone(t.data)
			binary.BigEndian.PutUint32(stored[8:], sum)
		}
		packed, err := deflated(stored)
		if err != nil {
			return nil, err
		}
		if len(packed) >= len(stored) {
			packed = stored
		}
		directory = append(directory, t.tag...)
		for _, v := range []int{start + len(body), len(packed), len(stored), int(checksum(t.data))} {
			directory = binary.BigEndian.AppendUint32(directory, uint32(v))
		}
		body = append(body, packed...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	out := []byte("wOFF\x00\x01\x00\x00")
	out = binary.BigEndian.AppendUint32(out, uint32(start+len(body)))
	out = binary.BigEndian.AppendUint16(out, uint16(n))
	out = binary.BigEndian.AppendUint16(out, 0)
	out = binary.BigEndian.AppendUint32(out, uint32(size))
	out = append(out, 0, 1, 0, 0)           // version
	out = append(out, make([]byte, 5*4)...) // neither metadata nor private data
	return append(append(out, directory...), body...), nil
}

func deflated(b []byte) ([]byte, error) {
	var buf bytes.Buffer
	w, err := zlib.NewWriterLevel(&buf, zlib.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(b); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}
