package optics

import (
	"fmt"
	"math"
)

// The flat port. A ray that leaves the pinhole at the angle a to the axis meets
// the glass at a distance r = tan a times the air gap from the axis. In a medium
// of index n behind a flat face square to the axis it runs at the angle b, with
// sin a = n sin b (Snell), so that
//
//	tan b = r / √(n² + (n² − 1) r²)
//
// which grows with r and bends down: the place at depth z is reached at the
// distance R(r) = gap·r + glass·tan b_glass + (z − face)·tan b_water, a function
// of r with the same two properties. The root of R(r) is the path of the shortest
// time (Fermat), and the only one.

// refracted is tan b and its derivative by r.
func refracted(r, n2 float64) (tan, slope float64) {
	under := n2 + (n2-1)*r*r
	root := math.Sqrt(under)
	return r / root, n2 / (under * root)
}

// ray is the straight line in the water of a place in the air's picture.
func (l *lens) ray(x, y float64) (from, along vec) {
	s := x*x + y*y
	if !l.hasPort {
		k := 1 / math.Sqrt(1+s)
		return vec{}, vec{k * x, k * y, k}
	}
	reach := l.port.AirGapM + l.port.GlassM/math.Sqrt(l.glass2+(l.glass2-1)*s)
	k := 1 / (l.port.WaterIndex * math.Sqrt(1+s))
	return vec{reach * x, reach * y, l.faceM}, vec{k * x, k * y, math.Sqrt(1 - k*k*s)}
}

// airOf is where in the air's picture a point of the camera's frame is seen,
// with the derivatives of x and y by the point.
func (l *lens) airOf(p vec) (x, y float64, d [2]vec, err error) {
	if !finiteVec(p) {
		return 0, 0, d, errNumber
	}
	depth := p[2] - l.faceM
	if depth <= 0 {
		if l.hasPort && p[2] > 0 {
			return 0, 0, d, errGlass
		}
		return 0, 0, d, errBehind
	}
	across := math.Hypot(p[0], p[1])
	if !l.hasPort {
		if across > steepest*depth {
			return 0, 0, d, errSteep
		}
		x, y, k := p[0]/depth, p[1]/depth, 1/depth
		return x, y, [2]vec{{k, 0, -k * x}, {0, k, -k * y}}, nil
	}
	r, slope, tan, err := l.port.meets(across, depth, l.glass2, l.water2)
	if err != nil {
		return 0, 0, d, err
	}
	// r/across, which on the axis is what it tends to.
	ratio, ex, ey := 1/slope, 1.0, 0.0
	if across > 0 {
		ratio, ex, ey = r/across, p[0]/across, p[1]/across
	}
	byAcross, byDepth := 1/slope, -tan/slope
	d = [2]vec{
		{ratio + (byAcross-ratio)*ex*ex, (byAcross - ratio) * ex * ey, byDepth * ex},
		{(byAcross - ratio) * ex * ey, ratio + (byAcross-ratio)*ey*ey, byDepth * ey},
	}
	return ratio * p[0], ratio * p[1], d, nil
}

// meets is the tangent r in air of the ray that reaches a point at a distance
// from the axis and a depth beyond the outer face, with the derivative of the
// distance by r and the tangent in the water. As R(r) grows and bends down,
// Newton's steps from 0 never pass the root.
func (q *Port) meets(across, depth, glass2, water2 float64) (r, slope, tan float64, err error) {
	for range 200 {
		inGlass, glassSlope := refracted(r, glass2)
		inWater, waterSlope := refracted(r, water2)
		slope, tan = q.AirGapM+q.GlassM*glassSlope+depth*waterSlope, inWater
		step := (across - (q.AirGapM*r + q.GlassM*inGlass + depth*inWater)) / slope
		if !(math.Abs(step) > 4e-16*r) {
			return r, slope, tan, nil
		}
		r = math.Max(0, r+step)
		if r > steepest {
			return 0, 0, 0, errSteep
		}
	}
	return r, slope, tan, nil
}

// project is the pixel of a point of the camera's frame, with its derivatives by
// the point.
func (l *lens) project(p vec) (pixel [2]float64, d [2]vec, err error) {
	x, y, air, err := l.airOf(p)
	if err != nil {
		return pixel, d, err
	}
	dx, dy, bend := l.distort(x, y)
	if !l.valid(x, y, &bend) {
		return pixel, d, l.outside()
	}
	pixel = l.toPixel(dx, dy)
	if !isFinite(pixel[0]) || !isFinite(pixel[1]) {
		return pixel, d, errNumber
	}
	for j := range 3 {
		d[0][j] = l.camera.FxPx * (bend[0]*air[0][j] + bend[1]*air[1][j])
		d[1][j] = l.camera.FyPx * (bend[1]*air[0][j] + bend[2]*air[1][j])
	}
	return pixel, d, nil
}

// Ray is the straight line in the water that a pixel sees: a point on the port's
// outer face (or the pinhole) and a direction of length 1, in the camera's frame.
// Pixels beyond the radius at which the distortion folds back see nothing.
func (c *Camera) Ray(pixel [2]float64) (from, along [3]float64, err error) {
	l := newLens(c)
	x, y, err := l.inAir(pixel)
	if err != nil {
		return from, along, fmt.Errorf("the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], err)
	}
	if from, along = l.ray(x, y); !finiteVec(from) || !finiteVec(along) {
		return vec{}, vec{}, fmt.Errorf("the ray of the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], errNumber)
	}
	return from, along, nil
}

// Project is the pixel at which a point of the camera's frame is seen; it need
// not lie in the picture.
func (c *Camera) Project(p [3]float64) (pixel [2]float64, err error) {
	l := newLens(c)
	if pixel, _, err = l.project(p); err != nil {
		return [2]float64{}, fmt.Errorf("the point (%.6g, %.6g, %.6g) m of the camera's frame %w", p[0], p[1], p[2], err)
	}
	return pixel, nil
}
