package optics

import (
	"fmt"
	"math"
)

// Fault is one thing that is wrong with the numbers of a camera.
type Fault struct {
	Key             string // such as fx_px or port.glass_m
	Wrong, Expected string
}

func (f Fault) String() string { return f.Key + ": " + f.Wrong + "; " + f.Expected }

// Bounds of what is taken for a camera: wide, and only there so that nothing
// overflows on the way.
const (
	mostPixels     = 100_000
	longestFocalPx = 1e7
	mostDistortion = 1e12
	thickestPortM  = 10
	mostIndex      = 4
)

// Faults lists what is wrong with the numbers of a camera; none: it can be used.
func (c *Camera) Faults() []Fault {
	var out []Fault
	number := func(key string, v, low, high float64, expected string) {
		if !(v >= low && v <= high) { // not a number is outside, too
			out = append(out, Fault{key, fmt.Sprintf("found %g", v), expected})
		}
	}
	tiny := math.SmallestNonzeroFloat64
	number("width_px", float64(c.WidthPx), 1, mostPixels, fmt.Sprintf("a whole number of pixels from 1 to %d", mostPixels))
	number("height_px", float64(c.HeightPx), 1, mostPixels, fmt.Sprintf("a whole number of pixels from 1 to %d", mostPixels))
	focal := fmt.Sprintf("a focal length above 0 in pixels, at most %g", longestFocalPx)
	number("fx_px", c.FxPx, tiny, longestFocalPx, focal)
	number("fy_px", c.FyPx, tiny, longestFocalPx, focal)
	number("cx_px", c.CxPx, -mostPixels, 2*mostPixels, "where the axis meets the picture, in pixels from the centre of the top left one")
	number("cy_px", c.CyPx, -mostPixels, 2*mostPixels, "where the axis meets the picture, in pixels from the centre of the top left one")
	for _, k := range []struct {
		key string
		v   float64
	}{{"k1", c.K1}, {"k2", c.K2}, {"k3", c.K3}, {"p1", c.P1}, {"p2", c.P2}} {
		number(k.key, k.v, -mostDistortion, mostDistortion, "a coefficient of distortion, 0 where there is none")
	}
	if p := c.Port; p != nil {
		number("port.air_gap_m", p.AirGapM, 0, thickestPortM, "the distance from the pinhole to the glass in metres, 0 or more")
		number("port.glass_m", p.GlassM, 0, thickestPortM, "the thickness of the glass in metres, 0 or more")
		number("port.glass_index", p.GlassIndex, 1, mostIndex, "a refractive index of 1 or more, such as 1.49 of acrylic or 1.52 of glass")
		number("port.water_index", p.WaterIndex, 1, mostIndex, "a refractive index of 1 or more, such as 1.34 of sea water")
	}
	return out
}

// Check lists what is wrong with the numbers of a camera, in words.
func (c *Camera) Check() []string {
	var out []string
	for _, f := range c.Faults() {
		out = append(out, f.String())
	}
	return out
}

// InPicture reports whether a pixel lies in the picture, its border included.
func (c *Camera) InPicture(pixel [2]float64) bool {
	return pixel[0] >= -0.5 && pixel[0] <= float64(c.WidthPx)-0.5 && pixel[1] >= -0.5 && pixel[1] <= float64(c.HeightPx)-0.5
}
