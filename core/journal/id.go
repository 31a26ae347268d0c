package journal

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"
)

// nextID is a UUID of version 7 (RFC 9562): 48 bits of Unix milliseconds, 12
// bits that count within a millisecond, 62 bits of chance. It is greater than
// the device's last one, whatever the clock does.
func nextID(last string, wall time.Time, random [10]byte) (string, error) {
	ms := wall.UnixMilli()
	if ms < 0 || ms >= 1<<48 {
		return "", fmt.Errorf("the clock says %s: set it", wall.Format(time.RFC3339))
	}
	stamp := uint64(ms) << 12
	if last != "" {
		before, ok := stampOf(last)
		if !ok {
			return "", fmt.Errorf("%q is no UUID of version 7", last)
		}
		if before == 1<<60-1 {
			return "", fmt.Errorf("no ID comes after %s: the clock of this device once stood at the end of time", last)
		}
		if stamp <= before {
			stamp = before + 1 // the counter; it spills into the milliseconds when it is full
		}
	}
	var id [16]byte
	binary.BigEndian.PutUint64(id[:8], stamp>>12<<16|stamp&0xfff)
	id[6] |= 0x70
	copy(id[8:], random[:8])
	id[8] = id[8]&0x3f | 0x80
	text := hex.EncodeToString(id[:])
	return text[:8] + "-" + text[8:12] + "-" + text[12:16] + "-" + text[16:20] + "-" + text[20:], nil
}

// stampOf is the time and counter of an ID, 60 bits.
func stampOf(id string) (uint64, bool) {
	if !validID(id) {
		return 0, false
	}
	b, _ := hex.DecodeString(id[:8] + id[9:13] + id[14:18])
	v := binary.BigEndian.Uint64(b)
	return v>>16<<12 | v&0xfff, true
}

// validID reports whether a text is a UUID of version 7 in lower case.
func validID(id string) bool {
	if len(id) != 36 || id[14] != '7' {
		return false
	}
	for i := range len(id) {
		c := id[i]
		switch {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if c != '-' {
				return false
			}
		case (c < '0' || c > '9') && (c < 'a' || c > 'f'):
			return false
		}
	}
	return id[19] == '8' || id[19] == '9' || id[19] == 'a' || id[19] == 'b'
}
