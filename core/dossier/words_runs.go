package dossier

import (
	"slices"
	"strings"
)

// Sentences are written as runs: {} stands for what is put in, so that nothing
// that a person wrote is ever taken for a pattern.

func italic(text string) Run     { return Run{Text: tidy(text), Style: Italic} }
func bold(text string) Run       { return Run{Text: text, Style: Bold} }
func code(text string) Run       { return Run{Text: tidy(text), Style: Code} }
func link(text, href string) Run { return Run{Text: text, Link: href} }

// orMissing is what was written, or "not recorded".
func orMissing(text string) Run {
	if text = tidy(text); text != "" {
		return Run{Text: text}
	}
	return missing
}

// say puts each {} of the pattern's places: a string, a Run or runs.
func say(pattern string, put ...any) []Run {
	parts := strings.Split(pattern, "{}")
	var out []Run
	for i, part := range parts {
		out = joinRuns(out, Run{Text: part})
		if i == len(parts)-1 || i >= len(put) {
			continue
		}
		switch v := put[i].(type) {
		case string:
			out = joinRuns(out, Run{Text: tidyKeeping(v)})
		case int:
			out = joinRuns(out, Run{Text: count(v)})
		case Run:
			out = joinRuns(out, v)
		case []Run:
			out = joinRuns(out, v...)
		}
	}
	return out
}

// tidyKeeping is [tidy], but keeps a space at either end: joined runs need it.
func tidyKeeping(text string) string {
	out := tidy(text)
	if out == "" {
		return ""
	}
	if strings.HasPrefix(text, " ") {
		out = " " + out
	}
	if strings.HasSuffix(text, " ") {
		out += " "
	}
	return out
}

// joinRuns adds runs, and joins those that look alike.
func joinRuns(to []Run, add ...Run) []Run {
	for _, r := range add {
		if r.Text == "" {
			continue
		}
		if n := len(to); n > 0 && to[n-1].Style == r.Style && to[n-1].Link == r.Link {
			to[n-1].Text += r.Text
			continue
		}
		to = append(to, r)
	}
	return to
}

// named sets the scientific names of the study in italics wherever they stand in
// a remark.
func (d *digest) named(text string) []Run {
	text = tidy(text)
	var out []Run
	for text != "" {
		at, name := len(text), ""
		for i := range d.species {
			if n := tidy(d.species[i].name); n != "" {
				if k := strings.Index(text, n); k >= 0 && (k < at || k == at && len(n) > len(name)) {
					at, name = k, n
				}
			}
		}
		out = joinRuns(out, Run{Text: text[:at]})
		if name != "" {
			out = joinRuns(out, italic(name))
		}
		text = text[at+len(name):]
	}
	return out
}

// sentencesOf makes items of remarks.
func (d *digest) sentencesOf(remarks []string) [][]Run {
	var items [][]Run
	for _, r := range remarks {
		if text := sentence(r); text != "" {
			items = append(items, d.named(text))
		}
	}
	return items
}

// textOf is the text of runs without their looks.
func textOf(runs []Run) string {
	var b strings.Builder
	for _, r := range runs {
		b.WriteString(r.Text)
	}
	return b.String()
}

// listRuns joins runs: "a, b and c".
func listRuns(items [][]Run) []Run {
	var out []Run
	for i, item := range items {
		switch {
		case i == 0:
		case i == len(items)-1:
			out = joinRuns(out, Run{Text: " and "})
		default:
			out = joinRuns(out, Run{Text: ", "})
		}
		out = joinRuns(out, item...)
	}
	return out
}

// speciesWords is a species in italics, or all of them.
func speciesWords(species string) Run {
	switch tidy(species) {
	case "all":
		return Run{Text: "all species together"}
	case "":
		return Run{Text: "species not recorded", Style: Missing}
	}
	return italic(species)
}

// passage gathers the sentences of one paragraph.
type passage []Run

