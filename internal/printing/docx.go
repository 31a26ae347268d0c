package printing

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"strings"
	"time"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// Measures of WordprocessingML: twentieths of a point, and English metric units.
const (
	twipsPerMM = 1440 / 25.4
	emuPerMM   = 36000
	emuPerDot  = 914400 / 300 // of a picture with 300 dpi
	docxMargin = 25           // mm
	docxTall   = 205          // mm: the highest figure
)

// DOCX is a document for a word processor (ECMA-376, Office Open XML, transitional):
// headings, captions and tables in styles that an author can change, numbers of
// headings by the word processor, figures as PNG with their description.
func (p *Printer) DOCX(d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	w := &docx{outline: layOut(d), figures: byName(figures), marks: map[string]string{}, links: map[string]string{}}
	for i, part := range w.parts {
		if part.id != "" { // a name of at most 40 letters that begins with one
			w.marks[part.id] = "part_" + itoa(i+1)
		}
	}
	w.front()
	for _, part := range w.parts {
		w.block(part)
	}
	if w.turned {
		w.section(true)
	}
	body := w.String() + section(false)
	files := []docxFile{
		{"[Content_Types].xml", []byte(docxTypes)},
		{"_rels/.rels", []byte(docxRels)},
		{"docProps/app.xml", []byte(docxApp)},
		{"docProps/core.xml", []byte(docxCore(d))},
		{"word/_rels/document.xml.rels", []byte(w.relationships())},
		{"word/document.xml", []byte(xmlHead + `<w:document xmlns:w="` + nsW + `" xmlns:r="` + nsR + `" xmlns:wp="` + nsWP + `" xmlns:a="` + nsA + `" xmlns:pic="` + nsPic + `"><w:body>` + body + `</w:body></w:document>`)},
		{"word/footer1.xml", []byte(docxFooter)},
		{"word/header1.xml", []byte(docxHeader(d))},
		{"word/numbering.xml", []byte(docxNumbering)},
		{"word/settings.xml", []byte(docxSettings)},
		{"word/styles.xml", []byte(docxStyles)},
	}
	for _, m := range w.media {
		files = append(files, docxFile{"word/" + m.name, m.bytes})
	}
	return zipped(files)
}

type docxFile struct {
	name  string
	bytes []byte
}

// zipped packs files in their order, without a time of their own.
func zipped(files []docxFile) ([]byte, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestCompression) })
	for _, f := range files {
		method := zip.Deflate
		if strings.HasSuffix(f.name, ".png") {
			method = zip.Store // is compressed already
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.name, Method: method, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err == nil {
			_, err = w.Write(f.bytes)
		}
		if err != nil {
			return nil, fmt.Errorf("the document cannot be packed: %s: %w", f.name, err)
		}
	}
	if err := z.Close(); err != nil {
		return nil, fmt.Errorf("the document cannot be packed: %w", err)
	}
	return out.Bytes(), nil
}

// docx writes the body of a document.
type docx struct {
	strings.Builder
	*outline
	figures map[string]app.PrintedFigure
	marks   map[string]string // names of bookmarks by id
	marked  int               // bookmarks so far
	links   map[string]string // relationships of addresses
	order   []string          // of the addresses
	media   []docxFile
	turned  bool // on a page that lies on its side
}

// esc is text as XML may hold it.
func esc(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(clean(s))) // a Builder takes everything
	return b.String()
}

// paragraph writes a paragraph in a style; props are further properties, in the
// order of the schema.
func (w *docx) paragraph(style, props, inner string) {
	w.WriteString("<w:p>")
	if style != "" || props != "" {
		w.WriteString("<w:pPr>")
		if style != "" {
			w.WriteString(`<w:pStyle w:val="` + style + `"/>`)
		}
		w.WriteString(props + "</w:pPr>")
	}
	w.WriteString(inner + "</w:p>")
}

func span(props, s string) string {
	if s = esc(s); s == "" {
		return ""
	}
	if props != "" {
		props = "<w:rPr>" + props + "</w:rPr>"
	}
	return `<w:r>` + props + `<w:t xml:space="preserve">` + s + `</w:t></w:r>`
}

// look is what a span has beside its style: properties that the schema wants
// between bold or italics and what is raised.
type look string

const linkLook look = `<w:color w:val="17487A"/>`

func styledSpan(s string, style dossier.Style, l look) string {
	more := string(l)
	switch style {
	case dossier.Italic:
		return span("<w:i/>"+more, s)
	case dossier.Bold:
		return span("<w:b/>"+more, s)
	case dossier.Code:
		return span(`<w:rStyle w:val="Code"/>`+more, s)
	case dossier.Missing:
		if strings.TrimSpace(clean(s)) == "" {
			return ""
		}
		return span(`<w:rStyle w:val="NotRecorded"/>`+more, missingPrefix+strings.TrimSpace(s)+missingSuffix) +
			span(more, s[len(strings.TrimRight(s, " ")):])
	case dossier.Superior:
		return span(more+`<w:vertAlign w:val="superscript"/>`, s)
	}
	return span(more, s)
}

