package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"brinefield/internal/app"
)

type demoCommand struct {
	Port      int    `help:"Port on this machine; 0 takes a free one." default:"0"`
	NoBrowser bool   `help:"Print the address and do not open the browser."`
	Write     string `help:"Write the demo season as a folder to look at or to edit, and stop." placeholder:"DIR" type:"path"`
}

func (c *demoCommand) Run(ctx context.Context, out *Outside) error {
	input, err := app.DemoSeason()
	if err != nil {
		return err
	}
	if c.Write != "" {
		if err := out.WriteFolder(c.Write, input); err != nil {
			return badInput(err)
		}
		fmt.Fprintf(out.Err, "The demo season (invented data) is in %s. Show it with: brinefield open %s\n", c.Write, c.Write)
		return nil
	}
	season := app.Open(ctx, "demo", input, true, app.AnalyseOptions{Seed: 1, Program: out.Program})
	return out.Serve(ctx, season, ServeOptions{Port: c.Port, NoBrowser: c.NoBrowser})
}

type openCommand struct {
	Season          string `arg:"" help:"Season folder." type:"path"`
	Port            int    `help:"Port on this machine; 0 takes a free one." default:"0"`
	NoBrowser       bool   `help:"Print the address and do not open the browser."`
	Seed            uint64 `help:"Seed of the randomisation test." default:"1"`
	TreatOldAsExact bool   `help:"Old data without tracks: take the field at the onset as the threshold itself, not as its upper bound."`
}

func (c *openCommand) Run(ctx context.Context, out *Outside) error {
	input, err := out.ReadFolder(c.Season)
	if err != nil {
		return badInput(err)
	}
	season := app.Open(ctx, filepath.Base(c.Season), input, false, app.AnalyseOptions{
		Seed: c.Seed, TreatOldAsExact: c.TreatOldAsExact, Program: out.Program,
	})
	return out.Serve(ctx, season, ServeOptions{Port: c.Port, NoBrowser: c.NoBrowser})
}

type analyseCommand struct {
	Season          string `arg:"" help:"Season folder." type:"path"`
	JSON            bool   `name:"json" help:"Print the whole document as JSON instead of a summary."`
	Only            string `help:"Compute only these top-level keys of the document (comma separated): ${sections}." placeholder:"LIST"`
	Seed            uint64 `help:"Seed of the randomisation test." default:"1"`
	TreatOldAsExact bool   `help:"Old data without tracks: take the field at the onset as the threshold itself, not as its upper bound."`
}

func (c *analyseCommand) Run(ctx context.Context, out *Outside) error {
	input, err := out.ReadFolder(c.Season)
	if err != nil {
		return badInput(err)
	}
	s, err := app.ReadSeason(input)
	if err != nil {
		return err
	}
	var only []string
	if c.Only != "" {
		only = strings.Split(c.Only, ",")
	}
	analysis, err := app.Analyse(ctx, input, s, app.AnalyseOptions{
		Only: only, Seed: c.Seed, TreatOldAsExact: c.TreatOldAsExact, Program: out.Program, Progress: out.Bar,
	})
	if err != nil {
		if errors.Is(err, context.Canceled) {
			return err
		}
		return badInput(err)
	}
	if c.JSON {
		return printJSON(out, analysis.Findings)
	}
	return printSummary(out.Out, analysis.Findings)
}

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

func (c *fieldCommand) Run(_ context.Context, out *Outside) error {
	data, err := out.ReadFile(c.Spec)
	if err != nil {
		return badInput(err)
	}
	document, err := app.MapField(inputName(c.Spec), data, out.Program)
	if err != nil {
		return badInput(err)
	}
	return printJSON(out, document)
}

type doctorCommand struct{}

func (c *doctorCommand) Run(_ context.Context, out *Outside) error {
	missing := 0
	for _, check := range out.Check() {
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
