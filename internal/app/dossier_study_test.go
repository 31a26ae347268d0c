package app_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

const dossierWords = `{"title":"Rays in a bay (invented)","licence":"CC-BY-4.0"}`

func dossierStudy(t *testing.T, in app.Input) (*app.Study, *memStudy) {
	t.Helper()
	shelf := newMemShelf()
	studies := newStudies(t, shelf)
	importInto(t, studies, shelf, "bay", in, app.ImportRequest{Author: "Aoife Byrne"})
	return openStudy(t, studies, "bay"), shelf.studies["bay"]
}

// say writes down what the study says of its dossier.
func say(t *testing.T, s *app.Study, spec, people string) {
	t.Helper()
	v := must(s.Dossier(t.Context()))
	var changes []app.CellChange
	if spec != v.SpecText {
		changes = append(changes, app.CellChange{Kind: "dossier", Field: "spec", From: v.SpecText, To: spec})
	}
	if people != v.PeopleText {
		changes = append(changes, app.CellChange{Kind: "dossier", Field: "people", From: v.PeopleText, To: people})
	}
	set(t, s, "", changes...)
}

func madeDossier(t *testing.T, s *app.Study, again bool) app.DossierView {
	t.Helper()
	if _, err := s.DossierMake(t.Context(), app.DossierMakeRequest{Again: again}); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(2 * time.Minute); ; time.Sleep(5 * time.Millisecond) {
		v := must(s.Dossier(t.Context()))
		switch {
		case v.Job == nil:
			return v
		case v.Job.Error != "":
			t.Fatal(v.Job.Error)
		case time.Now().After(deadline):
			t.Fatalf("%+v", v.Job)
		}
	}
}

func TestDossierOfAStudy(t *testing.T) {
	s, m := dossierStudy(t, smallSeason())
	before := must(s.Dossier(t.Context()))
	if !before.Ready || before.Why != "" || before.Names != 2 || before.Notes != 2 || len(before.Lacks) == 0 || before.Job != nil || len(before.Made) != 0 {
		t.Errorf("%+v", before)
	}
	say(t, s, dossierWords, `[{"given":"Aoife","family":"Byrne","orcid":"0000-0002-1825-0097"}]`)
	v := must(s.Dossier(t.Context()))
	if v.Spec.Licence != "CC-BY-4.0" || len(v.People) != 1 || v.Names != 1 || len(v.Lacks) >= len(before.Lacks) {
		t.Errorf("%+v", v)
	}
	preview := must(s.DossierPreview(t.Context()))
	if len(preview.Figures) == 0 || len(preview.Report.Blocks) == 0 || preview.Report.Title == "" {
		t.Fatalf("%+v", preview)
	}
	drawn := ""
	for _, f := range preview.Figures {
		if f.Why == "" {
			drawn = f.Name
		}
	}
	file, err := s.DossierFigure(t.Context(), drawn, app.FigurePrint{Format: "svg", Wide: true})
	if err != nil || file.Name != drawn+"-double.svg" || len(file.Bytes) == 0 {
		t.Errorf("%+v: %v", file, err)
	}
	if _, err := s.DossierFigure(t.Context(), "none", app.FigurePrint{Format: "svg"}); !errors.Is(err, app.ErrNoFigure) {
		t.Errorf("%v", err)
	}

	madeDossier(t, s, false)
	v = madeDossier(t, s, true) // in the same minute
	if len(v.Made) != 2 || v.Made[0].Name == v.Made[1].Name || v.Made[0].Why != "" || v.Made[0].Title != "Rays in a bay (invented)" || v.Made[0].SHA256 == "" || v.Made[0].SHA256 != v.Made[1].SHA256 {
		t.Fatalf("%+v", v.Made)
	}
	if check := v.Made[0].Check; check == nil || !check.Check.Same || check.Again == nil || !check.Again.Same || check.Again.Numbers == 0 || v.Made[1].Check != nil {
		t.Errorf("what came of working it out again: %+v", check)
	}
	name := v.Made[1].Name
	if !strings.HasPrefix(name, "bay 2026-06-11 10-00") {
		t.Errorf("%q: the minute of the site's clock (Europe/Dublin, 09:00 UTC in summer)", name)
	}
	whole := must(s.DossierFile(t.Context(), name, ""))
	data := must(io.ReadAll(io.NewSectionReader(whole.File, 0, whole.File.Size())))
	z := must(zip.NewReader(bytes.NewReader(data), int64(len(data))))
	if len(z.File) != len(v.Made[1].Files) {
		t.Errorf("%d files, %d listed", len(z.File), len(v.Made[1].Files))
	}
	if readme, err := s.DossierFile(t.Context(), name, dossier.ReadmeFile); err != nil || len(readme.Bytes) == 0 {
		t.Errorf("%v", err)
	}
	if archive, err := s.DossierFile(t.Context(), name, "darwin-core.zip"); err != nil || !bytes.Contains(archive.Bytes, []byte("meta.xml")) {
		t.Errorf("%v", err)
	}
	if _, err := s.DossierFile(t.Context(), name, "../x"); !errors.Is(err, app.ErrNoDossier) {
		t.Errorf("%v", err)
	}
	if v := must(s.DossierRemove(t.Context(), app.DossierNameRequest{Package: name})); len(v.Made) != 1 {
		t.Errorf("%+v", v.Made)
	}

	m.dossiers.full = true
	must(s.DossierMake(t.Context(), app.DossierMakeRequest{}))
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		v := must(s.Dossier(t.Context()))
		if v.Job != nil && strings.Contains(v.Job.Error, "disc is full") {
			break
		}
		if v.Job == nil || time.Now().After(deadline) {
			t.Fatalf("a full disc is not told: %+v", v.Job)
		}
	}
	if v := must(s.DossierStop(t.Context())); v.Job != nil || len(v.Made) != 1 {
		t.Errorf("%+v", v)
	}
}

