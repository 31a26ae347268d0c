package printing

import (
	"strings"

	"brinefield/core/dossier"
)

// Markdown is text that pandoc reads (its own Markdown: pipe tables, attributes of
// headings), for a manuscript. It names figures by their files below figures/, as
// seen from the folder report.
func (p *Printer) Markdown(d dossier.Document, figures []dossier.Figure) ([]byte, error) {
	m := &markdown{outline: layOut(d), figures: map[string]dossier.Figure{}}
	for _, f := range figures {
		m.figures[f.Name] = f
	}
	m.WriteString("---\ntitle: " + yamlText(titleOf(d)) + "\n")
	for _, line := range [][2]string{{"subtitle", d.Subtitle}, {"author", d.Authors}, {"date", d.Date}} {
		if s := strings.TrimSpace(clean(line[1])); s != "" {
			m.WriteString(line[0] + ": " + yamlText(s) + "\n")
		}
	}
	m.WriteString("---\n\n")
	if d.Invented {
		m.WriteString("**" + inventedText + ".**\n\n")
	}
	for _, part := range m.parts {
		m.block(part)
	}
	return []byte(strings.TrimRight(m.String(), "\n") + "\n"), nil
}

type markdown struct {
	strings.Builder
	*outline
	figures map[string]dossier.Figure
}

func (m *markdown) block(p part) {
	switch p.Kind {
	case dossier.HeadingBlock:
		m.WriteString(strings.Repeat("#", p.Level) + " " + m.runs(p.Text) + " {#" + p.id + "}\n\n")
	case dossier.ParagraphBlock, dossier.NoteBlock:
		m.WriteString(m.runs(p.Text) + "\n\n")
	case dossier.ListBlock:
		m.list("", p.Items)
	case dossier.CautionBlock:
		m.WriteString("> **" + cautionText + ".** " + m.runs(p.Text) + "\n")
		if len(p.Items) > 0 {
			m.WriteString(">\n")
			m.list("> ", p.Items)
			return
		}
		m.WriteString("\n")
	case dossier.TableBlock:
		m.table(p)
	case dossier.FigureBlock:
		m.figure(p)
	}
}

func (m *markdown) list(before string, items [][]dossier.Run) {
	for _, item := range items {
		m.WriteString(before + "- " + m.runs(item) + "\n")
	}
	m.WriteString("\n")
}

func (m *markdown) table(p part) {
	t := p.Table
	m.WriteString("[]{#" + p.id + "}**Table " + p.number + ".** " + markdownText(sentence(t.Title)) + "\n\n")
	if len(t.Columns) == 0 {
		m.WriteString(noRowsText + "\n\n")
		return
	}
	row := func(cells []string) { m.WriteString("| " + strings.Join(cells, " | ") + " |\n") }
	longest, _ := widths(t)
	heads, rules := []string{}, []string{}
	for i, c := range t.Columns {
		heads = append(heads, markdownText(columnTitle(c)))
		rule := strings.Repeat("-", min(max(longest[i], 3), 40)) // pandoc shares the page out by it
		if c.Numbers {
			rule = rule[1:] + ":"
		}
		rules = append(rules, rule)
	}
	row(heads)
	row(rules)
	for _, r := range t.Rows {
		cells := []string{}
		for i := range t.Columns {
			c := cellAt(r, i)
			cells = append(cells, markdownStyled(c.Text, c.Style))
		}
		row(cells)
	}
	m.WriteString("\n")
	if len(t.Rows) == 0 {
		m.WriteString(noRowsText + "\n\n")
	}
	if n := strings.TrimSpace(clean(t.Note)); n != "" {
		m.WriteString(markdownText(n) + "\n\n")
	}
}

func (m *markdown) figure(p part) {
	f, known := m.figures[p.Figure]
	caption := "**Figure " + p.number + ".** "
	if title := figureTitle(f); title != "" {
		caption += "**" + markdownText(title) + "** "
	}
	caption = strings.TrimSpace(caption + m.runs(f.Caption))
	switch {
	case !known:
		m.WriteString("[]{#" + p.id + "}" + caption + " " + markdownText(notDrawnText+notThereText+".") + "\n\n")
	case f.Why != "":
		m.WriteString("[]{#" + p.id + "}" + caption + " " + markdownText(notDrawnText+sentence(f.Why)) + "\n\n")
	default:
		name := freeID(f.Name, "figure", map[string]bool{})
		m.WriteString("![" + caption + "](../figures/" + name + "-double.svg){#" + p.id)
		if alt := strings.TrimSpace(clean(f.Alt)); alt != "" {
			m.WriteString(` alt="` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(alt) + `"`)
		}
		m.WriteString("}\n\n")
	}
}

