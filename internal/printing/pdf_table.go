package printing

import (
	"strings"

	"brinefield/core/dossier"
)

const (
	cellGap       = 2.6 // mm between columns
	smallestTable = 5.5 // points
	smallEnough   = 6.8 // points: below, a page is turned
)

// table sets a table below its caption; its head stands again on each page.
func (s *sheet) table(p part, found map[string]int) {
	t := p.Table
	class := tableClass(t)
	size := map[string]float64{"": smallSize, "small": 7.5, "turned": 7.5}[class]
	turn := class == "turned"
	if turn { // only where upright it would be too small
		s.left, s.right = pageMargin, paperWidth-pageMargin
		small, _ := s.columns(t, size)
		turn = small < smallEnough
	}
	if turn != s.turned {
		s.newPage(turn)
	}
	s.column(true)
	size, wide := s.columns(t, size)
	if sum := total(wide); !turn && sum <= paperWidth-2*textMargin {
		s.column(false)
	}
	s.y += 2
	s.room(28)
	s.reached(p, found)
	s.text([]dossier.Run{{Text: "Table " + p.number + ". ", Style: dossier.Bold}, {Text: sentence(t.Title)}}, smallSize+0.5, 0, lineFactor)
	s.y++
	if len(t.Columns) > 0 {
		s.grid(t, size, wide)
	}
	if len(t.Rows) == 0 {
		s.text([]dossier.Run{{Text: noRowsText}}, smallSize, 0, lineFactor)
	}
	if strings.TrimSpace(clean(t.Note)) != "" {
		s.text([]dossier.Run{{Text: t.Note}}, smallSize, 0, lineFactor)
	}
	s.y += 4
}

// wants are the widths in mm, at one point of size, of the longest cell of each
// column and of its longest word.
func (s *sheet) wants(t *dossier.Table) (longest, word []float64) {
	const at = 10 // points
	longest, word = make([]float64, len(t.Columns)), make([]float64, len(t.Columns))
	note := func(i int, text string, style dossier.Style, head bool) {
		if style == dossier.Missing && text != "" {
			text = missingPrefix + text + missingSuffix
		}
		p := piece{face: faceOf(style)}
		text = s.printable(p.face, text)
		if !head {
			longest[i] = max(longest[i], s.measured(p, text, at)/at)
		}
		for w := range strings.SplitSeq(text, " ") {
			word[i] = max(word[i], s.measured(p, w, at)/at)
		}
	}
	for i, c := range t.Columns {
		note(i, columnTitle(c), dossier.Bold, true)
		for _, row := range t.Rows {
			cell := cellAt(row, i)
			note(i, cell.Text, cell.Style, false)
		}
		word[i] += 0.001 // what is as wide as its column stays on its line
		longest[i] = max(longest[i]+0.001, word[i])
	}
	return longest, word
}

// columns shares the width out, and makes the letters smaller where the longest
// words do not fit.
func (s *sheet) columns(t *dossier.Table, size float64) (float64, []float64) {
	longest, word := s.wants(t)
	have := s.right - s.left - cellGap*float64(len(word))
	want, need := total(longest), total(word)
	for need*size > have && size > smallestTable {
		size = max(size*0.96, smallestTable)
	}
	wide := make([]float64, len(word))
	for i := range wide {
		switch {
		case want*size <= have:
			wide[i] = longest[i] * size
		case need*size >= have: // words break
			wide[i] = word[i] * size
		default: // each gets its longest word, and its share of the rest
			wide[i] = word[i]*size + (longest[i]-word[i])*(have-need*size)/(want-need)
		}
	}
	for i, w := range shrunk(wide, max(have, 1)) {
		wide[i] = w + cellGap
	}
	return size, wide
}

// shrunk has widths end where the page does.
func shrunk(wide []float64, have float64) []float64 {
	share := min(1, have/max(total(wide), 1))
	for i := range wide {
		wide[i] *= share
	}
	return wide
}

func total(wide []float64) (sum float64) {
	for _, w := range wide {
		sum += w
	}
	return sum
}

// grid sets head and rows. A row stays on one page where a page can hold it.
func (s *sheet) grid(t *dossier.Table, size float64, wide []float64) {
	step := size * 1.3 * mmPerPoint
	end := s.left + total(wide)
	left := s.left
	var head [][][]piece
	high := 0
	for i, c := range t.Columns {
		lines := s.lines([]dossier.Run{{Text: columnTitle(c), Style: dossier.Bold}}, size, max(wide[i]-cellGap, 1)+0.01)
		head = append(head, lines)
		high = max(high, len(lines))
	}
	high = min(high, 12)
	top := func() {
		s.rule(s.left, end, 0.4)
		s.y += 0.8
		for i := range head { // at the foot of the head
			head[i] = head[i][:min(len(head[i]), high)]
		}
		s.cells(t, head, wide, size, step, high, true)
		s.y += 0.8
		s.rule(s.left, end, 0.2)
		s.y += 0.5
	}
	top()
	for r, row := range t.Rows {
		if r%256 == 0 && s.ctx.Err() != nil {
			return
		}
		var cells [][][]piece
		lines := 1
		for i := range t.Columns {
			c := cellAt(row, i)
			l := s.lines([]dossier.Run{{Text: c.Text, Style: c.Style}}, size, max(wide[i]-cellGap, 1)+0.01)
			cells = append(cells, l)
			lines = max(lines, len(l))
		}
		for from := 0; from < lines; {
			fits := int((s.bottom() - s.y - 1.2) / step)
			page := int((s.bottom()-topMargin-1.2)/step) - high - 2 // lines of a whole page
			if fits < 1 || from == 0 && fits < lines && lines <= page {
				s.rule(s.left, end, 0.2)
				s.newPage(s.turned)
				s.left = left
				top()
				continue
			}
			take := min(fits, lines-from)
			part := make([][][]piece, len(cells))
			for i, l := range cells {
				if from < len(l) {
					part[i] = l[from:min(from+take, len(l))]
				}
			}
			s.y += 0.5
			s.cells(t, part, wide, size, step, take, false)
			s.y += 0.5
			from += take
		}
		if r+1 < len(t.Rows) {
			s.f.SetDrawColor(205, 205, 200)
			s.rule(s.left, end, 0.1)
			s.f.SetDrawColor(0, 0, 0)
		}
	}
	s.rule(s.left, end, 0.4)
	s.y += 1
}

// cells writes the lines of one row, those of a head at its foot.
func (s *sheet) cells(t *dossier.Table, cells [][][]piece, wide []float64, size, step float64, high int, foot bool) {
	x := s.left
	for i, lines := range cells {
		y := s.y
		if foot {
			y += step * float64(high-len(lines))
		}
		for _, line := range lines {
			at := x
			if t.Columns[i].Numbers {
				at = x + wide[i] - cellGap
				for _, p := range line {
					at -= p.wide
				}
			}
			s.line(line, size, at, y+size*mmPerPoint)
			y += step
		}
		x += wide[i]
	}
	s.y += step * float64(high)
}
