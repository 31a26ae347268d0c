package printing

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

func say(s string) []dossier.Run { return []dossier.Run{{Text: s}} }

// sample is an invented report with one of everything.
func sample() dossier.Document {
	long := "The animals were filmed from above at 25 frames a second, and each turn was placed in the frame in which the head first left its course. "
	wide := dossier.Table{Name: "exposures", Title: "What each pass met", Note: "Fields at the head's reference point, 0.2 s before the turn."}
	for i := range 12 {
		wide.Columns = append(wide.Columns, dossier.Column{Name: fmt.Sprintf("column_%d", i), Title: fmt.Sprintf("Quantity number %d", i), Unit: "nV/cm", Numbers: i > 1})
	}
	for r := range 60 {
		var row []dossier.Cell
		for c := range 12 {
			row = append(row, dossier.Cell{Text: fmt.Sprintf("%d.%02d", r*c, c)})
		}
		row[0] = dossier.Cell{Text: fmt.Sprintf("P%04d", r), Style: dossier.Code}
		row[1] = dossier.Cell{Text: "Scyliorhinus canicula", Style: dossier.Italic}
		row[5] = dossier.Cell{Text: "not recorded", Style: dossier.Missing}
		wide.Rows = append(wide.Rows, row)
	}
	headline := dossier.Table{
		Name: "headline", Title: "Fields at which half of the passes are answered",
		Columns: []dossier.Column{{Title: "Species"}, {Title: "Median field", Unit: "nV/cm", Numbers: true}, {Title: "95 % interval", Unit: "nV/cm", Numbers: true}, {Title: "Passes", Numbers: true}, {Title: "Individuals", Numbers: true}},
		Rows: [][]dossier.Cell{
			{{Text: "Scyliorhinus canicula", Style: dossier.Italic}, {Text: "21.4"}, {Text: "14.9 – 30.8"}, {Text: "148"}, {Text: "17"}},
			{{Text: "Raja clavata", Style: dossier.Italic}, {Text: "not estimable", Style: dossier.Missing}, {Text: ""}, {Text: "9"}, {Text: "2"}},
		},
	}
	return dossier.Document{
		Title: "Where catsharks turn: fields met at a plate on the bottom of an invented bay", Subtitle: "Report of the season 2026, with methods, results and a checklist", Authors: "Ana Sørensen and Jiří Novák", Date: "29 November 2026", Invented: true,
		Blocks: []dossier.Block{
			{Kind: dossier.ParagraphBlock, Text: []dossier.Run{{Text: "Half of the passes of "}, {Text: "Scyliorhinus canicula", Style: dossier.Italic}, {Text: " were answered at "}, {Text: "21.4 nV/cm", Style: dossier.Bold}, {Text: " (95 % interval 14.9–30.8 nV/cm; Table 1, "}, {Text: "Figure 1", Link: "#figure-curve"}, {Text: "), over 10"}, {Text: "−3", Style: dossier.Superior}, {Text: " µA. See "}, {Text: "doi:10.1371/journal.pbio.3000410", Link: "https://doi.org/10.1371/journal.pbio.3000410"}, {Text: "."}}},
			{Kind: dossier.TableBlock, Table: &headline},
			{Kind: dossier.CautionBlock, Text: say("Current in sea water near divers."), Items: [][]dossier.Run{say("The supply was limited to 1 mA."), {{Text: "Standoff of metal: "}, {Text: "not recorded", Style: dossier.Missing}}}},
			{Kind: dossier.HeadingBlock, Level: 1, Anchor: "methods", Text: say("Methods")},
			{Kind: dossier.HeadingBlock, Level: 2, Anchor: "water", Text: say("Water and bottom")},
			{Kind: dossier.ParagraphBlock, Text: say(strings.Repeat(long, 5))},
			{Kind: dossier.ParagraphBlock, Text: []dossier.Run{{Text: "Sediment: "}, {Text: "not recorded", Style: dossier.Missing}, {Text: ". The schedule "}, {Text: "study/schedule.json", Style: dossier.Code}, {Text: " was sealed with "}, {Text: "3f9a5c0e7b1d2244aa90cc17d3f9a5c0e7b1d2244aa90cc17d3f9a5c0e7b1d22", Style: dossier.Code}, {Text: "."}}},
			{Kind: dossier.HeadingBlock, Level: 3, Anchor: "casts", Text: say("Casts")},
			{Kind: dossier.ListBlock, Items: [][]dossier.Run{say(long), say("Three casts a day.")}},
			{Kind: dossier.HeadingBlock, Level: 1, Anchor: "results", Text: []dossier.Run{{Text: "Results of "}, {Text: "Raja clavata", Style: dossier.Italic}}},
			{Kind: dossier.FigureBlock, Figure: "curve"},
			{Kind: dossier.NoteBlock, Text: say("The dashed line is the simpler estimate.")},
			{Kind: dossier.FigureBlock, Figure: "timeline"},
			{Kind: dossier.FigureBlock, Figure: "lost"},
			{Kind: dossier.TableBlock, Table: &wide},
			{Kind: dossier.HeadingBlock, Level: 2, Anchor: "end", Text: say("What changed after the opening")},
			{Kind: dossier.ParagraphBlock, Text: say(strings.Repeat(long, 12))},
		},
	}
}

func sampleFigures(t testing.TB) []app.PrintedFigure {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 210, 140))
	for i := range img.Pix {
		img.Pix[i] = 250
	}
	for x := 10; x < 200; x++ {
		img.SetGray(x, 130-x/2, color.Gray{20})
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	svg := `<svg xmlns="http://www.w3.org/2000/svg" width="180mm" height="100mm" viewBox="0 0 180 100" role="img"><title>A curve</title><path d="M10 90 V5 M10 90 H175" stroke="#000" fill="none" stroke-width=".4"/><path d="M10 85 C60 85 80 15 175 10" stroke="#000" fill="none" stroke-width=".8"/></svg>`
	return []app.PrintedFigure{
		{Figure: dossier.Figure{Name: "curve", Title: "Share of passes answered", Caption: []dossier.Run{{Text: "Detection model with its 95 % band for "}, {Text: "Scyliorhinus canicula", Style: dossier.Italic}, {Text: " (148 passes, 17 individuals)."}}, Alt: "The share rises from 0.1 at 2 nV/cm to 0.9 at 90 nV/cm."}, SVG: []byte(svg), PNG: b.Bytes()},
		{Figure: dossier.Figure{Name: "timeline", Title: "Trials of the season", Caption: say("Each bar is a trial."), Why: "no trial has a time"}},
	}
}
