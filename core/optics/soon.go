package optics

import "errors"

var errSoon = errors.New("not built yet")

// Check lists what is wrong with the numbers of a camera, in words.
func (c *Camera) Check() []string { return nil }

// Ray is the straight line in the water that a pixel sees: a point on the port's
// outer face (or the pinhole) and a direction of length 1, in the camera's frame.
func (c *Camera) Ray(pixel [2]float64) (from, along [3]float64, err error) {
	return from, along, errSoon
}

// Project is the pixel at which a point of the camera's frame is seen.
func (c *Camera) Project(p [3]float64) (pixel [2]float64, err error) { return pixel, errSoon }

// Fit finds the pose that explains the marks best; clicks on them carry a normal
// error of clickSDPx in each direction.
func Fit(c Camera, marks []Mark, clickSDPx float64) (*Posed, error) { return nil, errSoon }

// Centre is the pinhole in the season frame.
func (p *Posed) Centre() [3]float64 { return [3]float64{} }

// Project is the pixel at which a point of the season is seen.
func (p *Posed) Project(atM [3]float64) (pixel [2]float64, err error) { return pixel, errSoon }

// Locate is where a pixel meets the height.
func (p *Posed) Locate(pixel [2]float64, heightM, heightSDM float64) (Position, error) {
	return Position{}, errSoon
}

// HeightOf is the height at which two points that are seen at the two pixels, and
// are equally high, are lengthM apart; its standard deviation carries clicks and
// lengthSDM.
func (p *Posed) HeightOf(a, b [2]float64, lengthM, lengthSDM float64) (heightM, sdM float64, err error) {
	return 0, 0, errSoon
}
