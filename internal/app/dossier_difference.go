package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// modelKinds are the parts of study.toml that say how the data are looked at; all
// else in a season is data.
var modelKinds = map[study.Kind]bool{
	study.KindBottom: true, study.KindSchedule: true, study.KindAnalysis: true, study.KindUncertainty: true,
}

// side is one of two packages that are compared.
type side struct {
	p        *Package
	in       Input
	study    *study.Study
	records  []study.Record
	findings *Findings // as the package holds them
	note     string    // why it cannot be worked out again
}

// ComparePackages says what changed from an older package to a newer one, and why.
// The causes are parted by working out: the old data with the old choices by this
// program; the old data with the choices of the analysis of the new; the new data
// with the new choices. Each step from one to the next has one cause: the program,
// the model, the data.
//
// Errors: a [*PackageError]; those of [Analyse]; that of ctx. progress may be nil.
func ComparePackages(ctx context.Context, before, after *Package, program Program, progress func(stage string, done, total int)) (DossierDifference, error) {
	doc := DossierDifference{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Warnings: []string{}},
		Causes:  []DossierCause{}, Numbers: []DossierChange{}, Passes: []PassChange{}, Note: []string{},
	}
	var sides [2]side
	for i, p := range []*Package{before, after} {
		if p.hashes == nil {
			if err := p.Scan(ctx, progress); err != nil {
				return doc, err
			}
		}
		s, err := readSide(p)
		if err != nil {
			return doc, err
		}
		sides[i] = s
		which := [2]string{"old/", "new/"}[i]
		for _, name := range append(p.In(dossier.SeasonFolder), dossier.DossierFile) {
			doc.InputsSHA256[which+name] = p.hashes[name]
		}
	}
	old, young := &sides[0], &sides[1]
	doc.Old, doc.New = old.describe(), young.describe()
	steps, err := workSteps(ctx, old, young, program, progress)
	if err != nil {
		return doc, err
	}
	doc.Note = append(doc.Note, steps.notes...)
	doc.Causes = causes(old, young, program)
	doc.Numbers = changes(steps)
	doc.Passes, doc.More = passChanges(steps)
	return doc, nil
}

func readSide(p *Package) (side, error) {
	s := side{p: p}
	in, err := p.seasonOf()
	if err != nil {
		return s, &PackageError{Package: p.Name, Problems: []string{err.Error()}}
	}
	s.in = in
	var faults *FaultsError
	s.study, s.records, err = readFolder(in)
	switch {
	case errors.As(err, &faults):
		s.note = fmt.Sprintf("the season of %s has %s and was not worked out again: brinefield verify lists them", p.Name, counted(len(faults.Faults), "fault", "faults"))
	case err != nil:
		return s, err
	}
	data, err := p.Read(dossier.FindingsFile)
	if err != nil {
		return s, nil //nolint:nilerr // a package without results is worked out, and has no numbers of its own
	}
	s.findings = &Findings{}
	if err := json.Unmarshal(data, s.findings); err != nil {
		return s, &PackageError{Package: p.Name, Problems: []string{fmt.Sprintf("%s cannot be read: %s", dossier.FindingsFile, plainJSONError(data, err))}}
	}
	return s, nil
}

func (s *side) describe() DossierSide {
	out := DossierSide{Package: s.p.Name, Made: s.p.Heading.Made, By: s.p.Heading.Program}
	if s.study != nil {
		out.Passes, out.Trials = len(s.study.Passes), len(s.study.Trials)
	}
	return out
}

// worked are the findings at each step of the way from the old package to the new;
// nil where that step could not be worked out.
type worked struct {
	old, program, model, data, new *Findings
	oldBuild, newBuild             bool // this very program made the old package, the new one
	notes                          []string
}

// workSteps works out the steps. A step that changes nothing of what goes in is not
// worked out again.
func workSteps(ctx context.Context, old, young *side, program Program, progress func(stage string, done, total int)) (worked, error) {
	w := worked{
		old: old.findings, new: young.findings,
		oldBuild: old.p.Heading.Program == dossier.Build(program), newBuild: young.p.Heading.Program == dossier.Build(program),
	}
	for _, s := range []*side{old, young} {
		if s.note != "" {
			w.notes = append(w.notes, s.note)
		}
		if s.findings == nil {
			w.notes = append(w.notes, fmt.Sprintf("%s holds no results of its own: only what this program works out is compared", s.p.Name))
		}
	}
	run := func(stage string, in Input, s *study.Study, h *dossier.Heading) (*Findings, error) {
		a, err := Analyse(ctx, in, s, AnalyseOptions{
			Seed: h.Seed, TreatOldAsExact: h.Old, Program: program,
			Progress: func(what string, done, total int) {
				if progress != nil {
					progress(stage+": "+what, done, total)
				}
			},
		})
		if err != nil {
			return nil, err
		}
		return &a.Findings, nil
	}
	var err error
	if old.note == "" {
		if w.program, err = run("Old data", old.in, old.study, &old.p.Heading); err != nil {
			return w, err
		}
	}
	sameModel, sameData := old.sameModel(young), old.sameData(young)
	switch {
	case old.note != "" || young.note != "":
	case sameModel:
		w.model = w.program
	default:
		mixed, in, wrong := withModel(old, young)
		if wrong != "" {
			w.notes = append(w.notes, wrong)
			break
		}
		if w.model, err = run("Old data, new choices", in, mixed, &young.p.Heading); err != nil {
			return w, err
		}
	}
	switch {
	case young.note != "":
	case sameData && w.model != nil:
		w.data = w.model
	default:
		if w.data, err = run("New data", young.in, young.study, &young.p.Heading); err != nil {
			return w, err
		}
	}
	return w, ctx.Err()
}

func (s *side) sameModel(o *side) bool {
	a, b := s.p.Heading, o.p.Heading
	return a.Seed == b.Seed && a.Old == b.Old && len(recordChanges(s.records, o.records, true)) == 0
}

func (s *side) sameData(o *side) bool {
	return len(recordChanges(s.records, o.records, false)) == 0
}

// withModel is the old season with the choices of the analysis of the new one.
// wrong says why there is no such season: heights that nobody measured need a range,
// for one.
func withModel(old, young *side) (*study.Study, Input, string) {
	mixed := *old.study
	mixed.Bottom, mixed.Schedule, mixed.Analysis, mixed.Uncertainty = young.study.Bottom, young.study.Schedule, young.study.Analysis, young.study.Uncertainty
	const cannot = "the old data cannot be worked out with the new choices of the analysis, so that model and data are not told apart: "
	files, err := season.Write(&mixed)
	if err != nil {
		return nil, nil, cannot + err.Error()
	}
	s, err := ReadSeason(Input(files))
	var faults *FaultsError
	if errors.As(err, &faults) {
		return nil, nil, cannot + faults.Faults[0].String()
	}
	return s, Input(files), ""
}
