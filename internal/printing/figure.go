package printing

import (
	"errors"
	"fmt"
	"slices"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// Figure draws one figure at its printed size, 88 or 180 mm wide: "svg" with its
// letters embedded, "pdf" with embedded subsets of its fonts, "png" at 300 dpi. The same figure
// gives the same bytes. A figure with Why, and one whose axes or grids make no
// sense, is an error that names the panel.
func (p *Printer) Figure(f dossier.Figure, fp app.FigurePrint) ([]byte, error) {
	write := map[string]func(*drawing) ([]byte, error){"svg": (*drawing).svg, "pdf": (*drawing).pdf, "png": (*drawing).png}[fp.Format]
	if write == nil {
		return nil, fmt.Errorf("figure %q: format %q is not known: svg, pdf or png", f.Name, fp.Format)
	}
	s, err := draw(f, fp.Wide)
	if err != nil {
		return nil, fmt.Errorf("figure %q: %w", f.Name, err)
	}
	out, err := write(s)
	if err != nil {
		return nil, fmt.Errorf("figure %q as %s: %w", f.Name, fp.Format, err)
	}
	return out, nil
}

// draw lays a figure out.
func draw(f dossier.Figure, wide bool) (*drawing, error) {
	switch {
	case f.Why != "":
		return nil, fmt.Errorf("there is nothing to draw: %s", f.Why)
	case len(f.Panels) == 0:
		return nil, errors.New("it has no panel")
	case len(f.Panels) > mostPanels:
		return nil, fmt.Errorf("it has %d panels: at most %d fit", len(f.Panels), mostPanels)
	}
	if err := loadFonts(); err != nil {
		return nil, err
	}
	f.Panels = slices.Clone(f.Panels)
	for {
		s, again, err := drawOnce(f, wide)
		if err != nil || !again {
			return s, err
		}
	}
}

// drawOnce draws a figure. Where a legend finds no free corner it is moved below,
// and the figure has to be laid out again.
func drawOnce(f dossier.Figure, wide bool) (s *drawing, again bool, err error) {
	panels, width, height, err := layPanels(f, wide)
	if err != nil {
		return nil, false, err
	}
	s = &drawing{width: width, height: height, title: f.Title, alt: f.Alt}
	for i, p := range panels {
		c := &canvas{placed: p, s: s, first: len(s.items)}
		if err := c.all(); err != nil {
			return nil, false, fmt.Errorf("panel %d: %w", i+1, err)
		}
		if !p.keys.below && p.keys.at == "" && len(p.keys.entries) > 0 {
			f.Panels[i].LegendAt = "below"
			again = true
		}
	}
	return s, again, nil
}

// all draws a panel: shades beneath everything, then the layers in order, frame and
// ticks, marks that lie on these, words on top.
func (c *canvas) all() error {
	for _, l := range c.Layers {
		if t, ok := l.(dossier.Tones); ok {
			if err := c.tones(t); err != nil {
				return err
			}
		}
	}
	c.reserve()
	for _, l := range c.Layers {
		if err := c.layer(l); err != nil {
			return err
		}
	}
	for i, w := range c.over {
		c.over[i] = c.onGround(w)
	}
	c.chooseCorner()
	c.furniture(c.s)
	for _, e := range c.edge {
		drawMarks(c.s, e.at, e.look)
	}
	for _, w := range c.over {
		c.s.put(w)
	}
	return nil
}