func (m *markdown) runs(runs []dossier.Run) string {
	var b strings.Builder
	for _, r := range merged(runs) {
		text := markdownStyled(r.Text, r.Style)
		switch id, address := m.place(r.Link); {
		case id != "" && text != "":
			text = "[" + text + "](#" + id + ")"
		case address != "" && text != "":
			text = "[" + text + "](<" + address + ">)" // net/url leaves neither < nor > in an address
		}
		b.WriteString(text)
	}
	return strings.TrimSpace(b.String())
}

// merged joins neighbours of one style, so that no sign escapes notice where two meet.
func merged(runs []dossier.Run) (out []dossier.Run) {
	for _, r := range runs {
		if n := len(out); n > 0 && out[n-1].Style == r.Style && out[n-1].Link == r.Link {
			out[n-1].Text += r.Text
			continue
		}
		out = append(out, r)
	}
	return out
}

// markdownStyled is text in a style. The marks of a style stand right at its first
// and last letter, as they must.
func markdownStyled(s string, style dossier.Style) string {
	s = clean(s)
	inner := strings.TrimSpace(s)
	if inner == "" || style == dossier.Plain {
		return markdownText(s)
	}
	i := strings.Index(s, inner)
	before, after := s[:i], s[i+len(inner):]
	var marked string
	switch style {
	case dossier.Italic:
		marked = "*" + markdownText(inner) + "*"
	case dossier.Bold:
		marked = "**" + markdownText(inner) + "**"
	case dossier.Code:
		marked = codeSpan(inner)
	case dossier.Missing:
		marked = "[" + markdownText(missingPrefix+inner+missingSuffix) + "]{.smallcaps}"
	case dossier.Superior:
		marked = "^" + strings.ReplaceAll(markdownText(inner), " ", `\ `) + "^"
	default:
		marked = markdownText(inner)
	}
	return before + marked + after
}

// codeSpan is text between as many backticks as it takes. A pipe in it would end
// the cell of a table, so that text with one is not set as code.
func codeSpan(s string) string {
	if strings.Contains(s, "|") {
		return markdownText(s)
	}
	longest, n := 0, 0
	for _, r := range s {
		if r == '`' {
			n++
		} else {
			n = 0
		}
		longest = max(longest, n)
	}
	if longest == 0 {
		return "`" + s + "`"
	}
	fence := strings.Repeat("`", longest+1)
	return fence + " " + s + " " + fence
}

// markdownText is text in which nothing is a mark. Every sign of ASCII may stand
// after a backslash (pandoc: all_symbols_escapable); those that can mean something
// do.
func markdownText(s string) string {
	s = clean(s)
	var b strings.Builder
	for i, r := range s {
		switch {
		case strings.ContainsRune("\\`*_{}[]<>|^~$#@\"'&!", r):
			b.WriteByte('\\')
		case strings.ContainsRune("+-:=", r) && (i == 0 || i+1 < len(s) && s[i+1] == byte(r)):
			b.WriteByte('\\') // a list, a definition, or a dash
		case r == '.' && i+1 < len(s) && s[i+1] == '.', // an ellipsis
			(r == '.' || r == ')') && (i+1 == len(s) || s[i+1] == ' ') && numbered(s[:i]), // a numbered list
			r == '(' && i == 0:
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// numbered is whether text so far could be the number of a list: digits, one
// letter, or a Roman number.
func numbered(s string) bool {
	s = strings.ToLower(strings.TrimLeft(s, " ("))
	return s != "" && len(s) <= 9 && (len(s) == 1 && s[0] < 0x80 || strings.Trim(s, "0123456789") == "" || strings.Trim(s, "ivxlcdm") == "")
}

func yamlText(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(markdownText(s)) + `"`
}
