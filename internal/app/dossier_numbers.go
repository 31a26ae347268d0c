package app

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/dossier"
)

// againLimits are the promises of docs/adr/0003-determinism.md across architectures:
// fields to 1e-9, estimates to 1e-6, and to 1e-5 where on a track something is, which
// is the top of a flat curve. Builds of other versions are held to the same.
var againLimits = []NumberLimit{
	{"fields and conductivities", 1e-9}, {"estimates", 1e-6}, {"places on a track, and what is taken there", 1e-5},
}

// leastScale is the number below which a difference counts as if the number were
// this: a thousandth of a unit of the trade (nV/cm, cm, µA) is told by no page. A
// variance on its boundary comes out as one small number or another.
const leastScale = 1e-3

// placeWords mark keys and columns of numbers at a place on a track.
var placeWords = []string{"distance", "horizontal", "angle", "height", "textbook", "position", "head_x", "head_y", "onset", "x_cm", "y_cm", "share_below", "reach"}

// againLimitOf is the limit of one number, by its file and the last part of its key.
func againLimitOf(file, key string) float64 {
	key = strings.ToLower(key[strings.LastIndexAny(key, ".")+1:])
	for _, word := range placeWords {
		if strings.Contains(key, word) {
			return againLimits[2].Relative
		}
	}
	switch {
	case strings.HasPrefix(file, dossier.FiguresFolder):
		return againLimits[2].Relative // a figure draws places as well as fields
	case strings.HasPrefix(key, "field_low"), strings.HasPrefix(key, "field_high"), strings.HasPrefix(key, "phantom"), strings.Contains(key, "conductivity"):
		return againLimits[0].Relative
	}
	return againLimits[1].Relative
}

// number compares two numbers as they are printed.
func (c *againCheck) number(file, where, key, was, now string) {
	c.doc.Numbers++
	if was == now {
		return
	}
	a, errA := strconv.ParseFloat(was, 64)
	b, errB := strconv.ParseFloat(now, 64)
	if errA != nil || errB != nil {
		c.text(file, where, was, now)
		return
	}
	if a == b {
		return // the same number in other digits; the bytes are compared by verify
	}
	d := NumberDifference{File: file, Where: where, Was: was, Now: now}
	if relative := math.Abs(b-a) / math.Abs(a); !math.IsInf(relative, 0) && !math.IsNaN(relative) {
		d.Relative = &relative
	}
	if !c.doc.Exact && math.Abs(b-a) <= againLimitOf(file, key)*max(math.Abs(a), leastScale) {
		c.doc.Within++
		return
	}
	c.differs(d)
}

// document compares two JSON documents key by key.
func (c *againCheck) document(file string, was, now []byte) {
	before := len(c.doc.Differences) + c.doc.More + c.doc.Within
	a, errA := decodeNumbers(was)
	b, errB := decodeNumbers(now)
	if errA != nil || errB != nil {
		if !bytes.Equal(was, now) {
			at, line := firstDifference(was, now)
			c.text(file, line, fmt.Sprintf("%d bytes, another from byte %d on", len(was), at), fmt.Sprintf("%d bytes", len(now)))
		}
		return
	}
	loosened := c.loosen(file, a) | c.loosen(file, b)
	c.value(file, "", "", a, b)
	if c.doc.Exact && loosened == 0 && before == len(c.doc.Differences)+c.doc.More+c.doc.Within && !bytes.Equal(was, now) {
		at, line := firstDifference(was, now)
		c.text(file, line, fmt.Sprintf("the same values, but another text from byte %d on", at), "")
	}
}

func decodeNumbers(data []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something stands behind the end")
	}
	return v, nil
}

// loosen takes out of a document what cannot come out the same: who made it and
// when, and of the descriptor what follows from the bytes of files that are not
// compared. It returns 1 where it took something out.
func (c *againCheck) loosen(file string, document any) int {
	d, ok := document.(map[string]any)
	if !ok {
		return 0
	}
	switch {
	case file == dossier.DossierFile:
		delete(d, "made")
		delete(d, "program")
		delete(d, "pdf")
	case file == dossier.DescriptorFile:
		delete(d, "id")
		resources, _ := d["resources"].([]any)
		d["resources"] = slices.DeleteFunc(resources, func(r any) bool {
			resource, _ := r.(map[string]any)
			delete(resource, "hash")
			delete(resource, "bytes")
			return resource["path"] == dossier.ReportPDF
		})
	case file == dossier.FindingsFile && !c.doc.Exact:
		delete(d, "program")
	default:
		return 0
	}
	return 1
}

func (c *againCheck) value(file, where, key string, was, now any) {
	switch a := was.(type) {
	case map[string]any:
		if b, ok := now.(map[string]any); ok {
			c.object(file, where, a, b)
			return
		}
	case []any:
		if b, ok := now.([]any); ok {
			c.list(file, where, key, a, b)
			return
		}
	case json.Number:
		if b, ok := now.(json.Number); ok {
			c.number(file, where, key, a.String(), b.String())
			return
		}
	default:
		if was == now {
			return
		}
	}
	c.text(file, where, sayJSON(was), sayJSON(now))
}

func (c *againCheck) object(file, where string, was, now map[string]any) {
	keys := slices.Sorted(maps.Keys(was))
	for _, key := range slices.Sorted(maps.Keys(now)) {
		if _, both := was[key]; !both {
			keys = append(keys, key)
		}
	}
	for _, key := range keys {
		a, before := was[key]
		b, after := now[key]
		at := joinPath(where, key)
		switch {
		case !after:
			c.text(file, at, sayJSON(a), "absent")
		case !before:
			c.text(file, at, "absent", sayJSON(b))
		default:
			c.value(file, at, key, a, b)
		}
	}
}

