package sqlite

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/sqlite/studydb"
)

// body is what a record holds, as it lies in the database: JSON with sorted
// keys, so that the same record is the same bytes.
type body struct {
	Fields map[string]string `json:"fields,omitempty"`
	Table  *study.Table      `json:"table,omitempty"`
}

func rowOf(rank int64, s *journal.State) (studydb.Record, error) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(body{s.Fields, s.Table}); err != nil {
		return studydb.Record{}, err
	}
	row := studydb.Record{
		Rank: rank, Kind: string(s.Kind), ID: s.ID, First: s.First, Last: s.Last, Entries: int64(s.Entries),
		Body: strings.TrimSuffix(text.String(), "\n"),
	}
	if s.Removed {
		row.Removed = 1
	}
	return row, nil
}

func stateOf(row studydb.Record) (*journal.State, error) {
	var b body
	if err := json.Unmarshal([]byte(row.Body), &b); err != nil {
		return nil, fmt.Errorf("the record %s %s cannot be read (%w): make the records again from the journal", row.Kind, row.ID, err)
	}
	return &journal.State{
		Record: study.Record{Kind: study.Kind(row.Kind), ID: row.ID, Fields: b.Fields, Table: b.Table},
		First:  row.First, Last: row.Last, Entries: int(row.Entries), Removed: row.Removed != 0,
	}, nil
}

// foldedBy tells how records are made of entries, as far as that can change: a
// program that makes them in another way makes them again at the opening.
func foldedBy() string { return foldedByArrival() + ", in the order of IDs" }

// foldedByArrival is what programs noted that folded entries in the order of
// their arrival, which on one device is the same.
func foldedByArrival() string {
	const form = 1 // of body
	parts := []string{fmt.Sprintf("form %d", form)}
	kinds := slices.Concat([]study.Kind{study.KindAssignment, study.KindImport, study.KindOpening, study.KindErasure}, study.OwnKinds, study.SeasonKinds)
	for _, kind := range kinds {
		if v := journal.Latest(kind); v > 1 {
			parts = append(parts, fmt.Sprintf("%s %d", kind, v))
		}
	}
	return strings.Join(parts, ", ")
}
