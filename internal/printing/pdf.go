package printing

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"strings"
	"time"

	"codeberg.org/go-fonts/liberation/liberationmonoregular"
	"codeberg.org/go-fonts/liberation/liberationserifbold"
	"codeberg.org/go-fonts/liberation/liberationserifbolditalic"
	"codeberg.org/go-fonts/liberation/liberationserifitalic"
	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"codeberg.org/go-pdf/fpdf"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// ownName is what this program calls itself as a printer of reports.
const ownName = "Brinefield"

// PDF prints the page by a browser of this machine where there is one. Where there
// is none, or it fails, the program sets the same document itself: without tags
// for readers, and characters that its fonts lack are printed as boxes.
func (p *Printer) PDF(ctx context.Context, d dossier.Document, html []byte, figures []app.PrintedFigure) (pdf []byte, how string, err error) {
	if err := ctx.Err(); err != nil {
		return nil, "", err
	}
	how = ownName
	if path := p.findBrowser(); path != "" {
		pdf, err := printPage(ctx, path, html)
		if err == nil {
			return pdf, p.asked.name(path), nil
		}
		if ctx.Err() != nil {
			return nil, "", ctx.Err()
		}
		how = ownName + ", as " + p.asked.name(path) + " did not print it"
	} else if p.opt.BrowserPath != "" && p.opt.BrowserPath != NoBrowser {
		how = ownName + ", as the browser that was named is no program"
	}
	pdf, err = ownPDF(ctx, d, figures)
	if err != nil {
		return nil, "", err
	}
	return pdf, how, nil
}

// Measures of a page of A4, in mm, and sizes of type, in points.
const (
	pageMargin    = 20.0 // of tables and figures
	textMargin    = 34.0 // of text: lines of some 85 characters
	topMargin     = 24.0
	bottomMargin  = 22.0
	bodySize      = 10.5
	smallSize     = 8.5
	lineFactor    = 1.4
	mmPerPoint    = 25.4 / 72
	tallestFigure = 150.0
	paperWidth    = 210.0
	paperHeight   = 297.0
)

// sheet is a report in the making. It is laid out twice: the first time finds out
// on which page things are.
type sheet struct {
	*outline
	f       *fpdf.Fpdf
	ctx     context.Context
	figures map[string]app.PrintedFigure
	faces   [len(fontNames)]metrics
	title   string
	left    float64 // of the text that is set now
	right   float64 // where its lines end
	y       float64 // upper edge of the next line
	turned  bool
	links   map[string]int // by id
	pages   map[string]int // by id, of the layout before
	total   int            // pages of the layout before
}

// ownPDF sets a document without a browser. The same document gives the same bytes.
func ownPDF(ctx context.Context, d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	pages, total := map[string]int{}, 0
	for pass := 0; ; pass++ {
		s := &sheet{outline: layOut(d), ctx: ctx, figures: byName(figures), pages: pages, total: total, links: map[string]int{}}
		found, err := s.set()
		if err != nil {
			return nil, err
		}
		if pass == 0 {
			pages, total = found, s.f.PageCount()
			continue
		}
		var out bytes.Buffer
		if err := s.f.Output(&out); err != nil {
			return nil, fmt.Errorf("the report cannot be set as PDF: %w", err)
		}
		return out.Bytes(), nil
	}
}

// dateOf is the date that stands on the document, or a fixed one: never today.
func dateOf(d dossier.Document) time.Time {
	for _, layout := range []string{"2 January 2006", "2006-01-02"} {
		if t, err := time.Parse(layout, strings.TrimSpace(d.Date)); err == nil {
			return t
		}
	}
	return time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
}

// set lays everything out, and gives the page of each id.
func (s *sheet) set() (map[string]int, error) {
	f := fpdf.New("P", "mm", "A4", "")
	s.f, s.title = f, titleOf(s.Document)
	f.SetCatalogSort(true)
	f.SetCreationDate(dateOf(s.Document))
	f.SetModificationDate(dateOf(s.Document))
	f.SetProducer(ownName, true)
	f.SetCreator(ownName, true)
	f.SetTitle(s.title, true)
	f.SetAuthor(clean(s.Authors), true)
	f.SetLang("en")
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	for i, ttf := range [][]byte{liberationserifregular.TTF, liberationserifitalic.TTF, liberationserifbold.TTF, liberationserifbolditalic.TTF, liberationmonoregular.TTF} {
		f.AddUTF8FontFromBytes(fontNames[i][0], fontNames[i][1], bytes.Clone(ttf))
		m, err := metricsOf(ttf)
		if err != nil {
			return nil, err
		}
		s.faces[i] = m
	}
	for _, p := range s.parts {
		if p.id != "" {
			s.links[p.id] = f.AddLink()
		}
	}
	s.newPage(false)
	s.front()
	found := map[string]int{}
	for i, p := range s.parts {
		if err := s.ctx.Err(); err != nil {
			return nil, err
		}
		s.block(i, found)
		if err := f.Error(); err != nil {
			return nil, fmt.Errorf("the report cannot be set as PDF: block %d (%s): %w", i+1, p.Kind, err)
		}
	}
	return found, nil
}