// nameKeys are the keys by which things of a list are known.
var nameKeys = []string{"pass", "trial", "individual", "species", "name", "id", "label", "what", "path", "reaction_time_s"}

// listKey is the key that names every thing of both lists once; "" = none does.
func listKey(lists ...[]any) string {
	for _, key := range nameKeys {
		fits := true
		for _, list := range lists {
			seen := map[string]bool{}
			for _, v := range list {
				thing, _ := v.(map[string]any)
				name, there := thing[key]
				text := fmt.Sprint(name)
				fits = fits && there && !seen[text]
				seen[text] = true
			}
		}
		if fits {
			return key
		}
	}
	return ""
}

func (c *againCheck) list(file, where, key string, was, now []any) {
	if by := listKey(was, now); by != "" && len(was)+len(now) > 0 {
		c.named(file, where, by, was, now)
		return
	}
	for i := range max(len(was), len(now)) {
		at := fmt.Sprintf("%s[%d]", where, i)
		switch {
		case i >= len(now):
			c.text(file, at, sayJSON(was[i]), "absent")
		case i >= len(was):
			c.text(file, at, "absent", sayJSON(now[i]))
		default:
			c.value(file, at, key, was[i], now[i])
		}
	}
}

func (c *againCheck) named(file, where, by string, was, now []any) {
	name := func(v any) string { return fmt.Sprint(v.(map[string]any)[by]) }
	after := make(map[string]any, len(now))
	for _, v := range now {
		after[name(v)] = v
	}
	for _, v := range was {
		at := fmt.Sprintf("%s[%s]", where, name(v))
		if other, both := after[name(v)]; both {
			c.value(file, at, "", v, other)
			delete(after, name(v))
		} else {
			c.text(file, at, "there", "absent")
		}
	}
	for _, v := range now {
		if _, left := after[name(v)]; left {
			c.text(file, fmt.Sprintf("%s[%s]", where, name(v)), "absent", "there")
		}
	}
}

// sayJSON is a value in a few words.
func sayJSON(v any) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return fmt.Sprint(v)
	}
	return inOneLine(strings.TrimSuffix(b.String(), "\n"))
}

// table compares two tables cell by cell, rows by their key where they have one.
func (c *againCheck) table(file string, was, now []byte) {
	a, errA := csv.NewReader(bytes.NewReader(was)).ReadAll()
	b, errB := csv.NewReader(bytes.NewReader(now)).ReadAll()
	if errA != nil || errB != nil || len(a) == 0 || len(b) == 0 {
		if !bytes.Equal(was, now) {
			at, line := firstDifference(was, now)
			c.text(file, line, fmt.Sprintf("%d bytes, another from byte %d on", len(was), at), fmt.Sprintf("%d bytes", len(now)))
		}
		return
	}
	if !slices.Equal(a[0], b[0]) {
		c.text(file, "row 1", strings.Join(a[0], ","), strings.Join(b[0], ","))
		return
	}
	before := len(c.doc.Differences) + c.doc.More + c.doc.Within
	c.rows(file, a, b)
	if c.doc.Exact && before == len(c.doc.Differences)+c.doc.More+c.doc.Within && !bytes.Equal(was, now) {
		at, line := firstDifference(was, now)
		c.text(file, line, fmt.Sprintf("the same values, but another text from byte %d on", at), "")
	}
}

func (c *againCheck) rows(file string, was, now [][]string) {
	key := keyColumn(was, now)
	name := func(row []string) string { return inOneLine(row[max(key, 0)]) }
	after := make(map[string]int, len(now))
	if key >= 0 {
		for i, row := range now[1:] {
			after[row[key]] = i + 1
		}
	}
	for i := 1; i < len(was); i++ {
		at, row := fmt.Sprintf("row %d", i+1), i
		if key >= 0 {
			at += " (" + name(was[i]) + ")"
			var both bool
			if row, both = after[was[i][key]]; !both {
				c.text(file, at, "there", "absent")
				continue
			}
			delete(after, was[i][key])
		}
		if row >= len(now) {
			c.text(file, at, "there", "absent")
			continue
		}
		for col, column := range was[0] {
			c.cell(file, at+", "+column, column, was[i][col], now[row][col])
		}
	}
	for i := 1; i < len(now); i++ {
		left := i >= len(was)
		if key >= 0 {
			_, left = after[now[i][key]]
		}
		if left {
			c.text(file, fmt.Sprintf("row %d (%s)", i+1, name(now[i])), "absent", "there")
		}
	}
}

// keyColumn is the column that names every row of both tables once: the first, or
// one that is called an ID; -1 where there is none.
func keyColumn(was, now [][]string) int {
	for col, name := range was[0] {
		if (col == 0 || strings.HasSuffix(name, "ID")) && isKey(was, col) && isKey(now, col) {
			return col
		}
	}
	return -1
}

func isKey(rows [][]string, col int) bool {
	seen := make(map[string]bool, len(rows))
	for _, row := range rows[1:] {
		if row[col] == "" || seen[row[col]] {
			return false
		}
		seen[row[col]] = true
	}
	return true
}

func (c *againCheck) cell(file, where, column, was, now string) {
	if was == now {
		if isNumber(was) {
			c.doc.Numbers++
		}
		return
	}
	if isNumber(was) && isNumber(now) {
		c.number(file, where, column, was, now)
		return
	}
	c.text(file, where, was, now)
}

func isNumber(s string) bool {
	if s == "" || s[0] > '9' {
		return false // quick: most cells that are no number begin with a letter
	}
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}
