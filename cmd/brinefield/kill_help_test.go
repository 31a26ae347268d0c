package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"
	"time"

	"brinefield/internal/app"
)

func studiesOn(dir string) *app.Studies {
	return app.NewStudies(app.StudiesOptions{
		Shelf: newShelf(dir), ShelfName: dir, Program: program(), Clock: time.Now, Random: rand.Reader,
	})
}

func imported(studies *app.Studies, in app.Input, name string) (app.ImportDone, error) {
	ctx := context.Background()
	request := app.PlanRequest{}
	if name == "s" {
		if _, err := studies.Study(ctx, name); err == nil {
			request.Study = name
		}
	}
	for file, data := range in {
		request.Files = append(request.Files, app.FileUpload{Name: file, Data: data})
	}
	plan, err := studies.Plan(ctx, request)
	if err != nil {
		return app.ImportDone{}, err
	}
	return studies.Import(ctx, app.ImportRequest{Plan: plan.Plan, Study: name, Author: "Fiadh"})
}

// corrected is the demo season with the same note on every trial.
func corrected(n int) (app.Input, error) {
	in, err := app.DemoSeason()
	if err != nil {
		return nil, err
	}
	lines := strings.Split(strings.TrimSuffix(string(in["trials.csv"]), "\n"), "\n")
	for i := range lines {
		if i == 0 {
			lines[i] += ",note"
		} else {
			lines[i] += fmt.Sprintf(",version %d", n)
		}
	}
	in["trials.csv"] = []byte(strings.Join(lines, "\n") + "\n")
	return in, nil
}
