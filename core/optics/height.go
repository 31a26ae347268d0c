package optics

import (
	"errors"
	"fmt"
	"math"
)

// HeightOf is the height at which two points that are seen at the two pixels, and
// are equally high, are lengthM apart; its standard deviation carries the two
// clicks, those that the pose was made of, and lengthSDM, to first order.
//
// Along two straight rays the points of one height are D0 + h·D1 apart in x and
// y: a quadratic in h. Of its roots that in front of the camera counts; where
// the length changes little with the height, the deviation is large and says so.
func (p *Posed) HeightOf(a, b [2]float64, lengthM, lengthSDM float64) (heightM, sdM float64, err error) {
	if !(lengthM > 0 && lengthM <= farthestM) || !(lengthSDM >= 0 && lengthSDM <= farthestM) {
		return 0, 0, fmt.Errorf("a length of %g m with a standard deviation of %g m; a length above 0, and a deviation of 0 (exact) or more", lengthM, lengthSDM)
	}
	l := p.made()
	var r [2]line
	for i, pixel := range [2][2]float64{a, b} {
		if r[i], err = p.line(l, pixel); err != nil {
			return 0, 0, err
		}
		if math.Abs(r[i].along[2]) < flattest {
			return 0, 0, fmt.Errorf("the pixel (%.6g, %.6g) %w", pixel[0], pixel[1], errFlat)
		}
	}
	if heightM, err = apart(r[0], r[1], lengthM); err != nil {
		return 0, 0, err
	}
	// (x, y) of each at the height, and how both run with it.
	var c [2]chain
	var at [2]vec
	for i := range 2 {
		if at[i], err = r[i].meet(heightM); err == nil {
			c[i], err = p.chain(l, at[i])
		}
		if err != nil {
			return 0, 0, fmt.Errorf("the pixel (%.6g, %.6g) %w", [2][2]float64{a, b}[i][0], [2][2]float64{a, b}[i][1], err)
		}
	}
	e := [2]float64{(at[0][0] - at[1][0]) / lengthM, (at[0][1] - at[1][1]) / lengthM}
	var byHeight, clicks float64
	var byPose [6]float64
	for k := range 2 { // x, y
		byHeight += e[k] * (c[0].byHeight[k] - c[1].byHeight[k])
		for j := range 6 {
			byPose[j] += e[k] * (c[0].byPose[k][j] - c[1].byPose[k][j])
		}
	}
	for i := range 2 { // the two points
		for j := range 2 { // across, down
			d := e[0]*c[i].byPixel[0][j] + e[1]*c[i].byPixel[1][j]
			clicks += d * d
		}
	}
	variance := lengthSDM*lengthSDM + p.ClickSDPx*p.ClickSDPx*clicks + through(&byPose, &p.Covariance, &byPose)
	sdM = math.Sqrt(math.Max(0, variance)) / math.Abs(byHeight)
	if !isFinite(heightM) || !isFinite(sdM) || sdM > farthestM {
		return 0, 0, errors.New("the distance between the two pixels does not change with the height; two points beside each other, not one behind the other")
	}
	return heightM, sdM, nil
}

// apart is the height at which two lines are a length apart, on both of them
// beyond where they start.
func apart(a, b line, lengthM float64) (float64, error) {
	// The middle between the starts, or the squares would drown in a far origin.
	origin := (a.from[2] + b.from[2]) / 2
	var d0, d1 [2]float64
	for k := range 2 {
		ka, kb := a.along[k]/a.along[2], b.along[k]/b.along[2]
		d1[k] = ka - kb
		d0[k] = a.from[k] - b.from[k] + (origin-a.from[2])*ka - (origin-b.from[2])*kb
	}
	q2 := d1[0]*d1[0] + d1[1]*d1[1]
	q1 := d0[0]*d1[0] + d0[1]*d1[1]
	q0 := d0[0]*d0[0] + d0[1]*d0[1] - lengthM*lengthM
	if q2 == 0 {
		return 0, errors.New("the two pixels look along parallel lines, which are as far apart at every height; two different points")
	}
	root := math.Sqrt(math.Max(0, q1*q1-q2*q0))
	if q1*q1 < q2*q0 {
		nearest := math.Sqrt(math.Max(0, (q0-q1*q1/q2)) + 0) // beyond lengthM², squared
		return 0, fmt.Errorf("the two points are never as near as %.4g m to each other at one height; at least %.4g m", lengthM, math.Hypot(lengthM, nearest))
	}
	q := -(q1 + math.Copysign(root, q1))
	best, farthest := math.NaN(), 0.0
	for _, h := range [2]float64{q / q2, q0 / q} {
		// How far along each line, in its own direction.
		ta, tb := (h+origin-a.from[2])/a.along[2], (h+origin-b.from[2])/b.along[2]
		if t := math.Min(ta, tb); t > farthest {
			best, farthest = h+origin, t
		}
	}
	if farthest == 0 {
		return 0, fmt.Errorf("the two points are nowhere in front of the camera %.4g m apart at one height; two points that are equally high, and their length in metres", lengthM)
	}
	return best, nil
}
