package app

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/season"
	"brinefield/core/study"
)

// plainFolder lays out records as a season folder without reading them: for
// records with faults, whose canonical folder cannot be made. Its rows are
// those that the faults of [season.FromRecords] name.
func plainFolder(records []study.Record) Input {
	byKind := map[study.Kind][]study.Record{}
	for _, r := range records {
		byKind[r.Kind] = append(byKind[r.Kind], r)
	}
	in := Input{season.StudyFile: plainStudy(byKind)}
	for file, kind := range tableKinds {
		needed := kind == study.KindTrial || kind == study.KindPass
		if needed || len(byKind[kind]) > 0 {
			in[file] = plainTable(kind, byKind[kind])
		}
	}
	return in
}

// tableKinds are the tables of a season by file; the first column of each is
// the ID.
var tableKinds = map[string]study.Kind{
	season.WaterFile: study.KindCast, season.TrialsFile: study.KindTrial, season.IndividualsFile: study.KindIndividual,
	season.ClipsFile: study.KindClip, season.PassesFile: study.KindPass, season.TracksFile: study.KindTrack,
}

// idNames are the columns and keys that hold the ID of a record.
var idNames = map[study.Kind]string{
	study.KindPlate: "label", study.KindPair: "label", study.KindSpecies: "name", study.KindCast: "time", study.KindTrial: "trial",
	study.KindIndividual: "individual", study.KindClip: "clip", study.KindPass: "pass", study.KindTrack: "pass",
}

func isTable(kind study.Kind) bool {
	for _, k := range tableKinds {
		if k == kind {
			return true
		}
	}
	return false
}

// isSingle reports whether a study has a kind only once.
func isSingle(kind study.Kind) bool {
	return kind == study.KindProtocol || slices.Contains(study.SeasonKinds, kind) && idNames[kind] == ""
}

func fieldNames(kind study.Kind) []string {
	var names []string
	for _, f := range fieldsOf(kind) {
		names = append(names, f.Name)
	}
	return names
}

// unknownNames are fields that the kind does not have, in byte order.
func unknownNames(fields map[string]string, names []string) []string {
	var unknown []string
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		if !slices.Contains(names, name) {
			unknown = append(unknown, name)
		}
	}
	return unknown
}

func plainStudy(byKind map[study.Kind][]study.Record) []byte {
	var b bytes.Buffer
	b.WriteString("format = 1\n")
	for _, kind := range study.SeasonKinds {
		if isTable(kind) {
			continue
		}
		for _, r := range byKind[kind] {
			plainSection(&b, r)
		}
	}
	return b.Bytes()
}

func plainSection(b *bytes.Buffer, r study.Record) {
	id := idNames[r.Kind]
	switch {
	case r.Kind == study.KindStudy:
	case id != "":
		b.WriteString("\n[[" + string(r.Kind) + "]]\n")
	default:
		b.WriteString("\n[" + string(r.Kind) + "]\n")
	}
	if label := cmp.Or(r.Fields[id], r.ID); id != "" && !(r.Kind == study.KindPlate && r.Fields[id] == "" && noPlateLabel.MatchString(r.ID)) {
		b.WriteString(id + " = " + strconv.Quote(label) + "\n")
	}
	names := fieldNames(r.Kind)
	for _, name := range append(names, unknownNames(r.Fields, names)...) {
		if v := strings.TrimSpace(r.Fields[name]); v != "" && name != id {
			b.WriteString(plainKey(name) + " = " + plainValue(name, v) + "\n")
		}
	}
}

var (
	noPlateLabel = regexp.MustCompile(`^plate( [0-9]+)?$`)
	bareKey      = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)
	tomlNumber   = regexp.MustCompile(`^[+-]?[0-9][0-9_]*(\.[0-9_]+)?([eE][+-]?[0-9]+)?$`)
)

// textKeys are the keys of study.toml that hold text.
var textKeys = []string{"title", "question", "name", "timezone", "cast", "kind", "shape", "rule", "field_at"}

func plainKey(name string) string {
	if bareKey.MatchString(name) {
		return name
	}
	return strconv.Quote(name)
}

func plainValue(name, v string) string {
	if !slices.Contains(textKeys, name) && (tomlNumber.MatchString(v) || strings.HasPrefix(v, "[") && !strings.Contains(v, "\n")) {
		return v
	}
	return strconv.Quote(v)
}

func plainTable(kind study.Kind, records []study.Record) []byte {
	names := fieldNames(kind)
	used, extra := map[string]bool{}, map[string]string{}
	for _, r := range records {
		for name, v := range r.Fields {
			used[name] = used[name] || v != ""
			extra[name] = ""
		}
		if r.Table != nil {
			for _, name := range r.Table.Columns {
				used[name], extra[name] = true, ""
			}
		}
	}
	needed := map[string]bool{}
	for _, f := range fieldsOf(kind) {
		needed[f.Name] = !f.Optional
	}
	names = slices.DeleteFunc(append(names, unknownNames(extra, names)...), func(name string) bool { return !used[name] && !needed[name] })
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(append([]string{idNames[kind]}, names...)) // a buffer takes everything
	for _, r := range records {
		for _, row := range plainRows(r, names) {
			_ = w.Write(append([]string{r.ID}, row...))
		}
	}
	w.Flush()
	return b.Bytes()
}

// plainRows are the cells of a record under the names: one row, or those of its
// table.
func plainRows(r study.Record, names []string) [][]string {
	if r.Kind != study.KindTrack && r.Kind != study.KindCast {
		row := make([]string, len(names))
		for i, name := range names {
			row[i] = r.Fields[name]
		}
		return [][]string{row}
	}
	if r.Table == nil || len(r.Table.Rows) == 0 {
		return [][]string{make([]string, len(names))} // an ID alone, which is at fault
	}
	rows := make([][]string, len(r.Table.Rows))
	for k, cells := range r.Table.Rows {
		rows[k] = make([]string, len(names))
		for i, name := range names {
			if c := slices.Index(r.Table.Columns, name); c >= 0 && c < len(cells) {
				rows[k][i] = cells[c]
			}
		}
	}
	return rows
}
