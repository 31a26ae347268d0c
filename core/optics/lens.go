package optics

import (
	"errors"
	"math"
)

// steepest is the largest tangent of an angle to the axis in air that is worked
// with, 89.9°: beyond it a pinhole has no picture.
const steepest = 573.0

// The ways in which a pixel and a place do not belong together.
var (
	errFold   = errors.New("lies beyond the radius at which the camera's distortion folds back: k1, k2, k3 hold for the middle of the picture only")
	errSteep  = errors.New("looks more than 89.9° away from the camera's axis")
	errBehind = errors.New("lies behind the camera")
	errGlass  = errors.New("lies behind the outer face of the port's glass")
	errNumber = errors.New("is not a finite number")
)

// lens is a camera with what is worked out of it once.
type lens struct {
	camera    Camera
	port      Port    // a copy; all 0 where there is none
	hasPort   bool    //
	foldR     float64 // tangent in air at which the radial model folds, or steepest
	glass2    float64 // square of the glass's index
	water2    float64
	faceM     float64 // of the outer face, along the axis
	distorted bool
}

func newLens(c *Camera) lens {
	l := lens{camera: *c, foldR: steepest}
	l.distorted = c.K1 != 0 || c.K2 != 0 || c.K3 != 0 || c.P1 != 0 || c.P2 != 0
	if c.K1 < 0 || c.K2 < 0 || c.K3 < 0 {
		l.foldR = math.Sqrt(firstFold(c.K1, c.K2, c.K3, steepest*steepest))
	}
	if c.Port != nil {
		l.port, l.hasPort = *c.Port, true
		l.glass2, l.water2 = l.port.GlassIndex*l.port.GlassIndex, l.port.WaterIndex*l.port.WaterIndex
		l.faceM = l.port.AirGapM + l.port.GlassM
	}
	l.camera.Port = nil // the copy counts
	return l
}

// is reports whether the lens was made of the camera as it is now.
func (l *lens) is(c *Camera) bool {
	plain := *c
	plain.Port = nil
	return l.camera == plain && l.camera.FxPx != 0 && l.hasPort == (c.Port != nil) && (c.Port == nil || l.port == *c.Port)
}

// firstFold is the smallest s = r² at which the radial model r(1 + k1 s + k2 s² +
// k3 s³) stops growing with r, or most where it grows all the way. Its
// derivative is the cubic 1 + 3 k1 s + 5 k2 s² + 7 k3 s³, which between its own
// extremes runs one way.
func firstFold(k1, k2, k3, most float64) float64 {
	slope := func(s float64) float64 { return 1 + s*(3*k1+s*(5*k2+s*7*k3)) }
	at := [3]float64{most, most, most}
	// Extremes: 3 k1 + 10 k2 s + 21 k3 s² = 0, in the form that loses no digits.
	a, half, c := 21*k3, 5*k2, 3*k1
	if d := half*half - a*c; d >= 0 {
		q := -(half + math.Copysign(math.Sqrt(d), half))
		n := 0
		for _, s := range [2]float64{q / a, c / q} {
			if s > 0 && s < most { // not a number is not
				at[n] = s
				n++
			}
		}
		if n == 2 && at[0] > at[1] {
			at[0], at[1] = at[1], at[0]
		}
	}
	low := 0.0
	for _, high := range at {
		if slope(high) <= 0 {
			for range 200 {
				mid := low + (high-low)/2
				if mid <= low || mid >= high {
					break
				}
				if slope(mid) > 0 {
					low = mid
				} else {
					high = mid
				}
			}
			return low
		}
		low = high
	}
	return most
}

// distort is the radial-tangential model (Photogrammetric Engineering 32:444–462, 1966): x
// and y over depth in air to the same as the picture has them, with its matrix
// of derivatives, which is symmetric: [xx, xy, yy].
func (l *lens) distort(x, y float64) (dx, dy float64, d [3]float64) {
	if !l.distorted {
		return x, y, [3]float64{1, 0, 1}
	}
	c := &l.camera
	s := x*x + y*y
	radial := 1 + s*(c.K1+s*(c.K2+s*c.K3))
	bend := c.K1 + s*(2*c.K2+s*3*c.K3) // its derivative by s
	dx = x*radial + 2*c.P1*x*y + c.P2*(s+2*x*x)
	dy = y*radial + c.P1*(s+2*y*y) + 2*c.P2*x*y
	d = [3]float64{
		radial + 2*x*x*bend + 2*c.P1*y + 6*c.P2*x,
		2*x*y*bend + 2*c.P1*x + 2*c.P2*y,
		radial + 2*y*y*bend + 6*c.P1*y + 2*c.P2*x,
	}
	return dx, dy, d
}

