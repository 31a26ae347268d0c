package cliptest

import (
	"math"
	"math/rand/v2"
)

// still is what does not move, as it is seen from one pose.
type still struct {
	from, along []V       // ray of each pixel's centre
	light, warm []float64 // before the water
	clear       []float64 // share of it that comes through the water
	corner      []float64 // how much the lens darkens
}

// fine is how many rays go through a pixel in each direction where it matters.
const fine = 4

func (s *Scene) still(p Stand) *still {
	w, h := s.Lens.WidthPx, s.Lens.HeightPx
	v := newView(&s.Lens, p)
	n := w * h
	st := &still{make([]V, n), make([]V, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)}
	// Rays on a grid of corners of pixels; those within are between them: a pixel
	// is so small that they bend by less than 1e-4 of it.
	corner := func(i, j int) [2]float64 {
		from, along := v.ray(float64(i)-0.5, float64(j)-0.5)
		x, y := onPlane(from, along, 0)
		return [2]float64{x, y}
	}
	above, below := make([][2]float64, w+1), make([][2]float64, w+1)
	for i := range above {
		above[i] = corner(i, 0)
	}
	for j := range h {
		for i := range below {
			below[i] = corner(i, j+1)
		}
		for i := range w {
			k := j*w + i
			st.from[k], st.along[k] = v.ray(float64(i), float64(j))
			st.clear[k] = math.Exp(s.MurkPerM * st.from[k][2] / st.along[k][2]) // the way down is −z/along
			var sum shade
			for a := range fine {
				for b := range fine {
					f, g := (float64(a)+0.5)/fine, (float64(b)+0.5)/fine
					x := (above[i][0]*(1-f)+above[i+1][0]*f)*(1-g) + (below[i][0]*(1-f)+below[i+1][0]*f)*g
					y := (above[i][1]*(1-f)+above[i+1][1]*f)*(1-g) + (below[i][1]*(1-f)+below[i+1][1]*f)*g
					c := s.bottomAt(x, y)
					sum.light, sum.warm = sum.light+c.light, sum.warm+c.warm
				}
			}
			st.light[k], st.warm[k] = sum.light/fine/fine, sum.warm/fine/fine
			r := math.Hypot((float64(i)-s.Lens.CxPx)/float64(w), (float64(j)-s.Lens.CyPx)/float64(w))
			st.corner[k] = (1 - 0.35*r*r) * (1 - s.Lamp*smooth(0.1, 0.6, r)*0.9)
		}
		above, below = below, above
	}
	return st
}

// Picture is a frame in 8 bits, 4:2:0: light from 16 to 235, colours round 128.
type Picture struct {
	Width, Height int
	Y, U, V       []byte
}

// Render makes every frame in order; the pictures are used again.
func (s *Scene) Render(each func(frame int, p *Picture) error) error {
	return s.renderSpan(0, len(s.Times), each)
}

func (s *Scene) renderSpan(from, to int, each func(frame int, p *Picture) error) error {
	w, h := s.Lens.WidthPx, s.Lens.HeightPx
	out := &Picture{w, h, make([]byte, w*h), make([]byte, (w/2)*(h/2)), make([]byte, (w/2)*(h/2))}
	light, warm, clear := make([]float64, w*h), make([]float64, w*h), make([]float64, w*h)
	var st *still
	pose := -1
	for k := from; k < to; k++ {
		when := s.Times[k]
		if p := s.PoseOf(k); p != pose {
			pose, st = p, s.still(s.Poses[p].Stand)
		}
		copy(light, st.light)
		copy(warm, st.warm)
		copy(clear, st.clear)
		bodies := []*body{}
		for i := range s.Animals {
			if a := &s.Animals[i]; a.present(when) {
				bodies = append(bodies, a.at(when))
			}
		}
		view := newView(&s.Lens, s.Poses[pose].Stand)
		if s.ShadowM != [2]float64{} {
			for _, b := range bodies {
				s.shadow(view, st, b, light)
			}
		}
		for _, b := range bodies {
			s.draw(view, st, b, light, warm, clear)
		}
		s.expose(k, st, light, warm, clear, out)
		if err := each(k, out); err != nil {
			return err
		}
	}
	return nil
}

// box of pixels in which a body lies on a plane, moved by an offset.
func (s *Scene) box(v *view, b *body, z, offX, offY float64) (x0, y0, x1, y1 int) {
	w, h := s.Lens.WidthPx, s.Lens.HeightPx
	side := 0.12 * b.a.LengthM
	if b.a.Ray {
		side = 0.55 * b.a.DiscWidthM
	}
	x0, y0, x1, y1 = w, h, -1, -1
	for i := 0; i < spine; i += 3 {
		p := b.line[i]
		for _, d := range [...][2]float64{{side, side}, {side, -side}, {-side, side}, {-side, -side}} {
			px, py, err := v.pixel(V{p[0] + offX + d[0], p[1] + offY + d[1], z})
			if err != nil {
				continue
			}
			x0, y0 = min(x0, int(math.Floor(px))-2), min(y0, int(math.Floor(py))-2)
			x1, y1 = max(x1, int(math.Ceil(px))+2), max(y1, int(math.Ceil(py))+2)
		}
	}
	return max(x0, 0), max(y0, 0), min(x1, w-1), min(y1, h-1)
}

