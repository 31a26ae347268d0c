package dossier

// File is one file of the package.
type File struct {
	Name  string // below the package's root, with "/"
	Bytes []byte
	Media string // media type
	What  string // one sentence for README.txt and datapackage.json

	Columns []Column // of a table that says what its columns hold; nil: known by their names
}

// Layout of a package: its fixed names.
const (
	ReadmeFile     = "README.txt"
	DescriptorFile = "datapackage.json"
	LicenceFile    = "LICENCE.txt"
	CitationFile   = "CITATION.cff"
	ChecksumsFile  = "checksums.sha256" // of all files but itself, as sha256sum writes them
	DossierFile    = "dossier.json"     // [Heading]: what it was made from, by what, with which choices
	FactsFile      = "study/facts.json"
	FindingsFile   = "results/findings.json"
	CurvesFile     = "results/curves.json"
	SitesFile      = "sites/sites.geojson"
	CastTable      = "casts/casts.csv"
	CastNetCDF     = "casts/casts.nc"
	EMLFile        = "darwin-core/eml.xml"
	MetaFile       = "darwin-core/meta.xml"
	ReportHTML     = "report/report.html"
	ReportPDF      = "report/report.pdf"
	MethodsMD      = "report/methods-and-results.md"
	MethodsDOCX    = "report/methods-and-results.docx"
	SeasonFolder   = "season/"  // the season folder itself
	StudyFolder    = "study/"   // what an export puts beside it
	TablesFolder   = "tables/"  // derived tables
	FiguresFolder  = "figures/" // NAME-single.svg, NAME-double.pdf, NAME.csv, captions.md
	PhotosFolder   = "photos/"
)

// Heading is the document dossier.json of a package.
type Heading struct {
	Format   int      `json:"format"`
	Name     string   `json:"name"`
	Program  Build    `json:"program"`
	Made     string   `json:"made"` // RFC 3339, in the site's zone
	Spec     Choices  `json:"spec"`
	People   []Person `json:"people"`
	Seed     uint64   `json:"seed"`
	Old      bool     `json:"old_data_exact"` // old data: the field at the onset is the threshold itself
	Invented bool     `json:"invented"`
	Sealed   int      `json:"sealed_trials"`
	PDF      string   `json:"pdf"` // what printed report.pdf; "" = there is none
}
