//go:build measure

package main

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/simulate"
	"brinefield/internal/app"
	"brinefield/internal/printing"
)

// TestMeasureDossier makes the package of a season of 5 000 passes: the demo's,
// with twelve times its trials and passes. The program prints the PDF itself.
func TestMeasureDossier(t *testing.T) {
	plan := simulate.Demo()
	factor := 5000/plan.Passes + 1
	plan.Trials, plan.SilentTrials, plan.Passes = plan.Trials*factor, plan.SilentTrials*factor, plan.Passes*factor
	s, _, err := simulate.Season(plan, simulate.DemoSeed)
	if err != nil {
		t.Fatal(err)
	}
	in := must(season.Write(s))
	type step struct {
		name  string
		began time.Time
	}
	began := time.Now()
	steps := []step{{"Reading", began}}
	opt := app.AnalyseOptions{Seed: 1, Program: program(), Progress: func(stage string, _, _ int) {
		if steps[len(steps)-1].name != stage {
			steps = append(steps, step{stage, time.Now()})
		}
	}}
	made, _, err := app.MakeSeasonPackage(t.Context(), app.Input(in), "big", began, opt, dossier.Choices{}, printing.New(printing.Options{BrowserPath: "none"}))
	if err != nil {
		t.Fatal(err)
	}
	built := time.Now()
	var b bytes.Buffer
	if err := app.WritePackage(&b, made.Files); err != nil {
		t.Fatal(err)
	}
	took := time.Since(began)
	for i, one := range steps {
		end := built
		if i+1 < len(steps) {
			end = steps[i+1].began
		}
		t.Logf("%s: %.2f s", one.name, end.Sub(one.began).Seconds())
	}
	t.Logf("Zip: %.2f s, %d bytes, %d passes", time.Since(built).Seconds(), b.Len(), len(s.Passes))
	pdf := slices.IndexFunc(made.Files, func(f dossier.File) bool { return f.Name == dossier.ReportPDF })
	if size := len(made.Files[pdf].Bytes); size > 5<<20 {
		t.Errorf("the PDF has %d bytes, promised 5 MB", size)
	} else {
		t.Logf("PDF: %d bytes", size)
	}
	measured(t, "the dossier of a season of 5 000 passes, with all figures and texts", took, 20*time.Second)

	began = time.Now()
	p, err := app.OpenPackage("big.zip", bytes.NewReader(b.Bytes()), int64(b.Len()), app.UsualLimits)
	if err != nil {
		t.Fatal(err)
	}
	check, err := app.CheckPackage(t.Context(), p, program(), nil)
	if err != nil || !check.Same {
		t.Fatalf("%v: %v", err, check.Differences)
	}
	measured(t, "that package opened and verified", time.Since(began), 5*time.Second)
}
