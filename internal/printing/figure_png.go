package printing

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"maps"
	"math"
	"slices"

	"git.sr.ht/~sbinet/gg"

	"brinefield/core/dossier"
)

const (
	printDPI = 300
	pngScale = printDPI / 72.0 // pixels to a point
)

// png paints the sheet at 300 dpi and says so in the file.
func (s *drawing) png() ([]byte, error) {
	c := gg.NewContext(int(s.width*pngScale+0.5), int(s.height*pngScale+0.5))
	c.SetLineCapButt()
	c.SetColor(color.White)
	c.Clear()
	for _, it := range s.items {
		switch it := it.(type) {
		case stroked:
			pngLine(c, it.colour, it.width, it.dash)
			for _, l := range it.lines {
				pngPath(c, l, it.closed)
				c.Stroke()
			}
		case filled:
			c.SetColor(it.colour)
			for _, l := range it.areas {
				pngPath(c, l, true)
			}
			c.Fill()
		case marks:
			pngMarks(c, it)
		case words:
			pngWords(c, it)
		case raster:
			if to, ok := c.Image().(*image.RGBA); ok {
				pngRaster(to, it)
			}
		}
	}
	var raw bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := enc.Encode(&raw, fewest(c.Image())); err != nil {
		return nil, err
	}
	return withDPI(raw.Bytes(), printDPI), nil
}

// pngRaster paints shades between the pixels of a raster (bilinear).
func pngRaster(to *image.RGBA, r raster) {
	x0, y0 := int(math.Round(r.at.x*pngScale)), int(math.Round(r.at.y*pngScale))
	w, h := int(math.Round(r.width*pngScale)), int(math.Round(r.height*pngScale))
	size := r.grey.Bounds().Size()
	for y := range h {
		j, v := half((float64(y)+0.5)/float64(h), size.Y)
		for x := range w {
			at := image.Pt(x0+x, y0+y)
			if !at.In(to.Rect) {
				continue
			}
			i, u := half((float64(x)+0.5)/float64(w), size.X)
			pix, i2 := r.grey.Pix, min(i+1, size.X-1)
			a, b := j*r.grey.Stride, min(j+1, size.Y-1)*r.grey.Stride
			top := float64(pix[a+i])*(1-u) + float64(pix[a+i2])*u
			low := float64(pix[b+i])*(1-u) + float64(pix[b+i2])*u
			to.SetRGBA(at.X, at.Y, greyOf(top*(1-v)+low*v))
		}
	}
}

func greyOf(v float64) color.RGBA {
	g := uint8(math.Round(v))
	return color.RGBA{g, g, g, 255}
}

// half gives the pixel whose middle lies before a share of n pixels, and how far
// it is to the next one.
func half(share float64, n int) (int, float64) {
	at := max(share*float64(n)-0.5, 0)
	i := min(int(at), n-1)
	return i, min(at-float64(i), 1)
}

func pngLine(c *gg.Context, colour color.Color, width float64, dash []float64) {
	c.SetColor(colour)
	c.SetLineWidth(width * pngScale)
	d := make([]float64, len(dash))
	for i, v := range dash {
		d[i] = v * pngScale
	}
	c.SetDash(d...)
}

func pngPath(c *gg.Context, line []point, closed bool) {
	for i, p := range line {
		if i == 0 {
			c.MoveTo(p.x*pngScale, p.y*pngScale)
			continue
		}
		c.LineTo(p.x*pngScale, p.y*pngScale)
	}
	if closed {
		c.ClosePath()
	}
}

func pngSegments(c *gg.Context, segs []segment, to func(point) point) {
	at := func(p point) (x, y float64) {
		p = to(p)
		return p.x * pngScale, p.y * pngScale
	}
	open := false
	for _, g := range segs {
		x, y := at(g.to)
		switch {
		case g.move:
			if open {
				c.ClosePath()
			}
			c.MoveTo(x, y)
			open = true
		case g.controls == 0:
			c.LineTo(x, y)
		case g.controls == 1:
			x1, y1 := at(g.c1)
			c.QuadraticTo(x1, y1, x, y)
		default:
			x1, y1 := at(g.c1)
			x2, y2 := at(g.c2)
			c.CubicTo(x1, y1, x2, y2, x, y)
		}
	}
	if open {
		c.ClosePath()
	}
}

