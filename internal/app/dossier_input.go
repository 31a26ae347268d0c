package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// DossierParts are the raw parts of a package: all that is printed comes of them
// and of its heading. Names are those below their folders.
type DossierParts struct {
	Season Input             // season/
	Beside map[string][]byte // study/, without facts.json
	Facts  dossier.Facts     // study/facts.json
	Photos map[string][]byte // photos/
}

// SeasonDossier makes the input of a dossier of a season folder alone: what only
// a study's journal knows is not recorded. People and place are as the choices of
// the heading say.
//
// Errors: a *FaultsError where the folder has faults; those of [Analyse].
func SeasonDossier(ctx context.Context, in Input, name string, h dossier.Heading, progress func(stage string, done, total int)) (dossier.Input, dossier.Heading, error) {
	s, err := ReadSeason(in)
	if err != nil {
		return dossier.Input{}, h, err
	}
	h.Name = name
	parts, err := privateParts(s, DossierParts{Facts: seasonFacts(s)}, &h, nil)
	if err != nil {
		return dossier.Input{}, h, err
	}
	h.Sealed = sealedTrials(s)
	input, err := dossierInputOf(ctx, h, parts, progress)
	return input, h, err
}

// dossierInputOf makes the input of a dossier of the raw parts of a package: it
// reads the season, analyses it, and works out maps and ranges. Study, season
// folder and package alike go through here, so that a package that is worked out
// again takes the same way.
//
// Errors: a *FaultsError where the season has faults; those of [Analyse]; that of
// ctx.
func dossierInputOf(ctx context.Context, h dossier.Heading, parts DossierParts, progress func(stage string, done, total int)) (dossier.Input, error) {
	if progress == nil {
		progress = func(string, int, int) {}
	}
	s, files, err := canonicalSeason(parts.Season)
	if err != nil {
		return dossier.Input{}, err
	}
	a, err := Analyse(ctx, files, s, AnalyseOptions{
		Seed: h.Seed, TreatOldAsExact: h.Old, Program: Program(h.Program), Progress: progress,
	})
	if err != nil {
		return dossier.Input{}, err
	}
	drawn := curves(a.Findings)
	results, err := dossierResults(&a.Findings, drawn)
	if err != nil {
		return dossier.Input{}, err
	}
	fieldMaps, ranges, err := a.mapsAndRanges(ctx, func(step, of int) { progress("Maps", step, of) })
	if err != nil {
		return dossier.Input{}, err
	}
	made, err := time.Parse(time.RFC3339, h.Made)
	if err != nil {
		return dossier.Input{}, fmt.Errorf("the time at which the dossier was made, %q, cannot be read: expected RFC 3339, 2026-11-29T12:00:00+01:00", h.Made)
	}
	out := dossier.Input{
		Name: h.Name, Study: s, Season: files, Beside: parts.Beside, Photos: parts.Photos,
		Facts: parts.Facts, Findings: dossierFindings(&a.Findings, drawn), Results: results,
		Passes: markedAfterOpening(dossierPasses(s, a.Exposures), parts.Beside), Maps: fieldMaps, Ranges: ranges,
		Spec: h.Spec, People: h.People, Program: h.Program, Made: made.In(s.Site.Zone), Invented: h.Invented, Sealed: sealedTrials(s),
	}
	for _, w := range a.Findings.Water {
		out.Waters = append(out.Waters, dossier.TrialWater{Trial: w.Trial, SPerM: w.ConductivitySPerM, From: w.From})
	}
	return out, ctx.Err()
}

// canonicalSeason reads a folder and gives it in canonical form with the study
// that is read of that: numbers are of the bytes that the package holds.
func canonicalSeason(in Input) (*study.Study, Input, error) {
	s, err := ReadSeason(in)
	if err != nil {
		return nil, nil, err
	}
	written, err := season.Write(s)
	if err != nil {
		return nil, nil, err
	}
	files := Input(written)
	if maps.EqualFunc(files, in, bytes.Equal) {
		return s, files, nil
	}
	s, err = ReadSeason(files)
	return s, files, err
}

// dossierResults are the documents of a package: findings.json is what analyse
// --json prints of its season.
func dossierResults(f *Findings, drawn CurvesView) (map[string][]byte, error) {
	out := map[string][]byte{}
	for name, document := range map[string]any{"findings.json": f, "curves.json": drawn} {
		var b bytes.Buffer
		encoder := json.NewEncoder(&b)
		encoder.SetEscapeHTML(false)
		encoder.SetIndent("", " ")
		if err := encoder.Encode(document); err != nil {
			return nil, err
		}
		out[name] = b.Bytes()
	}
	return out, nil
}

func sealedTrials(s *study.Study) int {
	n := 0
	for i := range s.Trials {
		if s.Trials[i].Sealed {
			n++
		}
	}
	return n
}

// markedAfterOpening marks the passes that were recorded or changed after the
// active pair of their trial was opened, by the table that lies beside the season.
func markedAfterOpening(passes []dossier.Pass, beside map[string][]byte) []dossier.Pass {
	rows, err := csv.NewReader(bytes.NewReader(beside[afterOpeningFile])).ReadAll()
	if err != nil || len(rows) == 0 {
		return passes
	}
	kind, id := slices.Index(rows[0], "kind"), slices.Index(rows[0], "id")
	if kind < 0 || id < 0 {
		return passes
	}
	late := map[string]bool{}
	for _, row := range rows[1:] {
		if row[kind] == string(study.KindPass) || row[kind] == string(study.KindTrack) {
			late[row[id]] = true
		}
	}
	for i := range passes {
		passes[i].AfterOpening = late[passes[i].ID]
	}
	return passes
}
