package cliptest

import (
	"errors"
	"fmt"
	"math"
)

// Lens is a camera under the keys of `footage locate`: a pinhole with radial and
// tangential distortion, as in air, and a port before it.
type Lens struct {
	WidthPx  int     `json:"width_px"`
	HeightPx int     `json:"height_px"`
	FxPx     float64 `json:"fx_px"`
	FyPx     float64 `json:"fy_px"`
	CxPx     float64 `json:"cx_px"`
	CyPx     float64 `json:"cy_px"`
	K1       float64 `json:"k1"`
	K2       float64 `json:"k2"`
	K3       float64 `json:"k3"`
	P1       float64 `json:"p1"`
	P2       float64 `json:"p2"`
	Port     *Port   `json:"port,omitempty"`
}

// Port is a flat window square to the axis.
type Port struct {
	AirGapM    float64 `json:"air_gap_m"`
	GlassM     float64 `json:"glass_m"`
	GlassIndex float64 `json:"glass_index"`
	WaterIndex float64 `json:"water_index"`
}

// Stand is where a camera is and where it looks. With tilt and roll 0 it looks
// straight down, and the picture's up points along the heading.
type Stand struct {
	Centre     V       `json:"centre_m"`
	HeadingDeg float64 `json:"heading_deg"` // anticlockwise from +x
	TiltDeg    float64 `json:"tilt_deg"`    // of the axis, towards the picture's up
	RollDeg    float64 `json:"roll_deg"`    // about the axis
}

// axes are the camera's x (right), y (down) and z (ahead) in the season frame.
func (s Stand) axes() [3]V {
	sinH, cosH := math.Sincos(s.HeadingDeg * math.Pi / 180)
	sinT, cosT := math.Sincos(s.TiltDeg * math.Pi / 180)
	sinR, cosR := math.Sincos(s.RollDeg * math.Pi / 180)
	up := V{cosH, sinH, 0}
	right := V{sinH, -cosH, 0} // up × z
	down := up.times(-cosT).add(V{0, 0, -sinT})
	ahead := up.times(sinT).add(V{0, 0, -cosT})
	return [3]V{right.times(cosR).add(down.times(sinR)), down.times(cosR).sub(right.times(sinR)), ahead}
}

// undistort finds the direction that a distorted one comes from, by repeating
// x ← (x_d − tangential(x)) / radial(x) until it stands still.
func (l *Lens) undistort(xd, yd float64) (x, y float64) {
	x, y = xd, yd
	for range 500 {
		r2 := x*x + y*y
		radial := 1 + r2*(l.K1+r2*(l.K2+r2*l.K3))
		nx := (xd - 2*l.P1*x*y - l.P2*(r2+2*x*x)) / radial
		ny := (yd - l.P1*(r2+2*y*y) - 2*l.P2*x*y) / radial
		moved := math.Abs(nx-x) + math.Abs(ny-y)
		x, y = nx, ny
		if moved < 1e-15 {
			break
		}
	}
	return x, y
}

// refract bends a direction of length 1 at a face whose normal is +z of the
// camera: Snell's law as vectors, t = μ·d + (√(1 − μ²(1 − c²)) − μ·c)·n with
// c = n·d and μ = n₁/n₂.
func refract(d V, from, to float64) V {
	mu, c := from/to, d[2]
	k := math.Sqrt(1-mu*mu*(1-c*c)) - mu*c
	return V{mu * d[0], mu * d[1], mu*d[2] + k}
}

// sight is the ray in the water that a pixel sees, in the camera's frame.
func (l *Lens) sight(px, py float64) (from, along V) {
	x, y := l.undistort((px-l.CxPx)/l.FxPx, (py-l.CyPx)/l.FyPx)
	along = V{x, y, 1}.unit()
	if l.Port == nil {
		return from, along
	}
	from = along.times(l.Port.AirGapM / along[2])
	along = refract(along, 1, l.Port.GlassIndex)
	from = from.add(along.times(l.Port.GlassM / along[2]))
	return from, refract(along, l.Port.GlassIndex, l.Port.WaterIndex)
}

// view is a lens at its stand.
type view struct {
	lens  *Lens
	stand Stand
	axes  [3]V
}

func newView(l *Lens, s Stand) *view { return &view{l, s, s.axes()} }

// toSeason turns a direction of the camera's frame into the season's.
func (v *view) toSeason(d V) V {
	return v.axes[0].times(d[0]).add(v.axes[1].times(d[1])).add(v.axes[2].times(d[2]))
}

// ray of a pixel in the season frame.
func (v *view) ray(px, py float64) (from, along V) {
	f, a := v.lens.sight(px, py)
	return v.stand.Centre.add(v.toSeason(f)), v.toSeason(a)
}

// onPlane is where a ray meets the plane at a height.
func onPlane(from, along V, z float64) (x, y float64) {
	t := (z - from[2]) / along[2]
	return from[0] + t*along[0], from[1] + t*along[1]
}

var errNotSeen = errors.New("cliptest: a point is not seen")

// pixel is where a point is seen: the ray through it, found by Newton's method
// on where pixels meet the plane at its height.
func (v *view) pixel(p V) (px, py float64, err error) {
	d := p.sub(v.stand.Centre)
	ahead := v.axes[2].dot(d)
	if ahead <= 0 {
		return 0, 0, errNotSeen
	}
	n := 1.0
	if v.lens.Port != nil {
		n = v.lens.Port.WaterIndex
	}
	px = v.lens.CxPx + n*v.lens.FxPx*v.axes[0].dot(d)/ahead
	py = v.lens.CyPx + n*v.lens.FyPx*v.axes[1].dot(d)/ahead
	meet := func(a, b float64) (x, y float64) {
		from, along := v.ray(a, b)
		return onPlane(from, along, p[2])
	}
	const h = 0.25
	for range 60 {
		x, y := meet(px, py)
		ex, ey := p[0]-x, p[1]-y
		ax, ay := meet(px+h, py)
		bx, by := meet(px-h, py)
		cx, cy := meet(px, py+h)
		dx, dy := meet(px, py-h)
		jxx, jyx, jxy, jyy := (ax-bx)/(2*h), (ay-by)/(2*h), (cx-dx)/(2*h), (cy-dy)/(2*h)
		det := jxx*jyy - jxy*jyx
		stepX, stepY := (ex*jyy-ey*jxy)/det, (ey*jxx-ex*jyx)/det
		if long := math.Hypot(stepX, stepY); long > 60 { // far off the axis the first steps are too long
			stepX, stepY = stepX*60/long, stepY*60/long
		}
		px, py = px+stepX, py+stepY
		if !(math.Abs(px)+math.Abs(py) < 1e5) {
			return 0, 0, errNotSeen
		}
		if math.Abs(stepX)+math.Abs(stepY) < 1e-10 {
			return px, py, nil
		}
	}
	return 0, 0, fmt.Errorf("%w: %v", errNotSeen, p)
}