func pngMarks(c *gg.Context, m marks) {
	shape, closed := markOutline(m.shape, m.size)
	one := func(at point) {
		if m.shape == dossier.Circle {
			pngSegments(c, circle(at, m.size/2), func(p point) point { return p })
			return
		}
		for _, l := range shape {
			moved := make([]point, len(l))
			for i, p := range l {
				moved[i] = point{at.x + p.x, at.y + p.y}
			}
			pngPath(c, moved, closed)
		}
	}
	if m.fill != nil {
		c.SetColor(*m.fill)
		for _, at := range m.at {
			one(at)
			c.Fill()
		}
	}
	if m.line != nil {
		pngLine(c, *m.line, m.stroke, nil)
		for _, at := range m.at {
			one(at)
			c.Stroke()
		}
	}
}

// pngWords paints letters by their outlines: turned text is as sharp as level text.
func pngWords(c *gg.Context, w words) {
	sin, cos := math.Sincos(w.turn * math.Pi / 180)
	letters := func() {
		for _, pc := range wordPieces(w.runs, w.size) {
			t, x := figureFace(pc.italic), pc.x
			for _, r := range pc.text {
				pngSegments(c, t.outline(r), func(p point) point {
					dx, dy := x+p.x*pc.size, pc.y+p.y*pc.size
					return point{w.at.x + dx*cos + dy*sin, w.at.y - dx*sin + dy*cos}
				})
				x += t.advance[r] * pc.size
			}
		}
	}
	if w.halo > 0 {
		pngLine(c, colours[dossier.Paper], w.halo, nil)
		letters()
		c.Stroke()
	}
	c.SetColor(w.colour)
	letters()
	c.Fill()
}

// fewest keeps a picture in 256 colours at most: those that occur most, and for the
// others, which are shades at the rims of letters and lines, the nearest of these.
// A third of the bytes, and nothing that an eye could tell.
func fewest(img image.Image) image.Image {
	src, ok := img.(*image.RGBA)
	if !ok {
		return img
	}
	size := src.Bounds().Size()
	count := map[uint32]int{}
	each := func(do func(at int, c uint32, run int)) {
		for y := range size.Y {
			row := src.Pix[y*src.Stride : y*src.Stride+4*size.X]
			from := 0
			for x := 1; x <= size.X; x++ {
				if x < size.X && [3]uint8(row[4*x:4*x+3]) == [3]uint8(row[4*from:4*from+3]) {
					continue
				}
				do(y*size.X+from, uint32(row[4*from])<<16|uint32(row[4*from+1])<<8|uint32(row[4*from+2]), x-from)
				from = x
			}
		}
	}
	each(func(_ int, c uint32, run int) { count[c] += run })
	all := slices.SortedFunc(maps.Keys(count), func(a, b uint32) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	out := image.NewPaletted(image.Rect(0, 0, size.X, size.Y), nil)
	kept := slices.Sorted(slices.Values(all[:min(len(all), 256)]))
	index := make(map[uint32]uint8, len(all))
	for _, c := range kept {
		out.Palette = append(out.Palette, color.RGBA{uint8(c >> 16), uint8(c >> 8), uint8(c), 255})
	}
	for _, c := range all {
		index[c] = nearest(kept, c)
	}
	each(func(at int, c uint32, run int) {
		i := index[c]
		for k := range out.Pix[at : at+run] {
			out.Pix[at+k] = i
		}
	})
	return out
}

func nearest(kept []uint32, c uint32) uint8 {
	best, least := 0, math.MaxInt
	for i, k := range kept {
		d := 0
		for _, shift := range [3]int{16, 8, 0} {
			e := int(k>>shift&255) - int(c>>shift&255)
			d += e * e
		}
		if d < least {
			best, least = i, d
		}
	}
	return uint8(best)
}

// withDPI puts the resolution behind the head of a PNG (PNG, third edition, 11.3.4.3: pHYs,
// in pixels a metre).
func withDPI(file []byte, dpi float64) []byte {
	const head = 8 + 25 // signature and IHDR
	perMetre := uint32(math.Round(dpi / 0.0254))
	chunk := make([]byte, 0, 21)
	chunk = binary.BigEndian.AppendUint32(chunk, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	out := make([]byte, 0, len(file)+len(chunk))
	out = append(out, file[:head]...)
	out = append(out, chunk...)
	return append(out, file[head:]...)
}
