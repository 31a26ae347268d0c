package cli

import "brinefield/internal/app"

type backgroundCommand struct {
	Spec string `arg:"" help:"JSON file that states site, date, stream, pairs and what lies about, or - for standard input."`
}

func (c *backgroundCommand) Run(out *Outside) error {
	data, err := out.ReadFile(c.Spec)
	if err != nil {
		return badInput(err)
	}
	document, err := app.MeasureBackground(inputName(c.Spec), data, out.Program)
	if err != nil {
		return badInput(err)
	}
	return printJSON(out, document)
}
