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

// columns shares the width out, and makes the letters smaller where the longest
// words do not fit.
func (s *sheet) columns(t *dossier.Table, size float64) (float64, []float64) {
	longest, word := widths(t)
	have := s.right - s.left
	// An average letter of the regular face, from which widths are reckoned: cells
	// that are wider break.
	letter := func() float64 { return s.measured(piece{}, "n0e ", size) / 4 * 1.16 }
	want, need := 0.0, 0.0
	for i := range word {
		need += float64(word[i])*letter() + cellGap
	}
	for need > have && size > smallestTable {
		before := size
		size = max(size*0.94, smallestTable)
		need *= size / before
	}
	wide := make([]float64, len(word))
	for i := range wide {
		wide[i] = float64(max(longest[i], 1))*letter() + cellGap
		want += wide[i]
	}
	if want <= have {
		return size, wide
	}
	if need >= have { // words break
		for i := range wide {
			wide[i] = have * (float64(max(word[i], 1))*letter() + cellGap) / max(need, 1)
		}
		return size, shrunk(wide, have)
	}
	extra := want - need // each gets its longest word, and its share of the rest
	for i := range wide {
		least := float64(word[i])*letter() + cellGap
		wide[i] = least + (wide[i]-least)*(have-need)/extra
	}
	return size, shrunk(wide, have)
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
		lines := s.lines([]dossier.Run{{Text: columnTitle(c), Style: dossier.Bold}}, size, max(wide[i]-cellGap, 1))
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
			l := s.lines([]dossier.Run{{Text: c.Text, Style: c.Style}}, size, max(wide[i]-cellGap, 1))
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
				at = x + wide[i] - cellGap/2
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
