package app

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// tableSchema is what a descriptor says of one table.
type tableSchema struct {
	Fields        []fieldSchema `json:"fields"`
	MissingValues []string      `json:"missingValues"`
	PrimaryKey    keyNames      `json:"primaryKey"`
	ForeignKeys   []foreignKey  `json:"foreignKeys"`
}

type foreignKey struct {
	Fields    keyNames `json:"fields"`
	Reference struct {
		Resource string   `json:"resource"` // "" = the same table
		Fields   keyNames `json:"fields"`
	} `json:"reference"`
}

// keyNames are one name or several.
type keyNames []string

// UnmarshalJSON takes a text or a list of texts.
func (k *keyNames) UnmarshalJSON(data []byte) error {
	var one string
	if json.Unmarshal(data, &one) == nil {
		*k = keyNames{one}
		return nil
	}
	return json.Unmarshal(data, (*[]string)(k))
}

type fieldSchema struct {
	Name        string   `json:"name"`
	Type        string   `json:"type"`
	Format      string   `json:"format"`
	BareNumber  *bool    `json:"bareNumber"`
	TrueValues  []string `json:"trueValues"`
	FalseValues []string `json:"falseValues"`
	Constraints struct {
		Required  bool              `json:"required"`
		Unique    bool              `json:"unique"`
		Enum      []json.RawMessage `json:"enum"`
		Minimum   json.RawMessage   `json:"minimum"`
		Maximum   json.RawMessage   `json:"maximum"`
		MinLength *int              `json:"minLength"`
		MaxLength *int              `json:"maxLength"`
		Pattern   string            `json:"pattern"`
	} `json:"constraints"`

	enum             []string
	minimum, maximum *float64
	pattern          *regexp.Regexp
}

// fieldTypes are those that tables of a package use.
var fieldTypes = []string{"", "any", "string", "number", "integer", "boolean", "date", "datetime", "time", "year"}

// check says what is wrong with a schema itself, and makes its constraints ready.
func (s *tableSchema) check() string {
	names := make([]string, 0, len(s.Fields))
	for i := range s.Fields {
		f := &s.Fields[i]
		if wrong := f.prepare(); wrong != "" {
			return fmt.Sprintf("field %d (%s): %s", i+1, f.Name, wrong)
		}
		if f.Name == "" || slices.Contains(names, f.Name) {
			return fmt.Sprintf("field %d: the name %q is blank, or is there twice", i+1, f.Name)
		}
		names = append(names, f.Name)
	}
	if len(names) == 0 {
		return "the schema has no fields"
	}
	keys := slices.Clone([]string(s.PrimaryKey))
	for _, k := range s.ForeignKeys {
		keys = append(keys, k.Fields...)
		if len(k.Fields) == 0 || len(k.Fields) != len(k.Reference.Fields) {
			return "a foreign key has not as many fields as its reference"
		}
	}
	for _, name := range keys {
		if !slices.Contains(names, name) {
			return fmt.Sprintf("a key names the field %q, which is not there", name)
		}
	}
	return ""
}

func (f *fieldSchema) prepare() string {
	if !slices.Contains(fieldTypes, f.Type) {
		return fmt.Sprintf("the type %q is none that is known; expected one of %s", f.Type, strings.Join(fieldTypes[1:], ", "))
	}
	for _, raw := range f.Constraints.Enum {
		f.enum = append(f.enum, rawText(raw))
	}
	var err error
	if f.Constraints.Pattern != "" {
		if f.pattern, err = regexp.Compile("^(?:" + f.Constraints.Pattern + ")$"); err != nil {
			return "the pattern cannot be read: " + err.Error()
		}
	}
	if !slices.Contains([]string{"number", "integer", "year"}, f.Type) {
		return ""
	}
	for _, bound := range []struct {
		raw json.RawMessage
		to  **float64
	}{{f.Constraints.Minimum, &f.minimum}, {f.Constraints.Maximum, &f.maximum}} {
		if len(bound.raw) == 0 || string(bound.raw) == "null" {
			continue
		}
		v, err := strconv.ParseFloat(rawText(bound.raw), 64)
		if err != nil {
			return fmt.Sprintf("the bound %s is no number", bound.raw)
		}
		*bound.to = &v
	}
	return ""
}

// rawText is a JSON text without its marks, or another value as it stands.
func rawText(raw json.RawMessage) string {
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text
	}
	return string(raw)
}

// wrong says what is wrong with a cell that is not blank; "" where nothing is.
func (f *fieldSchema) wrong(cell string) string {
	if problem := f.wrongType(cell); problem != "" {
		return problem
	}
	n := 0
	if f.Constraints.MinLength != nil || f.Constraints.MaxLength != nil {
		n = len([]rune(cell))
	}
	switch {
	case f.enum != nil && !slices.Contains(f.enum, cell):
		return fmt.Sprintf("%.60q is none of %.200s", cell, strings.Join(f.enum, ", "))
	case f.pattern != nil && !f.pattern.MatchString(cell):
		return fmt.Sprintf("%.60q is not of the form %s", cell, f.Constraints.Pattern)
	case f.Constraints.MinLength != nil && n < *f.Constraints.MinLength:
		return fmt.Sprintf("%.60q is shorter than %d characters", cell, *f.Constraints.MinLength)
	case f.Constraints.MaxLength != nil && n > *f.Constraints.MaxLength:
		return fmt.Sprintf("%.60q is longer than %d characters", cell, *f.Constraints.MaxLength)
	}
	return ""
}

func (f *fieldSchema) wrongType(cell string) string {
	switch f.Type {
	case "number", "integer", "year":
		return f.wrongNumber(cell)
	case "boolean":
		yes, no := f.TrueValues, f.FalseValues
		if yes == nil {
			yes = []string{"true", "True", "TRUE", "1"}
		}
		if no == nil {
			no = []string{"false", "False", "FALSE", "0"}
		}
		if !slices.Contains(yes, cell) && !slices.Contains(no, cell) {
			return fmt.Sprintf("%.60q is neither %s nor %s", cell, yes[0], no[0])
		}
	case "date":
		if _, err := time.Parse(time.DateOnly, cell); err != nil {
			return fmt.Sprintf("%.60q is no date; expected 2026-06-08", cell)
		}
	case "time":
		if _, err := time.Parse(time.TimeOnly, cell); err != nil {
			return fmt.Sprintf("%.60q is no time; expected 10:12:00", cell)
		}
	case "datetime":
		if !isDateTime(cell) {
			return fmt.Sprintf("%.60q is no date with a time; expected 2026-06-08T10:12:00+01:00", cell)
		}
	}
	return ""
}

// isDateTime reports whether a text is a time of ISO 8601, with or without its
// offset.
func isDateTime(cell string) bool {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if _, err := time.Parse(layout, cell); err == nil {
			return true
		}
	}
	return false
}

func (f *fieldSchema) wrongNumber(cell string) string {
	if f.Type != "number" {
		if _, err := strconv.ParseInt(cell, 10, 64); err != nil {
			return fmt.Sprintf("%.60q is no whole number", cell)
		}
	}
	v, err := strconv.ParseFloat(cell, 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(cell, "xX_"):
		return fmt.Sprintf("%.60q is no number", cell)
	case f.minimum != nil && v < *f.minimum:
		return fmt.Sprintf("%s is below %v", cell, *f.minimum)
	case f.maximum != nil && v > *f.maximum:
		return fmt.Sprintf("%s is above %v", cell, *f.maximum)
	}
	return ""
}