func (s *Scene) shadow(v *view, st *still, b *body, light []float64) {
	ox, oy := s.ShadowM[0]*b.height, s.ShadowM[1]*b.height
	x0, y0, x1, y1 := s.box(v, b, 0, ox, oy)
	soft := 0.006 + 0.1*b.height
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			k := j*s.Lens.WidthPx + i
			x, y := onPlane(st.from[k], st.along[k], 0)
			d, _, _ := b.outside(x-ox, y-oy)
			light[k] *= 1 - 0.42*(1-smooth(-soft, soft, d))
		}
	}
}

func (s *Scene) draw(v *view, st *still, b *body, light, warm, clear []float64) {
	w := s.Lens.WidthPx
	x0, y0, x1, y1 := s.box(v, b, b.height, 0, 0)
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			k := j*w + i
			x, y := onPlane(st.from[k], st.along[k], b.height)
			// How the place moves with the pixel: from its neighbours.
			right, down := k+1, k+w
			signX, signY := 1.0, 1.0
			if i == w-1 {
				right, signX = k-1, -1
			}
			if j == s.Lens.HeightPx-1 {
				down, signY = k-w, -1
			}
			rx, ry := onPlane(st.from[right], st.along[right], b.height)
			dx, dy := onPlane(st.from[down], st.along[down], b.height)
			gx, gy := [2]float64{signX * (rx - x), signX * (ry - y)}, [2]float64{signY * (dx - x), signY * (dy - y)}
			size := math.Max(math.Hypot(gx[0], gx[1]), math.Hypot(gy[0], gy[1]))
			d, u, side := b.outside(x, y)
			dot := math.Hypot(x-b.line[0][0], y-b.line[0][1]) - b.a.DotM
			if b.a.DotM == 0 {
				dot = math.Inf(1)
			}
			if d > size && dot > size {
				continue
			}
			sum, cover := shade{}, 0.0
			if d < -size && (dot > size || dot < -size) {
				cover, sum = 1, b.look(s.Seed, u, side)
				if dot < 0 {
					sum = shade{0.98, 0}
				}
			} else {
				for f := range fine {
					for g := range fine {
						p, q := (float64(f)+0.5)/fine-0.5, (float64(g)+0.5)/fine-0.5
						sx, sy := x+p*gx[0]+q*gy[0], y+p*gx[1]+q*gy[1]
						var c shade
						if math.Hypot(sx-b.line[0][0], sy-b.line[0][1]) < b.a.DotM {
							c = shade{0.98, 0}
						} else if d, u, side := b.outside(sx, sy); d <= 0 {
							c = b.look(s.Seed, u, side)
						} else {
							continue
						}
						cover++
						sum.light, sum.warm = sum.light+c.light, sum.warm+c.warm
					}
				}
				if cover == 0 {
					continue
				}
				sum.light, sum.warm, cover = sum.light/cover, sum.warm/cover, cover/fine/fine
			}
			light[k] += cover * (sum.light - light[k])
			warm[k] += cover * (sum.warm - warm[k])
			clear[k] += cover * (math.Exp(-s.MurkPerM*(b.height-st.from[k][2])/st.along[k][2]) - clear[k])
		}
	}
}

// expose puts the water before the picture, and makes 8 bits of it.
func (s *Scene) expose(frame int, st *still, light, warm, clear []float64, out *Picture) {
	w, h := out.Width, out.Height
	rng := rand.New(rand.NewPCG(s.Seed, uint64(frame)))
	gain := s.Gain
	if gain == 0 {
		gain = 1
	}
	if s.Flash[1] > s.Flash[0] && frame >= s.Flash[0] && frame < s.Flash[1] {
		gain *= 1.35
	}
	for k := range light {
		l := (light[k]*clear[k] + s.Veil*(1-clear[k])) * st.corner[k] * gain
		warm[k] *= clear[k]
		level := 16 + 219*l
		if s.NoiseSD > 0 {
			level += s.NoiseSD * rng.NormFloat64()
		}
		out.Y[k] = byte(clamp(math.Round(level), 16, 235))
	}
	for j := range h / 2 {
		for i := range w / 2 {
			k := 2*j*w + 2*i
			m := (warm[k] + warm[k+1] + warm[k+w] + warm[k+w+1]) / 4
			out.U[j*(w/2)+i] = byte(math.Round(132 - 9*m))
			out.V[j*(w/2)+i] = byte(math.Round(116 + 12*m))
		}
	}
}
