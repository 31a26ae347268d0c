package optics

import (
	"fmt"
	"math"
)

// Centre is the pinhole in the season frame.
func (p *Posed) Centre() [3]float64 { return p.Pose.Centre() }

// Centre is the pinhole in the season frame: −Rᵀ·T.
func (p *Pose) Centre() [3]float64 { return scaled(-1, turnedBack(&p.R, p.T)) }

// TiltDeg is the angle in degrees between the camera's axis and straight down.
func (p *Pose) TiltDeg() float64 {
	axis := p.R[2]
	return math.Atan2(math.Hypot(axis[0], axis[1]), -axis[2]) * 180 / math.Pi
}

// inCamera is a point of the season in the camera's frame.
func (p *Pose) inCamera(at vec) vec { return add(turned(&p.R, at), p.T) }

// CentreCovarianceM2 is the covariance of the pinhole in the season frame.
func (p *Posed) CentreCovarianceM2() [3][3]float64 {
	// A turn by ω and a shift by τ put the pinhole at −Rᵀ(T + τ − ω × T).
	var g [3][6]float64
	for k := range 3 {
		var w, t vec
		w[k], t[k] = 1, 1
		for i, v := range turnedBack(&p.Pose.R, cross(w, p.Pose.T)) {
			g[i][k] = v
		}
		for i, v := range turnedBack(&p.Pose.R, t) {
			g[i][3+k] = -v
		}
	}
	var out [3][3]float64
	for i := range 3 {
		for j := i; j < 3; j++ {
			out[i][j] = through(&g[i], &p.Covariance, &g[j])
			out[j][i] = out[i][j]
		}
	}
	return out
}

// through is aᵀ·S·b.
func through(a *[6]float64, s *[6][6]float64, b *[6]float64) float64 {
	var sum float64
	for i := range 6 {
		var row float64
		for j := range 6 {
			row += s[i][j] * b[j]
		}
		sum += a[i] * row
	}
	return sum
}

// Project is the pixel at which a point of the season is seen.
func (p *Posed) Project(atM [3]float64) (pixel [2]float64, err error) {
	l := p.made()
	if pixel, _, err = l.project(p.Pose.inCamera(atM)); err != nil {
		return [2]float64{}, fmt.Errorf("the point (%.6g, %.6g, %.6g) m %w", atM[0], atM[1], atM[2], err)
	}
	return pixel, nil
}

// made is the lens of the camera.
func (p *Posed) made() *lens {
	if p.lens.is(&p.Camera) {
		return &p.lens
	}
	l := newLens(&p.Camera) // not made by Fit, or changed since
	return &l
}

// seen is a pixel as a function of a point of the season and of the pose: its
// derivatives by the point, and by the three of ω and the three of T.
type seen struct {
	byPoint [2]vec
	byPose  [2][6]float64
}

func (p *Posed) seen(l *lens, at vec) (s seen, err error) {
	turnedAt := turned(&p.Pose.R, at)
	_, d, err := l.project(add(turnedAt, p.Pose.T))
	if err != nil {
		return s, err
	}
	for i := range 2 {
		s.byPoint[i] = turnedBack(&p.Pose.R, d[i])
		// d·(ω × Rp) = ω·(Rp × d)
		w := cross(turnedAt, d[i])
		s.byPose[i] = [6]float64{w[0], w[1], w[2], d[i][0], d[i][1], d[i][2]}
	}
	return s, nil
}