func (p *passage) say(pattern string, put ...any) {
	p.add(say(pattern, put...))
}

func (p *passage) add(runs []Run) {
	if len(runs) == 0 {
		return
	}
	if len(*p) > 0 {
		*p = joinRuns(*p, Run{Text: " "})
	}
	*p = joinRuns(*p, runs...)
}

// page gathers the blocks of a document.
type page struct {
	blocks  []Block
	figures map[string]bool // given and not yet placed
	cited   []string        // keys of references, in order of first mention
}

func newPage(figures []Figure) *page {
	w := &page{figures: map[string]bool{}}
	for i := range figures {
		w.figures[figures[i].Name] = true
	}
	return w
}

func (w *page) heading(level int, anchor, title string) {
	w.blocks = append(w.blocks, Block{Kind: HeadingBlock, Level: level, Anchor: anchor, Text: []Run{{Text: title}}})
}

func (w *page) paragraph(p passage) {
	if len(p) > 0 {
		w.blocks = append(w.blocks, Block{Kind: ParagraphBlock, Text: p})
	}
}

func (w *page) say(pattern string, put ...any) { w.paragraph(say(pattern, put...)) }

func (w *page) note(pattern string, put ...any) {
	w.blocks = append(w.blocks, Block{Kind: NoteBlock, Text: say(pattern, put...)})
}

// written prints what somebody wrote, paragraph by paragraph, under the words
// that introduce it; "not recorded" where it is blank.
func (w *page) written(lead, text string) {
	parts := paragraphsOf(text)
	if len(parts) == 0 {
		w.say(lead+" {}.", missing)
		return
	}
	for i, part := range parts {
		if i == 0 {
			w.say(lead+" {}", sentence(part))
			continue
		}
		w.say("{}", part)
	}
}

func (w *page) list(items [][]Run) {
	if len(items) > 0 {
		w.blocks = append(w.blocks, Block{Kind: ListBlock, Items: items})
	}
}

// table places a table, without columns of words that are blank in every row.
func (w *page) table(t Table) {
	for k := len(t.Columns) - 1; k > 0; k-- {
		if !t.Columns[k].Numbers && !slices.ContainsFunc(t.Rows, func(row []Cell) bool { return row[k].Text != "" }) {
			t.Columns = slices.Delete(slices.Clone(t.Columns), k, k+1)
			for i := range t.Rows {
				t.Rows[i] = slices.Delete(slices.Clone(t.Rows[i]), k, k+1)
			}
		}
	}
	if len(t.Rows) > 0 {
		w.blocks = append(w.blocks, Block{Kind: TableBlock, Table: &t})
	}
}

func (w *page) caution(text []Run, items [][]Run) {
	w.blocks = append(w.blocks, Block{Kind: CautionBlock, Text: text, Items: items})
}

// figure places figures that were given.
func (w *page) figure(names ...string) {
	for _, name := range names {
		if w.figures[name] {
			delete(w.figures, name)
			w.blocks = append(w.blocks, Block{Kind: FigureBlock, Figure: name})
		}
	}
}

// rest places what no section asked for, in the order in which it was given.
func (w *page) rest(figures []Figure) {
	for i := range figures {
		w.figure(figures[i].Name)
	}
}

// roundedCell is a number with all its digits behind it.
func roundedCell(v *float64) Cell {
	if !known(v) {
		return Cell{}
	}
	return Cell{Text: Rounded(*v), Exact: exactDigits(*v)}
}

func wholeCell(n int) Cell { return Cell{Text: count(n), Exact: exactDigits(float64(n))} }

func wordCell(text string) Cell { return Cell{Text: tidy(text)} }

func speciesWordCell(species string) Cell {
	if r := speciesWords(species); r.Style != Plain {
		return Cell{Text: r.Text, Exact: tidy(species), Style: r.Style}
	}
	return Cell{Text: "all species", Exact: "all"}
}
