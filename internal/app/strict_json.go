package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"brinefield/core/season"
)

// readStrict reads a specification to the letter of a Go type and gathers every
// fault of its shape: unknown and doubled keys (with the one that is near),
// missing ones (all but those with omitempty), lists that are too long or too
// short, and values of another kind, none of which encoding/json tells all of.
// schema is the file that lists the keys.
func readStrict(name string, data []byte, into any, schema string) error {
	keys := "the keys of docs/formats/" + schema
	if !json.Valid(data) {
		var nothing any
		err := decodeStrict(name, data, &nothing)
		var faults *FaultsError
		if !errors.As(err, &faults) {
			return &FaultsError{Faults: []season.Fault{{File: name, Row: 1, Wrong: "the specification cannot be read: it is no JSON", Expected: "one JSON object with " + keys}}}
		}
		for i := range faults.Faults {
			faults.Faults[i].Expected = strings.ReplaceAll(faults.Faults[i].Expected, "the keys of the field command", keys)
		}
		return faults
	}
	r := &strictReader{decoder: json.NewDecoder(bytes.NewReader(data)), specCheck: specCheck{name: name, lines: jsonLines(data)}, keys: keys}
	r.decoder.UseNumber()
	r.value("", reflect.TypeOf(into).Elem())
	if len(r.faults) > 0 {
		for i := range r.faults {
			r.faults[i].Row = max(r.faults[i].Row, 1) // of what is missing at the top
		}
		return &FaultsError{Faults: r.faults}
	}
	return decodeStrict(name, data, into)
}

// strictReader walks the tokens of valid JSON beside a type.
type strictReader struct {
	specCheck
	decoder *json.Decoder
	keys    string
}

// value reads one value that should be of a type; nil: anything.
func (r *strictReader) value(path string, of reflect.Type) {
	token, err := r.decoder.Token()
	if err != nil {
		return // it was valid: only when memory or the file changed
	}
	if of != nil && of.Kind() == reflect.Pointer {
		if of = of.Elem(); token == nil {
			return
		}
	}
	want := ""
	switch {
	case of == nil:
	case token == json.Delim('{'):
		if of.Kind() == reflect.Struct {
			r.object(path, of)
			return
		}
		want = plainKind(of)
	case token == json.Delim('['):
		if of.Kind() == reflect.Slice || of.Kind() == reflect.Array {
			r.list(path, of)
			return
		}
		want = plainKind(of)
	default:
		r.plain(path, token, of)
		return
	}
	if want != "" {
		r.wrongKind(path, token, want)
	}
	r.skip(token)
}

func (r *strictReader) wrongKind(path string, token json.Token, want string) {
	found := fmt.Sprintf("found %v", token)
	switch t := token.(type) {
	case nil:
		found = "found null"
	case json.Delim:
		found = "found a list"
		if t == '{' {
			found = "found a JSON object"
		}
	case string:
		found = fmt.Sprintf("found the text %.40q", t)
	}
	if path == "" {
		want += " with " + r.keys
	}
	r.fault(path, found, want)
}

func plainKind(of reflect.Type) string {
	switch of.Kind() {
	case reflect.Struct:
		return "a JSON object"
	case reflect.Array:
		return fmt.Sprintf("a list of %d", of.Len())
	case reflect.Slice:
		return "a list"
	case reflect.String:
		return "a text"
	case reflect.Bool:
		return "true or false"
	case reflect.Float64:
		return "a finite number"
	}
	return "a whole number"
}

func (r *strictReader) plain(path string, token json.Token, of reflect.Type) {
	ok := false
	switch t := token.(type) {
	case json.Number:
		switch of.Kind() {
		case reflect.Float64:
			v, err := t.Float64()
			ok = err == nil && !math.IsInf(v, 0)
		case reflect.Int, reflect.Int64:
			_, err := t.Int64()
			ok = err == nil
		}
	case string:
		ok = of.Kind() == reflect.String
	case bool:
		ok = of.Kind() == reflect.Bool
	}
	if !ok {
		r.wrongKind(path, token, plainKind(of))
	}
}

// skip reads to the end of what a token began.
func (r *strictReader) skip(token json.Token) {
	if token != json.Delim('{') && token != json.Delim('[') {
		return
	}
	for depth := 1; depth > 0; {
		next, err := r.decoder.Token()
		switch {
		case err != nil:
			return
		case next == json.Delim('{'), next == json.Delim('['):
			depth++
		case next == json.Delim('}'), next == json.Delim(']'):
			depth--
		}
	}
}

func (r *strictReader) list(path string, of reflect.Type) {
	n := 0
	for ; r.decoder.More(); n++ {
		item := of.Elem()
		if of.Kind() == reflect.Array && n >= of.Len() {
			item = nil
		}
		r.value(fmt.Sprintf("%s[%d]", path, n), item)
	}
	_, _ = r.decoder.Token()
	if of.Kind() == reflect.Array && n != of.Len() {
		r.fault(path, fmt.Sprintf("found a list of %d", n), plainKind(of))
	}
}

func (r *strictReader) object(path string, of reflect.Type) {
	fields := map[string]reflect.Type{}
	var names, needed []string
	for i := range of.NumField() {
		f := of.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		fields[name], names = f.Type, append(names, name)
		if options != "omitempty" {
			needed = append(needed, name)
		}
	}
	seen := map[string]bool{}
	for r.decoder.More() {
		token, _ := r.decoder.Token()
		key, _ := token.(string)
		at := joinPath(path, key)
		field, known := fields[key]
		switch {
		case !known:
			expected := "one of " + strings.Join(names, ", ")
			if near := nearKey(key, names); near != "" {
				expected = fmt.Sprintf("did you mean %q?", near)
			}
			r.fault(at, fmt.Sprintf("unknown key %.60q", key), expected)
		case seen[key]:
			r.fault(at, "the key stands here twice", "each key once")
		}
		seen[key] = true
		r.value(at, field)
	}
	_, _ = r.decoder.Token()
	for _, name := range needed {
		if !seen[name] && !r.told(joinPath(path, name)) {
			r.fault(joinPath(path, name), "missing", plainKind(fields[name]))
		}
	}
}

// nearKey is the key that was probably meant, also where its unit was left out.
func nearKey(key string, names []string) string {
	for _, name := range names {
		if key != "" && strings.HasPrefix(name, key+"_") {
			return name
		}
	}
	return season.Nearest(key, names)
}

// told reports whether a key that is missing was told of already, as another that
// is nearly it.
func (r *strictReader) told(path string) bool {
	_, name, _ := strings.Cut(path[len(parentPath(path)):], ".")
	if name == "" {
		name = path
	}
	return slices.ContainsFunc(r.faults, func(f season.Fault) bool {
		return parentPath(f.Column) == parentPath(path) && f.Expected == fmt.Sprintf("did you mean %q?", name)
	})
}
