package dossier

// Document is a text with its tables and figures, in order of reading.
type Document struct {
	Title    string  `json:"title"`
	Subtitle string  `json:"subtitle"`
	Authors  string  `json:"authors"` // as they are printed; "" = not stated
	Date     string  `json:"date"`    // 29 November 2026
	Invented bool    `json:"invented"`
	Blocks   []Block `json:"blocks"`
}

// BlockKind says what a block is.
type BlockKind string

// The kinds of blocks.
const (
	HeadingBlock   BlockKind = "heading"   // Level 1 to 3, Text
	ParagraphBlock BlockKind = "paragraph" // Text
	ListBlock      BlockKind = "list"      // Items
	TableBlock     BlockKind = "table"     // Table
	FigureBlock    BlockKind = "figure"    // Figure: name of a figure of the dossier
	CautionBlock   BlockKind = "caution"   // Text, and Items: set apart, not to be overlooked
	NoteBlock      BlockKind = "note"      // Text: small, below what it is about
)

// Block is one part of a document.
type Block struct {
	Kind   BlockKind `json:"kind"`
	Level  int       `json:"level,omitempty"`
	Anchor string    `json:"anchor,omitempty"` // of a heading: what links name
	Text   []Run     `json:"text,omitempty"`
	Items  [][]Run   `json:"items,omitempty"`
	Table  *Table    `json:"table,omitempty"`
	Figure string    `json:"figure,omitempty"`
}

// Run is a stretch of text in one style.
type Run struct {
	Text  string `json:"text"`
	Style Style  `json:"style,omitempty"`
	Link  string `json:"link,omitempty"` // "#anchor", or an https address: a DOI
}

// Style of a span.
type Style string

// The styles.
const (
	Plain    Style = ""
	Italic   Style = "italic"  // scientific names
	Bold     Style = "bold"    // the number that a sentence is about
	Code     Style = "code"    // names of files, fingerprints
	Missing  Style = "missing" // "not recorded": is seen at once, also without colour
	Superior Style = "superior"
)

// Table is rows under named columns, for print and for a file alike.
type Table struct {
	Name    string   `json:"name"` // stem of its file
	Title   string   `json:"title"`
	Note    string   `json:"note,omitempty"`
	Columns []Column `json:"columns"`
	Rows    [][]Cell `json:"rows"`
}

// Column is one column of a table.
type Column struct {
	Name    string `json:"name"`  // in a file: with the unit, detection_median_nV_per_cm
	Title   string `json:"title"` // in print: Median field
	Unit    string `json:"unit,omitempty"`
	Numbers bool   `json:"numbers,omitempty"` // set to the right
	What    string `json:"what,omitempty"`    // one sentence: what it holds
}

// Cell is one cell. In print it is Text; in a file it is Exact, or Text where
// Exact is "".
type Cell struct {
	Text  string `json:"text"`
	Exact string `json:"exact,omitempty"` // all digits
	Style Style  `json:"style,omitempty"`
}
