package printing

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"brinefield/core/dossier"
)

// pdf writes the sheet as one page of its own size, letters embedded. It carries no
// time of its making, so that the same figure gives the same bytes.
func (s *drawing) pdf() ([]byte, error) {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.width, Ht: s.height}})
	fixed := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(fixed)
	doc.SetModificationDate(fixed)
	doc.SetCatalogSort(true)
	doc.SetTitle(printable(s.title), true)
	doc.SetSubject(s.alt, true)
	doc.SetLang("en")
	doc.SetProducer("Brinefield", true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	for _, italic := range []bool{false, true} {
		if used := s.letters(italic); len(used) > 0 {
			ttf := fpdf.UTF8CutFont(bytes.Clone(figureFace(italic).ttf), string(used))
			doc.AddUTF8FontFromBytes(pdfFamily(italic), "", ttf)
		}
	}
	doc.AddPage()
	doc.SetLineJoinStyle("round")
	for i, it := range s.items {
		switch it := it.(type) {
		case stroked:
			pdfLine(doc, it.colour, it.width, it.dash)
			for _, l := range it.lines {
				pdfPath(doc, l, it.closed)
			}
			doc.DrawPath("D")
		case filled:
			doc.SetFillColor(int(it.colour.R), int(it.colour.G), int(it.colour.B))
			for _, l := range it.areas {
				pdfPath(doc, l, true)
			}
			doc.DrawPath("f*")
		case marks:
			pdfMarks(doc, it)
		case words:
			pdfWords(doc, it)
		case raster:
			var raw bytes.Buffer
			if err := png.Encode(&raw, it.grey); err != nil {
				return nil, err
			}
			name, opt := fmt.Sprintf("grey%d", i), fpdf.ImageOptions{ImageType: "png"}
			doc.RegisterImageOptionsReader(name, opt, &raw)
			doc.ImageOptions(name, it.at.x, it.at.y, it.width, it.height, false, opt, 0, "")
		}
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		return nil, err
	}
	return renamed(out.Bytes()), nil
}

// The names of the fonts. fpdf puts "utf8" before a name of small letters; a PDF
// says by six capitals and a plus that a font is a subset (ISO 32000-1, 9.6.4).
// Both names are of one length, so that no offset in the file moves.
const (
	uprightFamily, uprightName = "figuresansupright", "BRNFLD+LiberationSans"
	slantedFamily, slantedName = "figuresansslantedletters", "BRNFLD+LiberationSans-Italic"
)

func pdfFamily(italic bool) string {
	if italic {
		return slantedFamily
	}
	return uprightFamily
}

func renamed(pdf []byte) []byte {
	pdf = bytes.ReplaceAll(pdf, []byte("/utf8"+slantedFamily), []byte("/"+slantedName))
	return bytes.ReplaceAll(pdf, []byte("/utf8"+uprightFamily), []byte("/"+uprightName))
}

func pdfLine(doc *fpdf.Fpdf, c color.NRGBA, width float64, dash []float64) {
	doc.SetDrawColor(int(c.R), int(c.G), int(c.B))
	doc.SetLineWidth(width)
	doc.SetDashPattern(dash, 0)
}

func pdfPath(doc *fpdf.Fpdf, line []point, closed bool) {
	for i, p := range line {
		if i == 0 {
			doc.MoveTo(p.x, p.y)
			continue
		}
		doc.LineTo(p.x, p.y)
	}
	if closed {
		doc.ClosePath()
	}
}

func pdfMarks(doc *fpdf.Fpdf, m marks) {
	how := ""
	if m.fill != nil {
		doc.SetFillColor(int(m.fill.R), int(m.fill.G), int(m.fill.B))
		how = "F"
	}
	if m.line != nil {
		pdfLine(doc, *m.line, m.stroke, nil)
		how += "D"
	}
	shape, closed := markOutline(m.shape, m.size)
	for _, at := range m.at {
		if m.shape == dossier.Circle {
			for _, seg := range circle(at, m.size/2) {
				if seg.move {
					doc.MoveTo(seg.to.x, seg.to.y)
				} else {
					doc.CurveBezierCubicTo(seg.c1.x, seg.c1.y, seg.c2.x, seg.c2.y, seg.to.x, seg.to.y)
				}
			}
			doc.ClosePath()
			continue
		}
		for _, l := range shape {
			moved := make([]point, len(l))
			for i, p := range l {
				moved[i] = point{at.x + p.x, at.y + p.y}
			}
			pdfPath(doc, moved, closed)
		}
	}
	doc.DrawPath(how)
}

// circle is four cubics, off the true circle by 0.03 % of its radius at most.
func circle(m point, r float64) []segment {
	const k = 0.5522847498307936 // 4/3 × (√2 − 1)
	at := func(x, y float64) point { return point{m.x + x*r, m.y + y*r} }
	return []segment{
		{move: true, to: at(1, 0)},
		{controls: 2, c1: at(1, k), c2: at(k, 1), to: at(0, 1)},
		{controls: 2, c1: at(-k, 1), c2: at(-1, k), to: at(-1, 0)},
		{controls: 2, c1: at(-1, -k), c2: at(-k, -1), to: at(0, -1)},
		{controls: 2, c1: at(k, -1), c2: at(1, -k), to: at(1, 0)},
	}
}

func pdfWords(doc *fpdf.Fpdf, w words) {
	if w.turn != 0 {
		doc.TransformBegin()
		doc.TransformRotate(w.turn, w.at.x, w.at.y)
		defer doc.TransformEnd()
	}
	put := func() {
		for _, p := range wordPieces(w.runs, w.size) {
			doc.SetFont(pdfFamily(p.italic), "", p.size)
			doc.Text(w.at.x+p.x, w.at.y+p.y, p.text)
		}
	}
	if w.halo > 0 {
		pdfLine(doc, colours[dossier.Paper], w.halo, nil)
		doc.SetTextColor(255, 255, 255)
		doc.SetTextRenderingMode(2)
		put()
		doc.SetTextRenderingMode(0)
	}
	doc.SetTextColor(int(w.colour.R), int(w.colour.G), int(w.colour.B))
	put()
}
