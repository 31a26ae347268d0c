package app

import (
	"context"
	"io"
	"time"

	"brinefield/core/dossier"
)

// FigurePrint is how a figure is printed.
type FigurePrint struct {
	Format string // "svg", "pdf", "png" (300 dpi)
	Wide   bool   // two columns of a journal, 180 mm; else one, 88 mm
}

// PrintedFigure is a figure with its pictures in one width.
type PrintedFigure struct {
	dossier.Figure
	SVG, PNG []byte
}

// DossierPrinter draws figures and sets texts. The same values give the same
// bytes, but for PDF, which a browser may print.
type DossierPrinter interface {
	// Figure draws one figure. A figure with Why is an error.
	Figure(f dossier.Figure, p FigurePrint) ([]byte, error)
	// HTML is one page that needs no other file: fonts, styles and figures are
	// inside, and nothing in it runs.
	HTML(d dossier.Document, figures []PrintedFigure) ([]byte, error)
	// Markdown names figures by their files below figures/.
	Markdown(d dossier.Document, figures []dossier.Figure) ([]byte, error)
	// DOCX holds figures as 300 dpi PNG.
	DOCX(d dossier.Document, figures []PrintedFigure) ([]byte, error)
	// PDF prints the page by a browser of this machine where there is one, else
	// sets it itself; how says which.
	PDF(ctx context.Context, d dossier.Document, html []byte, figures []PrintedFigure) (pdf []byte, how string, err error)
	// Browser names the browser that would print; "" = none was found.
	Browser() string
}

// DossierStore keeps packages beside a study, and those that were sent to be
// looked at, until the study is closed.
type DossierStore interface {
	// Put writes a file whole, or not at all. A name that is there already is an
	// error.
	Put(ctx context.Context, name string, write func(io.Writer) error) error
	// List gives the names, newest first.
	List(ctx context.Context) ([]StoredDossier, error)
	// Open opens one for reading; ErrNoDossier.
	Open(ctx context.Context, name string) (StoredFile, error)
	// Remove takes one away; ErrNoDossier.
	Remove(ctx context.Context, name string) error
	// Take keeps a file that was sent, at most most bytes, and gives a token that
	// Open understands. What is too large is an error, and nothing is kept.
	Take(ctx context.Context, from io.Reader, most int64) (token string, err error)
}

// StoredDossier is one file of a store.
type StoredDossier struct {
	Name    string
	Bytes   int64
	Written time.Time
}

// StoredFile is a file open for reading.
type StoredFile interface {
	io.ReaderAt
	io.Closer
	Size() int64
}

// DossierFile is a file to be sent.
type DossierFile struct {
	Name  string
	Media string
	Bytes []byte     // small ones
	File  StoredFile // a whole package; nil where Bytes holds it
}