func (w *docx) runs(runs []dossier.Run) string {
	var b strings.Builder
	for _, r := range runs {
		id, address := w.place(r.Link)
		l, open, end := look(""), "", ""
		switch {
		case id != "":
			open, end = `<w:hyperlink w:anchor="`+w.marks[id]+`" w:history="1">`, "</w:hyperlink>"
		case address != "":
			l, open, end = linkLook, `<w:hyperlink r:id="`+w.link(address)+`" w:history="1">`, "</w:hyperlink>"
		}
		if inner := styledSpan(r.Text, r.Style, l); inner != "" {
			b.WriteString(open + inner + end)
		}
	}
	return b.String()
}

// link gives the relationship of an address.
func (w *docx) link(address string) string {
	if w.links[address] == "" {
		w.order = append(w.order, address)
		w.links[address] = "link" + itoa(len(w.order))
	}
	return w.links[address]
}

// bookmark marks text as the place of an id.
func (w *docx) bookmark(id, inner string) string {
	w.marked++
	n := itoa(w.marked)
	return `<w:bookmarkStart w:id="` + n + `" w:name="` + w.marks[id] + `"/>` + inner + `<w:bookmarkEnd w:id="` + n + `"/>`
}

func (w *docx) front() {
	if w.Invented {
		w.paragraph("Banner", "", span("", inventedText))
	}
	w.paragraph("Title", "", span("", titleOf(w.Document)))
	for _, line := range [][2]string{{"Subtitle", w.Subtitle}, {"Byline", byline(w.Document)}} {
		if strings.TrimSpace(clean(line[1])) != "" {
			w.paragraph(line[0], "", span("", line[1]))
		}
	}
}

func (w *docx) block(p part) {
	turn := p.Kind == dossier.TableBlock && tableClass(p.Table) == "turned"
	if turn != w.turned {
		w.section(w.turned)
		w.turned = turn
	}
	switch p.Kind {
	case dossier.HeadingBlock:
		w.paragraph("Heading"+itoa(p.Level), "", w.bookmark(p.id, w.runs(p.Text)))
	case dossier.ParagraphBlock:
		w.paragraph("BodyText", "", w.runs(p.Text))
	case dossier.NoteBlock:
		w.paragraph("Note", "", w.runs(p.Text))
	case dossier.ListBlock:
		for _, item := range p.Items {
			w.paragraph("ListBullet", "", w.runs(item))
		}
	case dossier.CautionBlock:
		w.paragraph("Caution", "", span("<w:b/>", cautionText+". ")+w.runs(p.Text))
		for _, item := range p.Items {
			w.paragraph("CautionItem", "", w.runs(item))
		}
	case dossier.TableBlock:
		w.table(p)
	case dossier.FigureBlock:
		w.figure(p)
	}
}

// section ends the part of the document that lies one way.
func (w *docx) section(turned bool) {
	w.paragraph("", section(turned), "")
}

func section(turned bool) string {
	wide, high, orient := 210, 297, ""
	if turned {
		wide, high, orient = 297, 210, ` w:orient="landscape"`
	}
	m := twips(docxMargin)
	return `<w:sectPr><w:headerReference w:type="default" r:id="header"/><w:footerReference w:type="default" r:id="footer"/>` +
		`<w:pgSz w:w="` + twips(wide) + `" w:h="` + twips(high) + `"` + orient + `/>` +
		`<w:pgMar w:top="` + m + `" w:right="` + m + `" w:bottom="` + m + `" w:left="` + m + `" w:header="700" w:footer="700" w:gutter="0"/></w:sectPr>`
}

func twips(mm int) string { return itoa(int(float64(mm)*twipsPerMM + 0.5)) }