// valid reports whether the model still unfolds at a place.
func (l *lens) valid(x, y float64, d *[3]float64) bool {
	return x*x+y*y < l.foldR*l.foldR && d[0] > 0 && d[0]*d[2]-d[1]*d[1] > 0
}

// undistort inverts distort: the radial part alone first, which is one equation
// that grows, then Newton's steps for both, halved where they would leave the
// radius.
func (l *lens) undistort(dx, dy float64) (x, y float64, err error) {
	if !l.distorted {
		if math.Hypot(dx, dy) > steepest {
			return 0, 0, errSteep
		}
		return dx, dy, nil
	}
	x, y = l.radialInverse(dx, dy)
	gx, gy, d := l.distort(x, y)
	if !l.valid(x, y, &d) {
		return 0, 0, l.outside()
	}
	ex, ey := dx-gx, dy-gy
	for range 100 {
		if math.Hypot(ex, ey) <= 1e-16*math.Hypot(dx, dy) {
			break
		}
		det := d[0]*d[2] - d[1]*d[1]
		sx, sy := (d[2]*ex-d[1]*ey)/det, (d[0]*ey-d[1]*ex)/det
		better := false
		for range 40 {
			tx, ty := x+sx, y+sy
			gx, gy, td := l.distort(tx, ty)
			if l.valid(tx, ty, &td) && math.Hypot(dx-gx, dy-gy) < math.Hypot(ex, ey) {
				x, y, d, ex, ey, better = tx, ty, td, dx-gx, dy-gy, true
				break
			}
			sx, sy = sx/2, sy/2
		}
		if !better {
			break
		}
	}
	// What is left is rounding, or the pixel has no place that it shows.
	if !(math.Hypot(ex, ey) <= 1e-13*(1+math.Hypot(dx, dy))) {
		return 0, 0, l.outside()
	}
	return x, y, nil
}

func (l *lens) outside() error {
	if l.foldR < steepest {
		return errFold
	}
	if c := &l.camera; c.P1 != 0 || c.P2 != 0 {
		return errFold
	}
	return errSteep
}

// radialInverse solves r(1 + k1 r² + k2 r⁴ + k3 r⁶) = |d| below the fold; where
// the picture lies beyond it, by a hair within.
func (l *lens) radialInverse(dx, dy float64) (x, y float64) {
	c := &l.camera
	want := math.Hypot(dx, dy)
	if want == 0 {
		return 0, 0
	}
	grown := func(r float64) (value, slope float64) {
		s := r * r
		return r * (1 + s*(c.K1+s*(c.K2+s*c.K3))), 1 + s*(3*c.K1+s*(5*c.K2+s*7*c.K3))
	}
	low, high := 0.0, l.foldR*(1-1e-9)
	r := math.Min(want, high/2)
	for range 200 {
		value, slope := grown(r)
		if value < want {
			low = r
		} else {
			high = r
		}
		next := r + (want-value)/slope
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-r) <= 1e-15*r || next == low || next == high {
			break
		}
		r = next
	}
	return dx * r / want, dy * r / want
}

// toPixel is the distorted place in pixels.
func (l *lens) toPixel(dx, dy float64) [2]float64 {
	c := &l.camera
	return [2]float64{c.CxPx + c.FxPx*dx, c.CyPx + c.FyPx*dy}
}

// inAir is where a pixel looks in air: x and y over depth.
func (l *lens) inAir(pixel [2]float64) (x, y float64, err error) {
	c := &l.camera
	dx, dy := (pixel[0]-c.CxPx)/c.FxPx, (pixel[1]-c.CyPx)/c.FyPx
	if !isFinite(dx) || !isFinite(dy) {
		return 0, 0, errNumber
	}
	if x, y, err = l.undistort(dx, dy); err != nil {
		return 0, 0, err
	}
	if math.Hypot(x, y) > steepest {
		return 0, 0, errSteep
	}
	return x, y, nil
}
