// Package cliptest renders clips whose truth is known: a bottom with marks, a
// plate, animals at stated heights, seen through a distorting lens and a flat
// port, in murky water, with noise, compressed by ffmpeg. Only tests and the
// makers of clips import it.
//
// Nothing here uses core/optics: light is followed ray by ray, from the pixel
// through both faces of the port to the bottom, so that the two can be held
// against each other. A point is found in the picture by turning that round
// numerically.
//
// Frames: the season's, metres, z up from the bottom; pixels are counted from
// the centre of the top left one; times are seconds of the clip. All that is
// drawn is invented.
package cliptest

import "math"

// V is a place or a direction.
type V [3]float64

func (a V) add(b V) V                 { return V{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a V) sub(b V) V                 { return V{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a V) times(f float64) V         { return V{a[0] * f, a[1] * f, a[2] * f} }
func (a V) dot(b V) float64           { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a V) length() float64           { return math.Sqrt(a.dot(a)) }
func (a V) unit() V                   { return a.times(1 / a.length()) }
func clamp(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// smooth goes from 0 at a to 1 at b, level at both ends.
func smooth(a, b, v float64) float64 {
	u := clamp((v-a)/(b-a), 0, 1)
	return u * u * (3 - 2*u)
}
