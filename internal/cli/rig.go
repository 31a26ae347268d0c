package cli

import (
	"context"
	"errors"

	"brinefield/internal/app"
)

type rigCommand struct {
	Spec string `arg:"" help:"JSON file that states supply, resistors, cable, electrodes and pairs, or - for standard input."`
	Seed uint64 `help:"Seed of the Monte Carlo intervals." default:"1"`
}

func (c *rigCommand) Run(ctx context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Spec)
	if err != nil {
		return badInput(err)
	}
	document, err := app.MeasureRig(ctx, inputName(c.Spec), data, c.Seed, out.Program)
	var faults *app.FaultsError
	if errors.As(err, &faults) {
		return badInput(err)
	}
	if err != nil {
		return err
	}
	return printJSON(out, document)
}
