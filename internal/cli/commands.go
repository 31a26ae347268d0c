package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"

	"brinefield/internal/app"
)

type inferCommand struct {
	Passes string `arg:"" help:"CSV table of passes with field_low_nV_per_cm and field_high_nV_per_cm, or - for standard input."`
	JSON   bool   `name:"json" help:"Print the whole document as JSON instead of a summary."`
	Curve  bool   `help:"Also fit the response curve to level_nV_per_cm, the levels that the experimenter set."`
}

func (c *inferCommand) Run(_ context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Passes)
	if err != nil {
		return badInput(err)
	}
	findings, err := app.Infer(inputName(c.Passes), data, app.InferOptions{Curve: c.Curve, Program: out.Program})
	if err != nil {
		return badInput(err)
	}
	if c.JSON {
		return printJSON(out, findings)
	}
	return printSummary(out.Out, findings)
}

type waterCommand struct {
	TemperatureC      float64  `name:"temperature-C" required:"" help:"Temperature in °C (ITS-90)."`
	Salinity          *float64 `help:"Practical salinity (PSS-78)." xor:"given" required:""`
	ConductivitySPerM *float64 `name:"conductivity-S-per-m" help:"Conductivity in S/m at this temperature." xor:"given" required:""`
	PressureDbar      float64  `name:"pressure-dbar" help:"Pressure below the surface in dbar (about the depth in metres)." default:"0"`
}

func (c *waterCommand) Run(_ context.Context, out *Outside) error {
	document, err := app.MeasureWater(app.WaterQuestion{
		TemperatureC: c.TemperatureC, PressureDbar: c.PressureDbar, Salinity: c.Salinity, ConductivitySPerM: c.ConductivitySPerM,
	}, out.Program)
	if err != nil {
		return badInput(err)
	}
	return printJSON(out, document)
}

type fieldCommand struct {
	Spec string `arg:"" help:"JSON file that states water, layers, electrodes and points, or - for standard input."`
}

func (c *fieldCommand) Run(ctx context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Spec)
	if err != nil {
		return badInput(err)
	}
	document, err := app.MapField(ctx, inputName(c.Spec), data, out.Program)
	if err != nil {
		return badInput(err)
	}
	return printJSON(out, document)
}

type doctorCommand struct {
	studies
	keys
}

func (c *doctorCommand) Run(_ context.Context, out *Outside) error {
	missing := 0
	for _, check := range out.Check(c.Studies, c.Keys) {
		mark := "ok     "
		if !check.OK {
			mark, missing = "missing", missing+1
		}
		fmt.Fprintf(out.Out, "%s  %s: %s\n", mark, check.What, check.Found)
		if check.Remedy != "" {
			fmt.Fprintf(out.Out, "         %s\n", check.Remedy)
		}
	}
	if missing == 0 {
		fmt.Fprintln(out.Out, "Nothing is missing.")
	}
	return nil
}

type openapiCommand struct{}

func (c *openapiCommand) Run(_ context.Context, out *Outside) error {
	text, err := out.Describe("1")
	if err != nil {
		return err
	}
	_, err = out.Out.Write(text)
	return err
}

type versionCommand struct{}

func (c *versionCommand) Run(_ context.Context, out *Outside) error {
	_, err := fmt.Fprintf(out.Out, "brinefield %s (%s, %s)\n", out.Program.Version, out.Program.Commit, out.Program.OSArch)
	return err
}

// inputName is how a file is called in documents and faults.
func inputName(path string) string {
	if path == "-" {
		return "-"
	}
	return filepath.Base(path)
}

// printJSON prints one document and nothing else; it is complete or absent.
func printJSON(out *Outside, document any) error {
	var buffer bytes.Buffer
	encoder := json.NewEncoder(&buffer)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", " ")
	if err := encoder.Encode(document); err != nil {
		return err
	}
	_, err := out.Out.Write(buffer.Bytes())
	return err
}
