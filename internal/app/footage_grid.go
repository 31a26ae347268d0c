package app

import (
	"math"

	"brinefield/core/optics"
)

// FootageSight is what a camera sees of the plane of the plate.
type FootageSight struct {
	Axis     [3]float64        `json:"axis" doc:"Direction in which it looks, length 1, season frame."`
	OutlineM [][2]float64      `json:"outline_m" doc:"Of the picture on the plane of the plate; where it looks beyond, those places are left out."`
	StepCm   float64           `json:"step_cm" doc:"Between lines of the grid."`
	Lines    []FootageGridLine `json:"lines"`
}

// FootageGridLine is a line of the season's grid as it is seen, bent by the lens
// and the port.
type FootageGridLine struct {
	Of     string       `json:"of" enum:"x,y" doc:"x: all its points have the same x."`
	AtCm   float64      `json:"at_cm"`
	Pixels [][2]float64 `json:"pixels"`
}

const (
	// The plane is looked at as far as this from the middle of the marks.
	sightM = 6.0
	// A grid has at most so many lines each way: more hide the picture.
	mostGridLines = 40
	// Points on each side of the picture's border, and on each step of a line.
	sightBorder  = 16
	sightPerStep = 2
)

// gridStepsCm are the steps of the season's grid.
var gridStepsCm = [...]float64{10, 20, 50, 100, 200}

// sightOf is what a camera sees of the plane z = 0 around a place of the season.
func sightOf(p *optics.Posed, middle [3]float64) *FootageSight {
	out := &FootageSight{Axis: p.Pose.R[2], OutlineM: [][2]float64{}, Lines: []FootageGridLine{}}
	c := &p.Camera
	w, h := float64(c.WidthPx)-1, float64(c.HeightPx)-1
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	corners := [...][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}}
	for side, from := range corners {
		to := corners[(side+1)%len(corners)]
		for n := range sightBorder {
			t := float64(n) / sightBorder
			at, err := p.Locate([2]float64{from[0] + t*(to[0]-from[0]), from[1] + t*(to[1]-from[1])}, 0, 0)
			if err != nil || math.Hypot(at.AtM[0]-middle[0], at.AtM[1]-middle[1]) > sightM {
				continue
			}
			out.OutlineM = append(out.OutlineM, [2]float64{at.AtM[0], at.AtM[1]})
			for k := range 2 {
				low[k], high[k] = math.Min(low[k], at.AtM[k]), math.Max(high[k], at.AtM[k])
			}
		}
	}
	if len(out.OutlineM) < len(corners)*sightBorder {
		// It looks beyond: as far as the plane is looked at in any case.
		for k := range 2 {
			low[k], high[k] = middle[k]-sightM, middle[k]+sightM
		}
	}
	span := math.Max(high[0]-low[0], high[1]-low[1])
	out.StepCm = gridStepsCm[len(gridStepsCm)-1]
	for _, step := range gridStepsCm {
		if span*100/step <= mostGridLines {
			out.StepCm = step
			break
		}
	}
	for axis := range 2 {
		out.gridLines(p, axis, low, high)
	}
	return out
}

// gridLines adds the lines on which one coordinate stands still.
func (s *FootageSight) gridLines(p *optics.Posed, axis int, low, high [2]float64) {
	step, other := s.StepCm/100, 1-axis
	first, last := math.Ceil(low[axis]/step), math.Floor(high[axis]/step)
	from, to := math.Floor(low[other]/step), math.Ceil(high[other]/step)
	for i := first; i <= last; i++ {
		line := FootageGridLine{Of: [...]string{"x", "y"}[axis], AtCm: i * s.StepCm}
		for j := from * sightPerStep; j <= to*sightPerStep; j++ {
			var at [3]float64
			at[axis], at[other] = i*step, j*step/sightPerStep
			pixel, err := p.Project(at)
			if err == nil && p.Camera.InPicture(pixel) {
				line.Pixels = append(line.Pixels, [2]float64{tenth(pixel[0]), tenth(pixel[1])})
				continue
			}
			line = s.end(line)
		}
		s.end(line)
	}
}

// end keeps a piece of a line, and begins the next.
func (s *FootageSight) end(line FootageGridLine) FootageGridLine {
	if len(line.Pixels) > 1 {
		s.Lines = append(s.Lines, line)
	}
	return FootageGridLine{Of: line.Of, AtCm: line.AtCm}
}

func tenth(v float64) float64 { return math.Round(10*v) / 10 }
