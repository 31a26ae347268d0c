package app

import "brinefield/core/dossier"

// DossierView is the page Dossier: what the study says of its dossiers, what a
// dossier would hold as things stand, and those that were made.
type DossierView struct {
	Study      string           `json:"study"`
	ReadOnly   bool             `json:"read_only"`
	Invented   bool             `json:"invented"`
	Ready      bool             `json:"ready" doc:"The study has no faults and results can be worked out."`
	Why        string           `json:"why,omitempty" doc:"Why it is not ready."`
	Sealed     int              `json:"sealed_trials" doc:"Trials whose active pair is sealed: the dossier says so."`
	Spec       dossier.Choices  `json:"spec"`
	SpecText   string           `json:"spec_text" doc:"As it is written down; sent back as from when it is changed."`
	People     []dossier.Person `json:"people"`
	PeopleText string           `json:"people_text"`
	Lacks      []string         `json:"lacks" doc:"What a journal or an archive will ask for and the study does not have, most wanted first."`
	Names      int              `json:"names" doc:"People who scored or observed and would be named by number."`
	Notes      int              `json:"notes" doc:"Free texts of trials and passes that go into the package."`
	Browser    string           `json:"browser" doc:"The browser of this machine that prints the report; empty: the program prints it itself, plainer."`
	Job        *DossierJob      `json:"job,omitempty"`
	Made       []DossierMade    `json:"made" doc:"Newest first."`
}

// DossierPreview is the dossier as it would be made now, for reading on screen.
type DossierPreview struct {
	Heading
	Figures []dossier.Figure `json:"figures"`
	Report  dossier.Document `json:"report"`
}

// DossierJob is a dossier in the making.
type DossierJob struct {
	Stage string `json:"stage"`
	Done  int    `json:"done"`
	Total int    `json:"total"`
	Error string `json:"error,omitempty" doc:"Why it broke off."`
}

// DossierMade is one package that was made and is kept beside the study.
type DossierMade struct {
	Name   string   `json:"name" doc:"Of the file."`
	Made   string   `json:"made" doc:"RFC 3339."`
	Bytes  int64    `json:"bytes"`
	SHA256 string   `json:"sha256"`
	Title  string   `json:"title"`
	Files  []string `json:"files"`
	Why    string   `json:"why,omitempty" doc:"Why it cannot be read."`

	Check *DossierCheckView `json:"check,omitempty" doc:"What was found when it was worked out again once it was made; while the study is open."`
}

// DossierDocument is what the command dossier prints of a package that it made.
type DossierDocument struct {
	Heading
	Package string   `json:"package" doc:"Name of the file."`
	SHA256  string   `json:"sha256"`
	Bytes   int64    `json:"bytes"`
	Files   []string `json:"files"`
	PDF     string   `json:"pdf" doc:"What printed the report: the browser and its version, or this program; empty: nothing did."`
	Lacks   []string `json:"lacks"`
}

// DossierCheck is what checking a package found: its checksums, its seal, the
// schema of its tables, its season.
type DossierCheck struct {
	Heading
	Package     string        `json:"package"`
	Same        bool          `json:"same"`
	Made        string        `json:"made" doc:"When it was made, as it says."`
	By          dossier.Build `json:"by" doc:"The program that made it."`
	Files       int           `json:"files"`
	Differences []string      `json:"differences"`
	Notes       []string      `json:"notes"`
	Checked     []PackagePart `json:"checked"`
}

// PackagePart is one part of a package that was looked at.
type PackagePart struct {
	Part        string `json:"part" enum:"layout,checksums,descriptor,tables,season,seal,results,darwin-core"`
	Differences int    `json:"differences"`
}

// DossierAgain is what came out when a package was worked out again from its raw
// tables.
type DossierAgain struct {
	Heading
	Package     string             `json:"package"`
	Same        bool               `json:"same"`
	By          dossier.Build      `json:"by" doc:"The program that made the package."`
	Exact       bool               `json:"exact" doc:"The same build on the same kind of machine: every bit must be the same."`
	Limit       float64            `json:"limit" doc:"Otherwise the largest relative difference of a number that counts as the same."`
	Limits      []NumberLimit      `json:"limits,omitempty" doc:"The limits of each kind of number."`
	Numbers     int                `json:"numbers" doc:"Numbers compared."`
	Files       int                `json:"files" doc:"Files compared."`
	Differences []NumberDifference `json:"differences" doc:"Beyond the limit, at most a thousand."`
	More        int                `json:"more" doc:"How many beyond those."`
	Within      int                `json:"within" doc:"Numbers that differ within the limit."`
	Left        []string           `json:"left" doc:"Files that were not compared, and why."`
}

