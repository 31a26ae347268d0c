package printing

import (
	"image"
	"image/color"
	"math"
	"slices"

	"brinefield/core/dossier"
)

const toneDPI = 130.0 // of shades: they have no edges

// tones puts a grid as one picture in grey beneath everything. Between nodes the
// shade runs evenly (bilinear); what is not known is paper.
func (c *canvas) tones(l dossier.Tones) error {
	if err := gridOf(l.X, l.Y, l.Value); err != nil {
		return err
	}
	low, high := l.Min, l.Max
	if l.Log {
		low, high = math.Log10(low), math.Log10(high)
	}
	if math.IsNaN(high-low) || math.IsInf(high-low, 0) || high <= low {
		return nil // no range of shades
	}
	lightest, darkest := min(max(orZero(l.Lightest), 0), 1), min(max(orZero(l.Darkest), 0), 1)
	dark := make([][]float64, len(l.Y))
	for r, row := range l.Value {
		dark[r] = make([]float64, len(row))
		for k, v := range row {
			if l.Log {
				v = math.Log10(max(v, 1e-300))
			}
			dark[r][k] = min(max((v-low)/(high-low), 0), 1)
			if math.IsNaN(row[k]) {
				dark[r][k] = math.NaN()
			}
		}
	}
	// Only the part of the plotting area that the grid covers.
	a, b := c.to(l.X[0], l.Y[0]), c.to(l.X[len(l.X)-1], l.Y[len(l.Y)-1])
	part := box{c.plot.x0, c.plot.y0, c.plot.x1, c.plot.y1}
	if finite(a) {
		part.x0, part.y1 = max(part.x0, a.x), min(part.y1, a.y)
	}
	if finite(b) {
		part.x1, part.y0 = min(part.x1, b.x), max(part.y0, b.y)
	}
	if part.width() <= 0 || part.height() <= 0 {
		return nil
	}
	w := max(int(math.Ceil(part.width()/72*toneDPI)), 1)
	h := max(int(math.Ceil(part.height()/72*toneDPI)), 1)
	img := image.NewGray(image.Rect(0, 0, w, h))
	// Places of the columns of pixels are the same in every row.
	type between struct {
		i int
		t float64
	}
	xs := make([]between, w)
	for px := range w {
		share := (part.x0 + (float64(px)+0.5)/float64(w)*part.width() - c.plot.x0) / c.plot.width()
		xs[px].i, xs[px].t = cellOf(l.X, c.x.value(share))
	}
	for py := range h {
		share := (c.plot.y1 - part.y0 - (float64(py)+0.5)/float64(h)*part.height()) / c.plot.height()
		r, t := cellOf(l.Y, c.y.value(share))
		for px, x := range xs {
			d := (dark[r][x.i]*(1-x.t)+dark[r][x.i+1]*x.t)*(1-t) + (dark[r+1][x.i]*(1-x.t)+dark[r+1][x.i+1]*x.t)*t
			shade := uint8(255)
			if !math.IsNaN(d) {
				shade = uint8(math.Round(255 * (1 - lightest - (darkest-lightest)*d)))
			}
			img.SetGray(px, py, color.Gray{Y: shade})
		}
	}
	c.s.put(raster{at: point{part.x0, part.y0}, width: part.width(), height: part.height(), grey: img})
	return nil
}

func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// cellOf finds the cell of a rising axis that holds v, and how far into it v lies.
func cellOf(axis []float64, v float64) (int, float64) {
	i, _ := slices.BinarySearch(axis, v)
	i = min(max(i-1, 0), len(axis)-2)
	return i, min(max((v-axis[i])/(axis[i+1]-axis[i]), 0), 1)
}
