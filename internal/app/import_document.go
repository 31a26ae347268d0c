package app

import (
	"maps"
	"slices"
)

// ImportDocument says what an import changes, or changed.
type ImportDocument struct {
	Heading
	Study   string       `json:"study"`
	New     bool         `json:"new" doc:"The study was not there yet."`
	Done    bool         `json:"done" doc:"It was written; false where there was nothing to write or nobody agreed."`
	Entries int          `json:"entries" doc:"Entries written."`
	Tables  []PlanTable  `json:"tables"`
	Changes []PlanChange `json:"changes" doc:"The first thousand."`
	More    int          `json:"more" doc:"How many more there are."`
	Guarded bool         `json:"guarded" doc:"The folder tells which pair was active."`

	Plan PlanView `json:"-"`
}

// NewImportDocument begins the document of an import.
func NewImportDocument(program Program, in Input, study string, isNew bool) ImportDocument {
	return ImportDocument{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: in.Fingerprints(), Warnings: []string{}},
		Study:   study, New: isNew, Tables: []PlanTable{}, Changes: []PlanChange{},
	}
}

// Take takes over what a plan says.
func (d *ImportDocument) Take(plan PlanView) {
	d.Plan, d.More, d.Guarded = plan, plan.More, plan.Guarded
	d.Tables = append(d.Tables, plan.Tables...)
	d.Changes = append(d.Changes, plan.Changes...)
	d.Warnings = append(d.Warnings, plan.Warnings...)
}

// Moves reports whether carrying out the plan would write anything.
func (d *ImportDocument) Moves(removeMissing bool) bool {
	for _, t := range d.Tables {
		if t.Added+t.Changed > 0 || removeMissing && t.Missing > 0 {
			return true
		}
	}
	return slices.ContainsFunc(d.Changes, func(c PlanChange) bool { return c.Act != "remove" || removeMissing })
}

// Uploads are the files of a folder, in order of name.
func Uploads(in Input) []FileUpload {
	out := make([]FileUpload, 0, len(in))
	for _, name := range slices.Sorted(maps.Keys(in)) {
		out = append(out, FileUpload{Name: name, Data: in[name]})
	}
	return out
}
