package cli

import (
	"context"

	"brinefield/internal/app"
)

type footageProbeCommand struct {
	Clip string `arg:"" help:"File of the clip." type:"path"`
}

func (c *footageProbeCommand) Run(ctx context.Context, out *Outside) error {
	document, err := app.ProbeClip(ctx, out.Media, out.HashFile, c.Clip)
	if err != nil {
		return err
	}
	return printJSON(out, document)
}

type footageProxyCommand struct {
	Clip string `arg:"" help:"File of the clip." type:"path"`
	Out  string `arg:"" help:"File to write: MP4, at most 1280 pixels wide, upright." type:"path"`
}

func (c *footageProxyCommand) Run(ctx context.Context, out *Outside) error {
	var progress func(done float64)
	if out.Bar != nil {
		progress = func(done float64) { out.Bar("Copying", int(done*1000), 1000) }
	}
	return app.ProxyClip(ctx, out.Media, c.Clip, c.Out, progress)
}