func (w *docx) table(p part) {
	t := p.Table
	w.paragraph("Caption", "<w:keepNext/>", w.bookmark(p.id, span("<w:b/>", "Table "+p.number+". ")+span("", sentence(t.Title))))
	if len(t.Columns) > 0 {
		have, size := 160*twipsPerMM, look("")
		switch tableClass(t) {
		case "small":
			size = `<w:sz w:val="15"/>`
		case "turned":
			have, size = 247*twipsPerMM, `<w:sz w:val="14"/>`
		}
		w.WriteString(`<w:tbl><w:tblPr><w:tblStyle w:val="DossierTable"/><w:tblW w:w="0" w:type="auto"/><w:tblLook w:val="0020" w:firstRow="1" w:lastRow="0" w:firstColumn="0" w:lastColumn="0" w:noHBand="1" w:noVBand="1"/></w:tblPr><w:tblGrid>`)
		for _, share := range columnShares(t) {
			w.WriteString(`<w:gridCol w:w="` + itoa(int(have*share)) + `"/>`)
		}
		w.WriteString(`</w:tblGrid><w:tr><w:trPr><w:cantSplit/><w:tblHeader/></w:trPr>`)
		for _, c := range t.Columns {
			w.cell(c, styledSpan(columnTitle(c), dossier.Bold, size))
		}
		w.WriteString("</w:tr>")
		for _, row := range t.Rows {
			w.WriteString(`<w:tr><w:trPr><w:cantSplit/></w:trPr>`)
			for i, c := range t.Columns {
				cell := cellAt(row, i)
				w.cell(c, styledSpan(cell.Text, cell.Style, size))
			}
			w.WriteString("</w:tr>")
		}
		w.WriteString("</w:tbl>")
	}
	note := clean(t.Note)
	if len(t.Rows) == 0 {
		note = strings.TrimSpace(noRowsText + " " + note)
	}
	w.paragraph("Note", "", span("", note)) // also parts two tables that follow each other
}

// columnShares are the shares of a page's width that columns get: the longest word
// of each, and of what is left by how much more they hold.
func columnShares(t *dossier.Table) []float64 {
	const page = 105 // characters of a table's size across a page
	longest, word := widths(t)
	need, more := 0, 0
	for i := range word {
		word[i] += 3 // the margins of a cell
		need += word[i]
		longest[i] = max(min(longest[i], 60)-word[i], 0)
		more += longest[i]
	}
	share := make([]float64, len(word))
	for i := range share {
		share[i] = float64(word[i]) / float64(max(need, page))
		switch rest := float64(page-need) / page; {
		case rest <= 0:
		case more > 0:
			share[i] += rest * float64(longest[i]) / float64(more)
		default:
			share[i] += rest / float64(len(word))
		}
	}
	return share
}

func (w *docx) cell(c dossier.Column, inner string) {
	w.WriteString("<w:tc><w:tcPr><w:tcW w:w=\"0\" w:type=\"auto\"/></w:tcPr>")
	props := ""
	if c.Numbers {
		props = `<w:jc w:val="right"/>`
	}
	w.paragraph("TableText", props, inner)
	w.WriteString("</w:tc>")
}

func (w *docx) figure(p part) {
	f, known := w.figures[p.Figure]
	config, err := png.DecodeConfig(bytes.NewReader(f.PNG))
	there := err == nil && config.Width > 0 && config.Height > 0
	why := figureWhy(f, known, there)
	if why == "" {
		name := "media/figure" + p.number + ".png"
		w.media = append(w.media, docxFile{name, f.PNG})
		wide, high := config.Width*emuPerDot, config.Height*emuPerDot
		if most := (210 - 2*docxMargin) * emuPerMM; wide > most {
			wide, high = most, int(float64(high)*float64(most)/float64(wide))
		}
		if most := docxTall * emuPerMM; high > most {
			wide, high = int(float64(wide)*float64(most)/float64(high)), most
		}
		size := `cx="` + itoa(max(wide, 1)) + `" cy="` + itoa(max(high, 1)) + `"`
		alt := esc(f.Alt)
		w.paragraph("Figure", "<w:keepNext/>", `<w:r><w:drawing><wp:inline distT="0" distB="0" distL="0" distR="0"><wp:extent `+size+`/>`+
			`<wp:docPr id="`+p.number+`" name="Figure `+p.number+`" descr="`+alt+`"/><a:graphic><a:graphicData uri="`+nsPic+`">`+
			`<pic:pic><pic:nvPicPr><pic:cNvPr id="`+p.number+`" name="figure`+p.number+`.png" descr="`+alt+`"/><pic:cNvPicPr/></pic:nvPicPr>`+
			`<pic:blipFill><a:blip r:embed="figure`+p.number+`"/><a:stretch><a:fillRect/></a:stretch></pic:blipFill>`+
			`<pic:spPr><a:xfrm><a:off x="0" y="0"/><a:ext `+size+`/></a:xfrm><a:prstGeom prst="rect"><a:avLst/></a:prstGeom></pic:spPr></pic:pic>`+
			`</a:graphicData></a:graphic></wp:inline></w:drawing></w:r>`)
	}
	inner := span("<w:b/>", "Figure "+p.number+". ")
	if title := figureTitle(f.Figure); title != "" {
		inner += span("<w:b/>", title+" ")
	}
	if why != "" {
		inner += styledSpan(why+" ", dossier.Missing, "")
	}
	w.paragraph("Caption", "", w.bookmark(p.id, inner+w.runs(f.Caption)))
}
