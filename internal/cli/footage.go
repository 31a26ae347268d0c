package cli

import (
	"context"
	"errors"

	"brinefield/internal/app"
)

type footageCommand struct {
	Locate locateCommand `cmd:"" help:"Work out where under water pixels of a fixed camera are, and how sure that is."`
}

type locateCommand struct {
	Spec string `arg:"" help:"JSON file that states the camera, marks at known places and fixes, or - for standard input."`
}

func (c *locateCommand) Run(_ context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Spec)
	if err != nil {
		return badInput(err)
	}
	document, err := app.Locate(inputName(c.Spec), data, out.Program)
	var faults *app.FaultsError
	if errors.As(err, &faults) {
		return badInput(err)
	}
	if err != nil {
		return err
	}
	return printJSON(out, document)
}
