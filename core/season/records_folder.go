package season

import (
	"bytes"
	"encoding/csv"
	"strings"

	"brinefield/core/study"
)

// Folder lays out records as a season folder as they stand, right or wrong: to
// be shown beside the faults of [FromRecords], which name its rows and lines.
// Records without faults are written by [Write].
func Folder(records []study.Record) Files {
	byKind := recordsByKind(records)
	d := newDocument(newReader(nil, Options{}))
	d.addAll(byKind)
	files := Files{StudyFile: []byte(strings.Join(d.lines, "\n") + "\n")}
	for kind, of := range recordTables {
		if kind == study.KindTrial || kind == study.KindPass || len(byKind[kind]) > 0 {
			files[of.file] = newRecordRows(kind, byKind[kind]).text()
		}
	}
	return files
}

// text is the table as it stands.
func (rows *recordRows) text() []byte {
	rows.faults = &faultList{} // told by FromRecords
	s := &scanner{report: func(int, string, string, string) {}}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for rows.next(s) {
		_ = w.Write(s.cells) // a buffer takes everything
	}
	w.Flush()
	return b.Bytes()
}

// tomlKeyText is a key as it stands in a file, in quotation marks where it is
// no bare key.
func tomlKeyText(key string) string {
	bare := strings.IndexFunc(key, func(r rune) bool {
		return (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z') && r != '_' && r != '-'
	}) < 0
	if bare && key != "" {
		return key
	}
	return tomlString(key)
}

// tomlValueText is a value on one line: text in quotation marks, numbers and
// lists as they stand.
func tomlValueText(text string, kind keyKind) string {
	if kind == textKey || strings.ContainsAny(text, "\r\n") {
		return tomlString(text)
	}
	return text
}

// IDField is the key or column that holds the ID of a kind's records; "" for
// the kinds that a study has once.
func IDField(kind study.Kind) string {
	if of, ok := recordTables[kind]; ok {
		return of.specs[0].name
	}
	return idKeys[kind]
}