// NumberLimit is how far apart two machines, or two builds, may be in one kind of
// number.
type NumberLimit struct {
	Of       string  `json:"of"`
	Relative float64 `json:"relative"`
}

// NumberDifference is one number, or one text, that is not the same.
type NumberDifference struct {
	File     string   `json:"file"`
	Where    string   `json:"where" doc:"The key in a document, detection[Raja clavata].median_nV_per_cm; the row and column of a table."`
	Was      string   `json:"was"`
	Now      string   `json:"now"`
	Relative *float64 `json:"relative" nullable:"true" doc:"|now - was| / |was|; null for what is no number."`
}

// DossierDifference says what changed between two packages, and why.
type DossierDifference struct {
	Heading
	Old     DossierSide     `json:"old"`
	New     DossierSide     `json:"new"`
	Causes  []DossierCause  `json:"causes"`
	Numbers []DossierChange `json:"numbers" doc:"Of the findings: the ones that a reader quotes, in the order of the report."`
	Passes  []PassChange    `json:"passes" doc:"Passes whose field or role changed, at most a thousand."`
	More    int             `json:"more" doc:"Passes beyond those."`
	Note    []string        `json:"note"`
}

// DossierSide is one of two packages.
type DossierSide struct {
	Package string        `json:"package"`
	Made    string        `json:"made"`
	By      dossier.Build `json:"by"`
	Passes  int           `json:"passes"`
	Trials  int           `json:"trials"`
}

// DossierCause is one thing that differs between two packages.
type DossierCause struct {
	Cause string   `json:"cause" enum:"data,model,program,choices"`
	What  []string `json:"what" doc:"Sentences: rows added and changed by table and column; choices of the analysis; versions."`
}

// DossierChange is one number of the findings: what it was, what it is, and how
// much of the way each cause makes, one after the other.
type DossierChange struct {
	What    string   `json:"what" doc:"Detection median of Raja clavata"`
	Unit    string   `json:"unit"`
	Old     *float64 `json:"old" nullable:"true"`
	OldWhy  string   `json:"old_not_estimable,omitempty"`
	Program *float64 `json:"after_program" nullable:"true" doc:"The old data and choices by this program."`
	Model   *float64 `json:"after_model" nullable:"true" doc:"The old data with the new choices by this program."`
	Data    *float64 `json:"after_data" nullable:"true" doc:"The new data and choices by this program."`
	New     *float64 `json:"new" nullable:"true"`
	NewWhy  string   `json:"new_not_estimable,omitempty"`
	By      []string `json:"by" doc:"Causes that moved it, the largest step first."`
}

// PassChange is one pass that met another field, or has another role.
type PassChange struct {
	Pass  string `json:"pass"`
	What  string `json:"what"`
	Was   string `json:"was"`
	Now   string `json:"now"`
	Cause string `json:"cause"`
}

// DossierMakeRequest begins a dossier.
type DossierMakeRequest struct {
	Again bool `json:"again,omitempty" doc:"Works the package out again when it is made, and says whether it came out the same."`
}

// DossierNameRequest names a package: one that was made, or the token of one that
// was sent.
type DossierNameRequest struct {
	Package string `json:"package" minLength:"1" maxLength:"300"`
	Again   bool   `json:"again,omitempty" doc:"Also works it out again from its raw tables."`
}

// DossierCheckView is what was found of a package.
type DossierCheckView struct {
	Check DossierCheck  `json:"check"`
	Again *DossierAgain `json:"again,omitempty"`
}

// DossierCompareRequest names two packages.
type DossierCompareRequest struct {
	Old string `json:"old" minLength:"1" maxLength:"300"`
	New string `json:"new" minLength:"1" maxLength:"300"`
}