// The check digits are of ORCID's own examples of its documentation (ISO/IEC
// 7064:2003, MOD 11-2): 0000-0002-1825-0097 and 0000-0001-5109-3700.
func TestWhatIsSaidOfADossierIsChecked(t *testing.T) {
	s, _ := dossierStudy(t, smallSeason())
	for _, c := range []struct{ field, text, place string }{
		{"spec", `{"licence":"MIT"}`, "spec/licence"},
		{"spec", `{"licens":"CC0-1.0"}`, "spec/licens"},
		{"spec", `{"coarsen_km":"far"}`, "spec/coarsen_km"},
		{"spec", `{"coarsen_km":-1}`, "spec/coarsen_km"},
		{"spec", `{"doi":"https://doi.org/10.1/x"}`, "spec/doi"},
		{"spec", `{"language":"English"}`, "spec/language"},
		{"spec", `[`, "spec"},
		{"people", `[{"given":"A","family":"B","orcid":"0000-0002-1825-0098"}]`, "people/0/orcid"},
		{"people", `[{"given":"A","family":"B","email":"a b@c"}]`, "people/0/email"},
		{"people", `[{"given":"A"}]`, "people/0/family"},
		{"people", `somebody`, "people"},
	} {
		_, err := s.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "dossier", Field: c.field, To: c.text}}})
		var wrong *app.EditError
		if !errors.As(err, &wrong) || len(wrong.Faults) == 0 || wrong.Faults[0].Kind != "dossier" || wrong.Faults[0].Field != c.place {
			t.Errorf("%s %s: %+v, want a fault at %s", c.field, c.text, err, c.place)
		}
	}
	for _, good := range []string{"0000-0002-1825-0097", "0000-0001-5109-3700"} {
		say(t, s, `{"doi":"10.5281/zenodo.1234567"}`, `[{"given":"A","family":"B","orcid":"`+good+`"}]`)
	}
}
