package optics

import (
	"errors"
	"fmt"
	"math"
)

// flattest is the sine of the smallest angle, 1°, at which a ray may meet the
// plane of a height: below it the plane is met too far away for the place, and
// for the covariance, to mean anything.
const flattest = 0.01745

// Locate is where a pixel meets the height above the plate, with a covariance
// that carries the click on this pixel, the clicks that the pose was made of,
// and the height's standard deviation (0: exact), each to first order.
//
// Refused are pixels that the camera's numbers do not hold for, rays that run
// away from the height, and rays that meet it at less than 1°.
func (p *Posed) Locate(pixel [2]float64, heightM, heightSDM float64) (Position, error) {
	if !(math.Abs(heightM) <= farthestM) || !(heightSDM >= 0 && heightSDM <= farthestM) {
		return Position{}, fmt.Errorf("a height of %g m with a standard deviation of %g m; finite metres, and a deviation of 0 (exact) or more", heightM, heightSDM)
	}
	l := p.made()
	r, err := p.line(l, pixel)
	if err != nil {
		return Position{}, err
	}
	at, err := r.meet(heightM)
	if err != nil {
		return Position{}, fmt.Errorf("the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], err)
	}
	c, err := p.chain(l, at)
	if err != nil {
		return Position{}, fmt.Errorf("the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], err)
	}
	return Position{at, c.covariance(p, heightSDM)}.checked(pixel)
}

func (p Position) checked(pixel [2]float64) (Position, error) {
	ok := finiteVec(p.AtM)
	for _, row := range p.CovarianceM2 {
		ok = ok && finiteVec(row)
	}
	if !ok {
		return Position{}, fmt.Errorf("the pixel (%.6g, %.6g) gives no finite place; numbers of a usual size", pixel[0], pixel[1])
	}
	return p, nil
}

// line is a straight line in the water, in the season frame.
type line struct{ from, along vec }

func (p *Posed) line(l *lens, pixel [2]float64) (line, error) {
	x, y, err := l.inAir(pixel)
	if err != nil {
		return line{}, fmt.Errorf("the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], err)
	}
	from, along := l.ray(x, y)
	return line{turnedBack(&p.Pose.R, sub(from, p.Pose.T)), turnedBack(&p.Pose.R, along)}, nil
}

var errFlat = errors.New("looks along the plate, at less than 1° to it: where it meets the height cannot be told; a camera that looks more steeply down")

// meet is where the line is at a height.
func (r line) meet(heightM float64) (vec, error) {
	if math.Abs(r.along[2]) < flattest {
		return vec{}, errFlat
	}
	far := (heightM - r.from[2]) / r.along[2]
	if far <= 0 {
		runs, side := "down", "above"
		if r.along[2] > 0 {
			runs, side = "up", "below"
		}
		return vec{}, fmt.Errorf("looks %s from %.4g m, and never meets the height of %.4g m; a height %s which it does not stand yet", runs, r.from[2], heightM, side)
	}
	at := add(r.from, scaled(far, r.along))
	at[2] = heightM
	return at, nil
}

// chain is how a place at a height follows from what it was told by: x and y by
// the pixel, by the height and by the pose.
type chain struct {
	byPixel  [2][2]float64
	byHeight [2]float64
	byPose   [2][6]float64
}

// chain differentiates pixel = seen(place, pose) at a place: what moves the pixel
// has to be made good by x and y.
func (p *Posed) chain(l *lens, at vec) (c chain, err error) {
	s, err := p.seen(l, at)
	if err != nil {
		return c, err
	}
	a := s.byPoint
	det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	if det == 0 || !isFinite(1/det) {
		return c, errFlat
	}
	c.byPixel = [2][2]float64{{a[1][1] / det, -a[0][1] / det}, {-a[1][0] / det, a[0][0] / det}}
	for i := range 2 {
		k := c.byPixel[i]
		c.byHeight[i] = -(k[0]*a[0][2] + k[1]*a[1][2])
		for j := range 6 {
			c.byPose[i][j] = -(k[0]*s.byPose[0][j] + k[1]*s.byPose[1][j])
		}
	}
	return c, nil
}

func (c *chain) covariance(p *Posed, heightSDM float64) (out [3][3]float64) {
	click2, height2 := p.ClickSDPx*p.ClickSDPx, heightSDM*heightSDM
	for i := range 2 {
		for j := i; j < 2; j++ {
			v := click2*(c.byPixel[i][0]*c.byPixel[j][0]+c.byPixel[i][1]*c.byPixel[j][1]) +
				height2*c.byHeight[i]*c.byHeight[j] +
				through(&c.byPose[i], &p.Covariance, &c.byPose[j])
			out[i][j], out[j][i] = v, v
		}
		out[i][2], out[2][i] = height2*c.byHeight[i], height2*c.byHeight[i]
	}
	out[2][2] = height2
	return out
}
