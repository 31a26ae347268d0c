package pictures

import "encoding/binary"

const (
	tagOrientation = 0x0112 // CIPA DC-008: Orientation, of type SHORT
	typeShort      = 3
)

// orientation reads how a picture is turned from Exif data (a TIFF file, its
// header first): 2 to 8, or 0 where it is as it should be or nothing is said.
// Only the tag itself is looked at; everything else stays unread.
func orientation(exif []byte) uint16 {
	if len(exif) < 8 {
		return 0
	}
	var order binary.ByteOrder
	switch string(exif[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 0
	}
	at := uint64(order.Uint32(exif[4:]))
	if at+2 > uint64(len(exif)) {
		return 0
	}
	entries := uint64(order.Uint16(exif[at:]))
	for i := range entries {
		start := at + 2 + 12*i
		if start+12 > uint64(len(exif)) {
			return 0
		}
		e := exif[start : start+12]
		if order.Uint16(e) != tagOrientation {
			continue
		}
		if v := order.Uint16(e[8:]); order.Uint16(e[2:]) == typeShort && v >= 2 && v <= 8 {
			return v
		}
		return 0
	}
	return 0
}

// exifOf is the smallest Exif data that say how a picture is turned. The standard
// wants more tags (its version, the colour space); viewers need none of them, and
// they tell of the camera.
func exifOf(orientation uint16) []byte {
	b := []byte("MM\x00*\x00\x00\x00\x08")
	b = binary.BigEndian.AppendUint16(b, 1) // one entry
	b = binary.BigEndian.AppendUint16(b, tagOrientation)
	b = binary.BigEndian.AppendUint16(b, typeShort)
	b = binary.BigEndian.AppendUint32(b, 1)
	b = binary.BigEndian.AppendUint16(b, orientation)
	b = append(b, 0, 0)                        // the value fills four bytes
	return binary.BigEndian.AppendUint32(b, 0) // no further directory
}

// isProfile reports whether bytes begin as a colour profile does: its size, and
// the signature at byte 36 (ICC.1, profile header).
func isProfile(b []byte, size int) bool {
	return len(b) >= 40 && uint64(binary.BigEndian.Uint32(b)) == uint64(size) && string(b[36:40]) == "acsp"
}
