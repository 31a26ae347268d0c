package cli

import (
	"context"
	"errors"

	"brinefield/internal/app"
)

type rangeCommand struct {
	Knobs      string    `arg:"" help:"JSON file that states water, bottom, plates, pairs and current (the knobs of the page Stimulus), or - for standard input."`
	Thresholds []float64 `name:"threshold" required:"" help:"A field in nV/cm; may be given up to eight times."`
	Heights    []float64 `name:"height" help:"A height in metres above the plate's top, or the bottom, at which the range is told by direction and as an area; may be given again."`
	Directions int       `help:"In how many directions; the first is +x, the others follow anticlockwise." default:"72"`
	Form       string    `help:"What lies under the electrodes: real (plates and bodies as they are), endless_plate, no_plate, or textbook (the formula)." enum:"real,endless_plate,no_plate,textbook" default:"real"`
	Tolerance  float64   `help:"Relative error that the field on plates may have." default:"0.01"`
}

func (c *rangeCommand) Run(ctx context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Knobs)
	if err != nil {
		return badInput(err)
	}
	document, err := app.MeasureRange(ctx, inputName(c.Knobs), data, app.RangeQuestion{
		Form: c.Form, ThresholdsNVPerCm: c.Thresholds, HeightsM: c.Heights, Directions: c.Directions, Tolerance: c.Tolerance,
	}, out.Program)
	if errors.Is(err, context.Canceled) {
		return err
	}
	if err != nil {
		return badInput(err)
	}
	return printJSON(out, document)
}
