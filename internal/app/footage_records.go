package app

import (
	"encoding/json"
	"fmt"
	"strconv"

	"brinefield/core/optics"
	"brinefield/core/study"
)

// What is written down of footage is text in three kinds of records; these are
// its documents. No path of a machine is among them.

// trackPrint is the field of fixes that holds a hash of the track that was made
// of them, by which a track that came from elsewhere is told apart.
const trackPrint = "track"

// footageChapter is one file of a clip as its record holds it.
type footageChapter struct {
	Name        string   `json:"name"`
	SHA256      string   `json:"sha256"`
	Bytes       int64    `json:"bytes"`
	Frames      int      `json:"frames"`
	FirstPTS    int64    `json:"first_pts"`
	LastPTS     int64    `json:"last_pts"`
	TimeBase    [2]int64 `json:"time_base"`
	WidthPx     int      `json:"width_px"`  // upright
	HeightPx    int      `json:"height_px"` // upright
	Codec       string   `json:"codec"`
	RotationDeg int      `json:"rotation_deg"`
	Made        string   `json:"made,omitempty"`
}

// footageRecord is the record of one clip, read.
type footageRecord struct {
	chapters []footageChapter
	sync     []FootageEvent
	poses    []FootagePoseSpec
	note     string
}

// readFootage reads a record of footage. The error says which part cannot be
// read: a newer program may have written it.
func readFootage(fields map[string]string) (r footageRecord, err error) {
	r.note = fields["note"]
	for name, into := range map[string]any{"chapters": &r.chapters, "sync": &r.sync, "poses": &r.poses} {
		if text := fields[name]; text != "" {
			if e := json.Unmarshal([]byte(text), into); e != nil {
				err = fmt.Errorf("the %s of this clip cannot be read: %w", name, e)
			}
		}
	}
	return r, err
}

// readCamera reads a record of a camera.
func readCamera(fields map[string]string) (c optics.Camera, err error) {
	if err = json.Unmarshal([]byte(fields["spec"]), &c); err != nil {
		err = fmt.Errorf("the numbers of this camera cannot be read: %w", err)
	}
	return c, err
}

// jsonText is a document as a field holds it: struct keys in their order, so that
// equal values are equal texts. What is handed in can always be written.
func jsonText(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return ""
	}
	return string(b)
}

// footageWords says in a few words what a document of footage holds, for lists of
// entries.
func footageWords(field, text string) string {
	switch field {
	case "chapters":
		var list []footageChapter
		if json.Unmarshal([]byte(text), &list) == nil {
			return counted(len(list), "file", "files")
		}
	case "sync":
		var list []FootageEvent
		if json.Unmarshal([]byte(text), &list) == nil {
			return counted(len(list), "event", "events")
		}
	case "poses":
		var list []FootagePoseSpec
		if json.Unmarshal([]byte(text), &list) == nil {
			marks := 0
			for i := range list {
				marks += len(list[i].Marks)
			}
			return counted(len(list), "pose", "poses") + " of " + counted(marks, "mark", "marks")
		}
	case "heights":
		var h FootageHeights
		if json.Unmarshal([]byte(text), &h) == nil {
			return heightsWords(h)
		}
	case "spec":
		var c optics.Camera
		if json.Unmarshal([]byte(text), &c) == nil {
			port := "no port"
			if c.Port != nil {
				port = "a flat port"
			}
			return fmt.Sprintf("%d × %d px, f %s and %s px, %s", c.WidthPx, c.HeightPx, numberText(c.FxPx), numberText(c.FyPx), port)
		}
	}
	return fmt.Sprintf("(%d characters)", len(text))
}

func heightsWords(h FootageHeights) string {
	text := h.How
	if h.Class != "" {
		text += " " + h.Class
	}
	if h.LowCm != nil && h.HighCm != nil {
		text += fmt.Sprintf(", %s to %s cm", numberText(*h.LowCm), numberText(*h.HighCm))
	}
	if h.LengthCm != nil {
		text += " " + numberText(*h.LengthCm)
		if h.SDCm != nil {
			text += " ± " + numberText(*h.SDCm)
		}
		text += " cm"
	}
	return text
}

func numberText(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// footageNames of the three kinds.
func clipName(clip string) recordName    { return recordName{study.KindClip, clip} }
func footageName(clip string) recordName { return recordName{study.KindFootage, clip} }
func cameraName(id string) recordName    { return recordName{study.KindCamera, id} }
func fixesName(pass string) recordName   { return recordName{study.KindFixes, pass} }