// fontNames are family and style of the faces, in their order.
var fontNames = [...][2]string{upright: {"serif", ""}, italic: {"serif", "I"}, bold: {"serif", "B"}, boldItalic: {"serif", "BI"}, mono: {"mono", ""}}

func (s *sheet) width() float64 {
	if s.turned {
		return paperHeight
	}
	return paperWidth
}

func (s *sheet) bottom() float64 {
	if s.turned {
		return paperWidth - bottomMargin
	}
	return paperHeight - bottomMargin
}

// newPage begins a page with its head and foot.
func (s *sheet) newPage(turned bool) {
	s.turned = turned
	orientation := "P"
	if turned {
		orientation = "L"
	}
	s.f.AddPageFormat(orientation, fpdf.SizeType{Wd: paperWidth, Ht: paperHeight})
	s.f.SetTextColor(60, 60, 60)
	s.plain(upright, 8, pageMargin, 14, short(s.title, 80), 0)
	number := itoa(s.f.PageNo())
	if s.total > 0 {
		number += " / " + itoa(s.total)
	}
	s.plain(upright, 8, s.width()/2, s.bottom()+10, number, 0.5)
	if s.Invented {
		s.f.SetTextColor(138, 59, 0)
		s.plain(bold, 8, s.width()-pageMargin, 14, inventedShort, 1)
	}
	s.f.SetTextColor(0, 0, 0)
	s.y = topMargin
	s.column(false)
}

// column sets the edges of the lines: of text, or of what takes the whole width.
func (s *sheet) column(whole bool) {
	margin := textMargin
	if whole || s.turned {
		margin = pageMargin
	}
	s.left, s.right = margin, s.width()-margin
}

// room begins a new page unless so many mm are left on this one. What is higher
// than a page begins on a new one.
func (s *sheet) room(mm float64) {
	if s.y+mm > s.bottom() && s.y > topMargin+0.1 {
		s.newPage(s.turned)
	}
}

// plain writes a few words on a base line; align is the share of them left of x.
func (s *sheet) plain(face int, size, x, base float64, text string, align float64) {
	text = s.printable(face, text)
	s.f.SetFont(fontNames[face][0], fontNames[face][1], size)
	s.f.Text(x-align*s.faces[face].width(text)*size*mmPerPoint, base, text)
}

// printable is text in characters that a face has.
func (s *sheet) printable(face int, text string) string {
	return strings.Map(func(r rune) rune {
		if s.faces[face].glyph(r) > 0 {
			return r
		}
		switch r {
		case '\u2009', '\u202f', '\u2007', '\u2008', '\u200a':
			return '\u00a0'
		case '\u200b', '\u00ad', '\u2060', '\u200d', '\u200c', '\u200e', '\u200f':
			return -1
		case '\u2010', '\u2011':
			return '-'
		}
		return '\u25a1' // a box: something stood here
	}, clean(text))
}

// front is what stands before the text: banner, title, authors, contents.
func (s *sheet) front() {
	if s.Invented {
		s.f.SetDrawColor(138, 59, 0)
		s.f.SetTextColor(138, 59, 0)
		s.f.SetLineWidth(0.5)
		s.f.Rect(s.left, s.y, s.right-s.left, 8, "D")
		s.plain(bold, bodySize, (s.left+s.right)/2, s.y+5.4, inventedText, 0.5)
		s.f.SetDrawColor(0, 0, 0)
		s.f.SetTextColor(0, 0, 0)
		s.y += 13
	}
	s.text([]dossier.Run{{Text: s.title, Style: dossier.Bold}}, 20, 0, 1.2)
	s.y += 2
	for _, line := range []string{clean(s.Subtitle), byline(s.Document)} {
		if strings.TrimSpace(line) != "" {
			s.text([]dossier.Run{{Text: line}}, bodySize+0.5, 0, lineFactor)
			s.y++
		}
	}
	s.y += 4
	heads := s.heads()
	if len(heads) < 2 {
		return
	}
	s.rule(s.left, s.right, 0.2)
	s.y += 2
	s.text([]dossier.Run{{Text: contentsText, Style: dossier.Bold}}, bodySize, 0, lineFactor)
	for _, h := range heads {
		if h.Level > 2 {
			continue
		}
		s.room(6)
		page := ""
		if n := s.pages[h.id]; n > 0 {
			page = itoa(n)
		}
		base := s.y + bodySize*mmPerPoint
		s.plain(upright, bodySize, s.right, base, page, 1)
		s.right -= 12
		s.text([]dossier.Run{{Text: h.number + "\u2002" + plainText(h.Text), Link: "#" + s.anchorOf(h.id)}}, bodySize, 6*float64(h.Level-1), lineFactor)
		s.right += 12
	}
	s.y += 2
	s.rule(s.left, s.right, 0.2)
	s.y += 4
}

