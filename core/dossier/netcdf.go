package dossier

import (
	"bytes"
	"encoding/binary"
	"math"
)

// A netCDF classic file (CDF-1), after the format's specification ("The NetCDF
// Classic Format Specification", Unidata): big-endian, names and values padded to
// four bytes, no record dimension. It holds what a file of casts needs: dimensions,
// attributes of text and numbers, variables of 32-bit integers and doubles.

const (
	ncChar   = 2
	ncInt    = 4
	ncDouble = 6

	ncDimensionTag = 0x0A
	ncVariableTag  = 0x0B
	ncAttributeTag = 0x0C
)

// ncFill is the value that stands where nothing was recorded: netCDF's own default.
const ncFill = 9.9692099683868690e+36

type ncAttribute struct {
	name  string
	value any // string, int32 or float64
}

type ncDimension struct {
	name string
	size int
}

type ncVariable struct {
	name       string
	dimensions []int // indices of the file's dimensions
	attributes []ncAttribute
	integers   []int32   // either these
	doubles    []float64 // or these
}

func (v ncVariable) kind() int32 {
	if v.integers != nil {
		return ncInt
	}
	return ncDouble
}

func (v ncVariable) size() int { return padded(4*len(v.integers) + 8*len(v.doubles)) }

type ncFile struct {
	dimensions []ncDimension
	attributes []ncAttribute
	variables  []ncVariable
}

func padded(n int) int { return (n + 3) &^ 3 }

// bytes is the file. The header is written twice: its length, which does not depend
// on the offsets in it, tells where the data begin.
func (f ncFile) bytes() []byte {
	head := f.header(0)
	b := bytes.NewBuffer(f.header(len(head)))
	for _, v := range f.variables {
		for _, n := range v.integers {
			writeBig(b, n)
		}
		for _, x := range v.doubles {
			writeBig(b, math.Float64bits(x))
		}
	}
	return b.Bytes()
}

func (f ncFile) header(dataAt int) []byte {
	var b bytes.Buffer
	b.WriteString("CDF\x01")
	writeBig(&b, int32(0)) // no records
	writeList(&b, ncDimensionTag, len(f.dimensions))
	for _, d := range f.dimensions {
		writeName(&b, d.name)
		writeBig(&b, int32(d.size))
	}
	writeAttributes(&b, f.attributes)
	writeList(&b, ncVariableTag, len(f.variables))
	for _, v := range f.variables {
		writeName(&b, v.name)
		writeBig(&b, int32(len(v.dimensions)))
		for _, d := range v.dimensions {
			writeBig(&b, int32(d))
		}
		writeAttributes(&b, v.attributes)
		writeBig(&b, v.kind())
		writeBig(&b, int32(v.size()))
		writeBig(&b, int32(dataAt))
		dataAt += v.size()
	}
	return b.Bytes()
}

func writeBig(b *bytes.Buffer, v any) { _ = binary.Write(b, binary.BigEndian, v) } // a buffer takes all

// writeList begins a list; an empty one has no tag.
func writeList(b *bytes.Buffer, tag int32, n int) {
	if n == 0 {
		tag = 0
	}
	writeBig(b, tag)
	writeBig(b, int32(n))
}

func writeName(b *bytes.Buffer, name string) {
	writeBig(b, int32(len(name)))
	writePadded(b, name)
}

func writePadded(b *bytes.Buffer, s string) {
	b.WriteString(s)
	b.Write(make([]byte, padded(len(s))-len(s)))
}

func writeAttributes(b *bytes.Buffer, attributes []ncAttribute) {
	writeList(b, ncAttributeTag, len(attributes))
	for _, a := range attributes {
		writeName(b, a.name)
		switch v := a.value.(type) {
		case string:
			writeBig(b, int32(ncChar))
			writeBig(b, int32(len(v)))
			writePadded(b, v)
		case int32:
			writeBig(b, int32(ncInt))
			writeBig(b, int32(1))
			writeBig(b, v)
		case float64:
			writeBig(b, int32(ncDouble))
			writeBig(b, int32(1))
			writeBig(b, math.Float64bits(v))
		}
	}
}
