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

// clockAndPoses are the parts of a clip's record that people state.
type clockAndPoses struct {
	events []FootageEvent
	poses  []FootagePoseSpec
}

// readClockAndPoses reads a record of footage. The error says which part cannot be
// read: a newer program may have written it.
func readClockAndPoses(fields map[string]string) (r clockAndPoses, err error) {
	for _, part := range []struct {
		name string
		into any
	}{{"sync", &r.events}, {"poses", &r.poses}} {
		if text := fields[part.name]; text != "" {
			if e := json.Unmarshal([]byte(text), part.into); e != nil && err == nil {
				err = fmt.Errorf("the %s of this clip cannot be read: %w", part.name, e)
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
		var list []json.RawMessage
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