// anchorOf is a name by which a link can lead to id.
func (s *sheet) anchorOf(id string) string {
	s.anchors[id] = id
	return id
}

func (s *sheet) rule(from, to, width float64) {
	s.f.SetLineWidth(width)
	s.f.Line(from, s.y, to, s.y)
}

// reached notes where a part begins.
func (s *sheet) reached(p part, found map[string]int) {
	s.f.SetLink(s.links[p.id], s.y, -1)
	found[p.id] = s.f.PageNo()
}

func (s *sheet) block(i int, found map[string]int) {
	p := s.parts[i]
	if s.turned && p.Kind != dossier.TableBlock {
		s.newPage(false)
	}
	s.column(false)
	switch p.Kind {
	case dossier.HeadingBlock:
		size := []float64{14.5, 12, 10.5}[p.Level-1]
		s.y += []float64{5, 3.5, 2}[p.Level-1]
		s.room(s.needs(i))
		s.reached(p, found)
		s.f.Bookmark(s.printable(upright, p.number+" "+plainText(p.Text)), p.Level-1, -1)
		s.text(append([]dossier.Run{{Text: p.number + "\u2002", Style: dossier.Bold}}, emboldened(p.Text)...), size, 0, 1.25)
		s.y++
	case dossier.ParagraphBlock:
		s.text(p.Text, bodySize, 0, lineFactor)
		s.y += 2
	case dossier.NoteBlock:
		s.text(p.Text, smallSize, 0, lineFactor)
		s.y += 2
	case dossier.ListBlock:
		s.list(p.Items)
		s.y++
	case dossier.CautionBlock:
		s.caution(p)
	case dossier.TableBlock:
		s.table(p, found)
	case dossier.FigureBlock:
		s.figure(p, found)
	}
}

// needs is the height that a part wants on the page where it begins: a heading
// takes the beginning of what follows along.
func (s *sheet) needs(i int) float64 {
	total := 0.0
	for ; i < len(s.parts) && s.parts[i].Kind == dossier.HeadingBlock; i++ {
		total += 11
	}
	if i < len(s.parts) {
		switch p := s.parts[i]; p.Kind {
		case dossier.FigureBlock:
			_, high := s.figureSize(p)
			return total + high + 12
		case dossier.TableBlock:
			return total + 32
		}
	}
	return total + 3*bodySize*lineFactor*mmPerPoint
}

func (s *sheet) list(items [][]dossier.Run) {
	for _, item := range items {
		s.room(bodySize * lineFactor * mmPerPoint)
		s.plain(upright, bodySize, s.left+1.5, s.y+bodySize*1.1*mmPerPoint, "•", 0)
		s.text(item, bodySize, 5, lineFactor)
		s.y += 0.8
	}
}

// caution is set between rules, and a bar on its left on each page that it takes.
func (s *sheet) caution(p part) {
	s.room(16)
	s.y++
	s.rule(s.left, s.right, 0.3)
	s.y += 1.5
	s.text(append([]dossier.Run{{Text: cautionText + ". ", Style: dossier.Bold}}, p.Text...), bodySize, 3, lineFactor)
	s.left += 3
	s.list(p.Items)
	s.left -= 3
	s.y++
	s.rule(s.left, s.right, 0.3)
	s.y += 3
}

// figureSize is how large a figure is printed, in mm; 0 where there is none.
func (s *sheet) figureSize(p part) (wide, high float64) {
	config, err := png.DecodeConfig(bytes.NewReader(s.figures[p.Figure].PNG))
	if err != nil || config.Width < 1 || config.Height < 1 {
		return 0, 0
	}
	wide = paperWidth - 2*pageMargin
	high = wide * float64(config.Height) / float64(config.Width)
	if high > tallestFigure {
		wide, high = wide*tallestFigure/high, tallestFigure
	}
	return wide, high
}

func (s *sheet) figure(p part, found map[string]int) {
	f, known := s.figures[p.Figure]
	wide, high := s.figureSize(p)
	why := figureWhy(f, known, high > 0)
	caption := []dossier.Run{{Text: "Figure " + p.number + ". ", Style: dossier.Bold}}
	if title := figureTitle(f.Figure); title != "" {
		caption = append(caption, dossier.Run{Text: title + " ", Style: dossier.Bold})
	}
	if why != "" {
		caption = append(caption, dossier.Run{Text: why + " ", Style: dossier.Missing})
	}
	caption = append(caption, f.Caption...)
	s.y += 2
	below := float64(len(s.lines(caption, smallSize+0.5, s.right-s.left)))*(smallSize+0.5)*lineFactor*mmPerPoint + 2
	if why == "" {
		s.room(high + min(below, 60))
	} else {
		s.room(min(below, 60))
	}
	s.reached(p, found)
	if why == "" {
		name := "figure " + p.number
		s.f.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, bytes.NewReader(f.PNG))
		s.f.ImageOptions(name, (s.width()-wide)/2, s.y, wide, high, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
		s.y += high + 2
	}
	s.text(caption, smallSize+0.5, 0, lineFactor)
	s.y += 4
}
