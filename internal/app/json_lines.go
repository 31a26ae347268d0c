package app

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
)

// jsonLines maps the path of every value of a JSON document, such as
// electrodes[1].current_A, to the line on which it ends.
func jsonLines(data []byte) map[string]int {
	walker := &lineWalker{decoder: json.NewDecoder(bytes.NewReader(data)), data: data, lines: map[string]int{}}
	walker.decoder.UseNumber() // one that is too large ends no walk
	walker.value("")
	return walker.lines
}

type lineWalker struct {
	decoder *json.Decoder
	data    []byte
	lines   map[string]int
}

// value reads one value; a broken document simply ends the walk.
func (w *lineWalker) value(path string) bool {
	token, err := w.decoder.Token()
	if err != nil {
		return false
	}
	w.lines[path] = lineAt(w.data, w.decoder.InputOffset())
	switch token {
	case json.Delim('{'):
		for w.decoder.More() {
			key, err := w.decoder.Token()
			if err != nil || !w.value(joinPath(path, fmt.Sprint(key))) {
				return false
			}
		}
	case json.Delim('['):
		for i := 0; w.decoder.More(); i++ {
			if !w.value(fmt.Sprintf("%s[%d]", path, i)) {
				return false
			}
		}
	default:
		return true
	}
	_, err = w.decoder.Token()
	return err == nil
}

func joinPath(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// parentPath drops the last key or index of a path.
func parentPath(path string) string {
	return path[:max(strings.LastIndexByte(path, '.'), strings.LastIndexByte(path, '['), 0)]
}

// lineAt is the line, from 1, of a byte offset.
func lineAt(data []byte, offset int64) int {
	return 1 + bytes.Count(data[:min(max(offset, 0), int64(len(data)))], []byte{'\n'})
}

func lineOfKey(data []byte, key string) int {
	i := bytes.Index(data, []byte(`"`+key+`"`))
	return lineAt(data, int64(max(i, 0)))
}
