package cli

import (
	"context"
	"errors"

	"brinefield/internal/app"
)

type footageCommand struct {
	Import footageImportCommand `cmd:"" help:"Make a clip of a study of one file, or of the files that a camera split a recording into."`
	List   footageListCommand   `cmd:"" help:"List the clips of a study, and where their files are on this machine."`
	Locate locateCommand        `cmd:"" help:"Work out where under water pixels of a fixed camera are, and how sure that is."`
	Probe  footageProbeCommand  `cmd:"" help:"Say when every frame of a clip is shown, where frames are missing, and what is odd about the file."`
	Proxy  footageProxyCommand  `cmd:"" help:"Make a small copy of a clip that a browser can step through, with the same frame times."`
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
