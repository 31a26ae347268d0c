package cliptest

import "math"

// shade is what a place looks like before the water: light from 0 to 1, and
// warmth from −1 (as blue as the water) to 1.
type shade struct{ light, warm float64 }

func (a shade) mix(b shade, share float64) shade {
	return shade{a.light + (b.light-a.light)*share, a.warm + (b.warm-a.warm)*share}
}

// hash is a number from 0 to 1 for a knot of a lattice.
func hash(seed uint64, i, j int64) float64 {
	h := seed ^ uint64(i)*0x9e3779b97f4a7c15 ^ uint64(j)*0xc2b2ae3d27d4eb4f
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 32
	h *= 0x94d049bb133111eb
	h ^= h >> 31
	return float64(h>>11) / (1 << 53)
}

// valueNoise is smooth noise between −1 and 1, of lattice 1.
func valueNoise(seed uint64, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int64(fx), int64(fy)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	a, b := hash(seed, i, j), hash(seed, i+1, j)
	c, d := hash(seed, i, j+1), hash(seed, i+1, j+1)
	return 2*(a+(b-a)*u+(c-a)*v+(a-b-c+d)*u*v) - 1
}

// scattered is how far a place is from the nearest of small ovals that lie about,
// in units of their size (below 1 is within), and a number from 0 to 1 that is the
// oval's own. A share of the cells of a lattice holds one.
func scattered(seed uint64, x, y, cell, share, size float64) (distance, own float64) {
	distance = 2
	i, j := int64(math.Floor(x/cell)), int64(math.Floor(y/cell))
	if hash(seed, i, j) > share {
		return distance, 0
	}
	r := size * (0.5 + 0.7*hash(seed+101, i, j))
	cx := (float64(i)+0.2+0.6*hash(seed+102, i, j))*cell - x
	cy := (float64(j)+0.2+0.6*hash(seed+103, i, j))*cell - y
	sin, cos := math.Sincos(math.Pi * hash(seed+104, i, j))
	d := math.Hypot((cx*cos+cy*sin)/r, 1.6*(cy*cos-cx*sin)/r)
	d *= 1 + 0.2*valueNoise(seed+105, x/(0.8*r), y/(0.8*r)) // no two are as round
	return d, hash(seed+106, i, j)
}

// Disc is a round mark on the bottom or the plate: a cap of a peg, an electrode.
type Disc struct {
	Name    string
	At      V
	RadiusM float64
	Light   float64 // 0 black, 1 white
	Cross   bool    // two bars of a fifth of its width instead of the whole disc
}

// Plate is a rectangle on the bottom at z = 0.
type Plate struct {
	Centre [2]float64
	SizeM  [2]float64
	YawDeg float64
	Light  float64
}

// Cable lies on the bottom from place to place.
type Cable struct {
	Along   [][2]float64
	RadiusM float64
}

// bottomAt is the look of a place on the bottom: sand with ripples, specks and
// stones, the plate, cables and marks on it.
func (s *Scene) bottomAt(x, y float64) shade {
	seed := s.Seed
	large := valueNoise(seed+1, x/0.42, y/0.42)
	middle := valueNoise(seed+2, x/0.11, y/0.11)
	small := valueNoise(seed+3, x/0.03, y/0.03)
	grain := valueNoise(seed+4, x/0.009, y/0.009)
	ripple := math.Sin(2*math.Pi*(0.35*x+0.94*y)/0.085 + 2.6*large + 1.1*middle)
	g := shade{0.52 + s.Texture*(0.055*large+0.05*middle+0.035*small+0.03*grain+0.022*ripple), 0.25 + 0.1*middle}
	if d, light := scattered(seed+5, x, y, 0.03, 0.35, 0.0025); d < 1 { // shell grit
		g = g.mix(shade{0.7 + 0.25*light, 0.3}, 0.75*s.Texture*(1-smooth(0.6, 1, d)))
	}
	if d, light := scattered(seed+6, x, y, 0.1, 0.4, 0.011); d < 1 { // stones
		g = g.mix(shade{0.24 + 0.22*light, 0.05}, 0.8*s.Texture*(1-smooth(0.75, 1, d)))
	}
	for i := range s.Plates {
		p := &s.Plates[i]
		sin, cos := math.Sincos(p.YawDeg * math.Pi / 180)
		dx, dy := x-p.Centre[0], y-p.Centre[1]
		u, v := math.Abs(dx*cos+dy*sin)-p.SizeM[0]/2, math.Abs(dy*cos-dx*sin)-p.SizeM[1]/2
		switch edge := math.Max(u, v); {
		case edge <= 0:
			g = shade{p.Light + 0.02*s.Texture*(middle+small), 0}
		case edge < 0.012:
			g.light *= 0.75 // the shade that its rim throws
		}
	}
	for i := range s.Cables {
		if d := s.Cables[i].distance(x, y); d < 2*s.Cables[i].RadiusM {
			g = g.mix(shade{0.2, -0.1}, 0.8*(1-smooth(s.Cables[i].RadiusM*0.7, s.Cables[i].RadiusM*1.6, d)))
		}
	}
	for i := range s.Marks {
		m := &s.Marks[i]
		dx, dy := x-m.At[0], y-m.At[1]
		if d := math.Hypot(dx, dy); d <= m.RadiusM && (!m.Cross || math.Min(math.Abs(dx), math.Abs(dy)) < m.RadiusM/5) {
			g = shade{m.Light, 0}
		}
	}
	return g
}

func (c *Cable) distance(x, y float64) float64 {
	best := math.Inf(1)
	for i := 1; i < len(c.Along); i++ {
		d, _ := toSegment(x, y, c.Along[i-1], c.Along[i])
		best = math.Min(best, d)
	}
	return best
}

// toSegment is the distance to a straight piece, and how far along it that is
// reached, 0 to 1.
func toSegment(x, y float64, a, b [2]float64) (distance, along float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	if q := dx*dx + dy*dy; q > 0 {
		along = clamp(((x-a[0])*dx+(y-a[1])*dy)/q, 0, 1)
	}
	return math.Hypot(x-a[0]-along*dx, y-a[1]-along*dy), along
}
