package app

import (
	"brinefield/core/season"
	"brinefield/core/simulate"
)

// DemoSeed makes the demo season; another seed makes another season.
const DemoSeed = 20260611

// DemoSeason is the demo study as a season folder: invented data.
func DemoSeason() (Input, error) {
	s, _, err := simulate.Season(simulate.Demo(), DemoSeed)
	if err != nil {
		return nil, err
	}
	if err := addDemoClip(s); err != nil {
		return nil, err
	}
	files, err := season.Write(s)
	return Input(files), err
}
