package dossier

// Tables are the derived tables of the package: exposures, individuals, every
// estimate, trials, the checklist.
func Tables(Input) []Table { return nil }

// DataFiles are all files of the package that hold data or describe them: season,
// what lies beside it, facts, tables, results, sites, casts, Darwin Core, EML,
// licence, citation. Not figures, reports, README, descriptor and checksums.
//
// The error names what cannot be written, and where.
func DataFiles(Input) ([]File, error) { return nil, nil }

// Wrap adds README.txt, datapackage.json, dossier.json and checksums.sha256 to
// files, and sorts them by name.
func Wrap(Input, Heading, []File) ([]File, error) { return nil, nil }
