package printing

import (
	"encoding/base64"
	"html"
	"slices"
	"strings"
	"unicode/utf8"

	"codeberg.org/go-fonts/liberation/liberationmonoregular"
	"codeberg.org/go-fonts/liberation/liberationserifbold"
	"codeberg.org/go-fonts/liberation/liberationserifbolditalic"
	"codeberg.org/go-fonts/liberation/liberationserifitalic"
	"codeberg.org/go-fonts/liberation/liberationserifregular"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// policy is what the page may load: what is in it, and nothing else. Nothing runs.
const policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; form-action 'none'"

// page builds one HTML page.
type page struct {
	strings.Builder
	*outline
	figures map[string]app.PrintedFigure
	used    [5]map[rune]bool // characters in each face
	face    int              // that text goes to now
}

// The faces of the page.
const (
	upright = iota
	italic
	bold
	boldItalic
	mono
)

var faces = [...]struct {
	ttf                   []byte
	family, style, weight string
	name                  string // in the font itself
}{
	upright:    {liberationserifregular.TTF, "Dossier Serif", "normal", "400", "Dossier Serif"},
	italic:     {liberationserifitalic.TTF, "Dossier Serif", "italic", "400", "Dossier Serif Italic"},
	bold:       {liberationserifbold.TTF, "Dossier Serif", "normal", "700", "Dossier Serif Bold"},
	boldItalic: {liberationserifbolditalic.TTF, "Dossier Serif", "italic", "700", "Dossier Serif Bold Italic"},
	mono:       {liberationmonoregular.TTF, "Dossier Mono", "normal", "400", "Dossier Mono"},
}

// HTML is one page that needs no other file. Fonts are cut to the characters of
// the page; figures are SVG; nothing in it runs and nothing is loaded.
func (p *Printer) HTML(d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	g := &page{outline: layOut(d), figures: byName(figures)}
	for i := range g.used {
		g.used[i] = map[rune]bool{}
	}
	g.body()
	body := g.String()

	var out strings.Builder
	out.WriteString("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")
	out.WriteString(`<meta http-equiv="Content-Security-Policy" content="` + policy + "\">\n")
	out.WriteString("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light dark\">\n")
	if a := clean(d.Authors); a != "" {
		out.WriteString(`<meta name="author" content="` + html.EscapeString(a) + "\">\n")
	}
	out.WriteString("<title>" + html.EscapeString(titleOf(d)) + "</title>\n<style>\n")
	if err := g.fontFaces(&out); err != nil {
		return nil, err
	}
	out.WriteString(pageStyle)
	out.WriteString(printStyle(d))
	out.WriteString("</style>\n</head>\n")
	out.WriteString(body)
	out.WriteString("</html>\n")
	return []byte(out.String()), nil
}

func byName(figures []app.PrintedFigure) map[string]app.PrintedFigure {
	m := map[string]app.PrintedFigure{}
	for _, f := range figures {
		if _, twice := m[f.Name]; !twice {
			m[f.Name] = f
		}
	}
	return m
}

// fontFaces writes the fonts, each cut to the characters that were written in it.
func (g *page) fontFaces(out *strings.Builder) error {
	// What the style itself writes: numbers of lists, quotes, brackets, page numbers.
	for r := rune(' '); r <= '~'; r++ {
		g.used[upright][r], g.used[bold][r] = true, true
	}
	for _, r := range "•–—…·" {
		g.used[upright][r] = true
	}
	for i, f := range faces {
		if len(g.used[i]) == 0 {
			continue
		}
		cut, err := subset(f.ttf, g.used[i], f.name)
		if err != nil {
			return err
		}
		out.WriteString(`@font-face{font-family:"` + f.family + `";font-style:` + f.style + ";font-weight:" + f.weight +
			";src:url(data:font/woff;base64," + base64.StdEncoding.EncodeToString(cut) + ") format(\"woff\")}\n")
	}
	return nil
}

// text writes text that is nothing but text.
func (g *page) text(s string) {
	s = clean(s)
	for _, r := range s {
		g.used[g.face][r] = true
	}
	g.WriteString(html.EscapeString(s))
}

// in writes text in another face.
func (g *page) in(face int, s string) {
	was := g.face
	g.face = face
	g.text(s)
	g.face = was
}

func (g *page) body() {
	g.WriteString("<body>\n<a class=\"skip\" href=\"#content\">")
	g.text("Go to the text")
	g.WriteString("</a>\n")
	if g.Invented {
		g.WriteString("<p class=\"invented\" role=\"note\">")
		g.in(bold, inventedText)
		g.WriteString("</p>\n")
	}
	g.WriteString("<header>\n<h1 dir=\"auto\">")
	g.in(bold, titleOf(g.Document))
	g.WriteString("</h1>\n")
	for _, line := range []struct{ class, text string }{{"subtitle", g.Subtitle}, {"byline", byline(g.Document)}} {
		if strings.TrimSpace(clean(line.text)) != "" {
			g.WriteString(`<p class="` + line.class + `" dir="auto">`)
			g.text(line.text)
			g.WriteString("</p>\n")
		}
	}
	g.WriteString("</header>\n")
	g.contents()
	g.WriteString("<main id=\"content\">\n")
	for _, p := range g.parts {
		g.block(p)
	}
	g.WriteString("</main>\n</body>\n")
}

func (g *page) contents() {
	heads := slices.DeleteFunc(g.heads(), func(h part) bool { return h.Level > 2 })
	if len(heads) < 2 {
		return
	}
	g.WriteString("<nav aria-labelledby=\"contents\">\n<h2 id=\"contents\">")
	g.in(bold, contentsText)
	g.WriteString("</h2>\n<ul>\n")
	open := false
	for i, h := range heads {
		if h.Level == 1 && open {
			g.WriteString("</ul></li>\n")
			open = false
		}
		if h.Level == 2 && !open { // below the entry before, which layOut makes one of level 1
			g.WriteString("<ul>\n")
			open = true
		}
		g.WriteString(`<li><a href="#` + h.id + `"><span class="number">`)
		g.text(h.number)
		g.WriteString("</span> ")
		g.text(plainText(h.Text))
		g.WriteString("</a>")
		if h.Level == 2 || i+1 == len(heads) || heads[i+1].Level == 1 {
			g.WriteString("</li>\n")
		}
	}
	if open {
		g.WriteString("</ul></li>\n")
	}
	g.WriteString("</ul>\n</nav>\n")
}

func (g *page) block(p part) {
	switch p.Kind {
	case dossier.HeadingBlock:
		tag := []string{"h2", "h3", "h4"}[p.Level-1]
		g.WriteString("<" + tag + ` id="` + p.id + `" dir="auto"><span class="number">`)
		g.in(bold, p.number)
		g.WriteString("</span> ")
		g.face = bold
		g.runs(p.Text)
		g.face = upright
		g.WriteString("</" + tag + ">\n")
	case dossier.ParagraphBlock:
		g.WriteString("<p dir=\"auto\">")
		g.runs(p.Text)
		g.WriteString("</p>\n")
	case dossier.NoteBlock:
		g.WriteString("<p class=\"note\" dir=\"auto\">")
		g.runs(p.Text)
		g.WriteString("</p>\n")
	case dossier.ListBlock:
		g.list(p.Items)
	case dossier.CautionBlock:
		g.WriteString("<div class=\"caution\" role=\"note\">\n<p dir=\"auto\"><strong>")
		g.in(bold, cautionText+".")
		g.WriteString("</strong> ")
		g.runs(p.Text)
		g.WriteString("</p>\n")
		g.list(p.Items)
		g.WriteString("</div>\n")
	case dossier.TableBlock:
		g.table(p)
	case dossier.FigureBlock:
		g.figure(p)
	}
}

func (g *page) list(items [][]dossier.Run) {
	if len(items) == 0 {
		return
	}
	g.WriteString("<ul>\n")
	for _, item := range items {
		g.WriteString("<li dir=\"auto\">")
		g.runs(item)
		g.WriteString("</li>\n")
	}
	g.WriteString("</ul>\n")
}

// runs writes spans, each in its style and with its link.
func (g *page) runs(runs []dossier.Run) {
	for _, r := range runs {
		id, address := g.place(r.Link)
		switch {
		case id != "":
			g.WriteString(`<a href="#` + id + `">`)
		case address != "":
			g.WriteString(`<a href="` + html.EscapeString(address) + `" rel="noreferrer">`)
		}
		g.styled(r.Text, r.Style)
		if id != "" || address != "" {
			g.WriteString("</a>")
		}
	}
}

func (g *page) styled(s string, style dossier.Style) {
	open, end, face := "", "", g.face
	switch style {
	case dossier.Italic:
		open, end, face = "<i>", "</i>", italic
		if g.face == bold {
			face = boldItalic
		}
	case dossier.Bold:
		open, end, face = "<b>", "</b>", bold
	case dossier.Code:
		open, end, face = "<code>", "</code>", mono
	case dossier.Missing:
		open, end = `<span class="missing">`, "</span>"
		if len(s) <= longestName {
			open = `<span class="missing whole">`
		}
	case dossier.Superior:
		open, end = "<sup>", "</sup>"
	}
	g.WriteString(open)
	for i, one := range exponents(s) {
		if i%2 == 1 {
			g.WriteString("<sup>")
		}
		g.in(face, one)
		if i%2 == 1 {
			g.WriteString("</sup>")
		}
	}
	g.WriteString(end)
}

// How many characters fit across a page at the sizes of a table. Above the last,
// the page is turned.
const (
	tableFits   = 88
	smallFits   = 112
	manyColumns = 9
	longestName = 32 // of a species in a cell, or of "not recorded": stays on one line
)

// tableClass says how small a table is set on paper.
func tableClass(t *dossier.Table) string {
	longest, word := widths(t)
	wants, needs := 0, 0
	for i := range longest {
		wants += min(longest[i], max(word[i], 24)) + 2
		needs += word[i] + 2
	}
	switch {
	case needs > smallFits || len(t.Columns) > manyColumns && wants > smallFits:
		return "turned"
	case wants > tableFits:
		return "small"
	}
	return ""
}

func (g *page) table(p part) {
	t := p.Table
	class := strings.TrimSpace("table " + tableClass(t))
	g.WriteString(`<div class="` + class + `" id="` + p.id + `" role="group" tabindex="0" aria-labelledby="` + p.id + "-title\">\n<table>\n")
	g.WriteString(`<caption id="` + p.id + `-title" dir="auto"><b>`)
	g.in(bold, "Table "+p.number+".")
	g.WriteString("</b> ")
	g.text(sentence(t.Title))
	g.WriteString("</caption>\n<thead><tr>")
	for _, c := range t.Columns {
		g.WriteString("<th scope=\"col\"" + classOf(c) + ">")
		g.in(bold, columnTitle(c))
		g.WriteString("</th>")
	}
	g.WriteString("</tr></thead>\n<tbody>\n")
	if len(t.Rows) == 0 {
		n := itoa(max(len(t.Columns), 1))
		g.WriteString(`<tr><td colspan="` + n + `">`)
		g.text(noRowsText)
		g.WriteString("</td></tr>\n")
	}
	for _, row := range t.Rows {
		g.WriteString("<tr>")
		for i, c := range t.Columns {
			cell := cellAt(row, i)
			tag := "td"
			if i == 0 {
				tag = `th scope="row"`
			}
			g.WriteString("<" + tag + classOf(c) + " dir=\"auto\">")
			if cell.Style == dossier.Italic && len(cell.Text) <= longestName {
				g.WriteString(`<span class="whole">`)
				g.styled(cell.Text, cell.Style)
				g.WriteString("</span>")
			} else {
				g.styled(cell.Text, cell.Style)
			}
			g.WriteString("</" + tag[:2] + ">")
		}
		g.WriteString("</tr>\n")
	}
	g.WriteString("</tbody>\n</table>\n")
	if n := clean(t.Note); n != "" {
		g.WriteString("<p class=\"note\" dir=\"auto\">")
		g.text(n)
		g.WriteString("</p>\n")
	}
	g.WriteString("</div>\n")
}

func classOf(c dossier.Column) string {
	if c.Numbers {
		return ` class="numbers"`
	}
	return ""
}

func (g *page) figure(p part) {
	f, known := g.figures[p.Figure]
	g.WriteString(`<figure id="` + p.id + "\">\n")
	why := figureWhy(f, known, len(f.SVG) > 0)
	if why == "" {
		g.WriteString(`<img alt="` + html.EscapeString(clean(f.Alt)) + `" src="data:image/svg+xml;base64,` + base64.StdEncoding.EncodeToString(f.SVG) + "\">\n")
	}
	g.WriteString("<figcaption dir=\"auto\"><b>")
	g.in(bold, "Figure "+p.number+".")
	g.WriteString("</b> ")
	if title := figureTitle(f.Figure); title != "" {
		g.WriteString("<b>")
		g.in(bold, title)
		g.WriteString("</b> ")
	}
	if why != "" {
		g.styled(why, dossier.Missing)
		g.WriteString(" ")
	}
	g.runs(f.Caption)
	g.WriteString("</figcaption>\n</figure>\n")
}

// figureTitle is the title of a figure, unless its caption begins with it.
func figureTitle(f dossier.Figure) string {
	title := sentence(f.Title)
	if strings.HasPrefix(plainText(f.Caption), strings.TrimSuffix(title, ".")) {
		return ""
	}
	return title
}

// figureWhy says why there is no picture; "" where there is one.
func figureWhy(f app.PrintedFigure, known, printed bool) string {
	switch {
	case !known:
		return notDrawnText + notThereText + "."
	case f.Why != "":
		return notDrawnText + sentence(f.Why)
	case !printed:
		return notDrawnText + "no picture was made of it."
	}
	return ""
}

// cssText is text as a string in a style sheet: whatever it holds, it ends neither
// the string nor the style sheet.
func cssText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range clean(s) {
		switch {
		case r == ' ', r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', r >= 0xa0 && r != utf8.RuneError:
			b.WriteRune(r)
		default:
			b.WriteString(`\` + hex(r) + " ")
		}
	}
	b.WriteByte('"')
	return b.String()
}
