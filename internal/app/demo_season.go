package app

import (
	"brinefield/core/season"
	"brinefield/core/simulate"
)

// demoSeed makes the demo season; another seed makes another season.
const demoSeed = 20260611

// DemoSeason is the demo study as a season folder: invented data.
func DemoSeason() (Input, error) {
	s, _, err := simulate.Season(simulate.Demo(), demoSeed)
	if err != nil {
		return nil, err
	}
	files, err := season.Write(s)
	return Input(files), err
}
