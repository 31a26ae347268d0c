package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

var (
	// ErrNoDossier answers for a package that the study does not have, or a file
	// that is not in it.
	ErrNoDossier = errors.New("there is no such package, or no such file in it")
	// ErrNoFigure answers for a figure that the dossier does not have, or that
	// cannot be drawn.
	ErrNoFigure = errors.New("there is no such figure")
	// ErrNoPrinter answers where nothing was given that draws and prints.
	ErrNoPrinter = errors.New("this program was put together without what prints figures and texts")
	// ErrNoDossiers answers where packages have no place to be kept.
	ErrNoDossiers = errors.New("this study has no place for packages")
	// ErrDossierRuns answers for a second dossier while one is being made.
	ErrDossierRuns = errors.New("a dossier is being made: wait for it, or stop it first")
)

// dossierState is what a study knows of its dossiers while it is open.
type dossierState struct {
	mu       sync.Mutex
	turn     chan struct{} // holds one while somebody prepares
	prepared *preparedDossier
	job      *dossierJob
	closed   bool
	made     map[string]lookedAt          // packages that were read, by name
	checks   map[string]*DossierCheckView // of those that were worked out again once made

	calibrated calibrated
}

// preparedDossier is all that a dossier prints, as it stood at one position.
type preparedDossier struct {
	key     string
	input   dossier.Input
	heading dossier.Heading
	figures []dossier.Figure
	report  dossier.Document
}

var dossierRecord = recordName{kind: study.KindDossier}

// dossierWords are what the study says of its dossiers, and as it is written down.
func (s *Study) dossierWords(ctx context.Context, current *standingRecords) (spec dossier.Choices, people []dossier.Person, specText, peopleText string, err error) {
	people = []dossier.Person{}
	st := current.state(dossierRecord)
	if st == nil {
		return spec, people, "", "", nil
	}
	specText = st.Fields["spec"]
	if peopleText, err = s.people.name(ctx, st.Fields["people"]); err != nil {
		return spec, people, specText, peopleText, err
	}
	if specText != "" {
		if spec, err = parseDossierSpec(specText); err != nil {
			return spec, people, specText, peopleText, fmt.Errorf("what the study says of its dossier cannot be read: %w", err)
		}
	}
	if strings.HasPrefix(strings.TrimSpace(peopleText), "[") { // else they were erased
		if people, err = parseDossierPeople(peopleText); err != nil {
			err = fmt.Errorf("the authors of the dossier cannot be read: %w", err)
		}
	}
	return spec, people, specText, peopleText, err
}

// dossierRaw is the study as a dossier begins with it.
type dossierRaw struct {
	data    *Assembled
	right   Right
	heading dossier.Heading
	facts   dossier.Facts
	people  []string // that the study names anywhere
}

// dossierRaw reads what a dossier begins with. Faults are no error.
func (s *Study) dossierRaw(ctx context.Context) (*dossierRaw, error) {
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	data, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	raw := &dossierRaw{data: data, right: right, heading: dossier.Heading{
		Format: Format, Name: s.folder.Name, Program: dossier.Build(s.options.Program),
		Seed: s.options.Analyse.Seed, Old: s.options.Analyse.TreatOldAsExact,
		Invented: s.options.Invented != nil && s.options.Invented(s.folder.Name),
	}}
	h := &raw.heading
	if h.Spec, h.People, _, _, err = s.dossierWords(ctx, data.current); err != nil {
		return nil, err
	}
	zone := time.UTC
	if data.Study != nil && data.Study.Site.Zone != nil {
		zone = data.Study.Site.Zone
	}
	h.Made = s.options.Clock().In(zone).Format(time.RFC3339)
	if data.Study != nil {
		h.Sealed = sealedTrials(data.Study)
	}
	named, err := s.people.all(ctx)
	if err != nil {
		return nil, err
	}
	for _, text := range named {
		if strings.HasPrefix(text, "[") {
			continue // a list of authors, as the dossier keeps it
		}
		raw.people = append(raw.people, singleNames(text)...)
	}
	slices.Sort(raw.people)
	raw.people = slices.Compact(raw.people)
	raw.facts, err = s.dossierFacts(ctx, raw)
	return raw, err
}

// parts are the raw parts of a package, as the choices say.
func (s *Study) dossierParts(ctx context.Context, raw *dossierRaw) (DossierParts, error) {
	parts := DossierParts{Facts: raw.facts, Beside: map[string][]byte{}, Photos: map[string][]byte{}}
	all, err := s.withCompanions(ctx, raw.data, raw.right)
	if err != nil {
		return parts, err
	}
	for _, name := range exportCompanions {
		if text, there := all[name]; there {
			parts.Beside[name] = text
		}
	}
	if parts.Facts.Footage != nil {
		if err := measuredFacts(parts.Facts.Footage, parts.Beside); err != nil {
			return parts, err
		}
	}
	registered, err := s.preregistrationFile(ctx)
	if err != nil {
		return parts, err
	}
	if registered != nil {
		parts.Beside["preregistration.md"] = registered
	}
	doc, err := s.ScheduleAsOpened(ctx)
	switch {
	case errors.Is(err, ErrNoSchedule):
	case err != nil:
		return parts, err
	default:
		if parts.Beside["schedule.json"], err = json.MarshalIndent(doc, "", "  "); err != nil {
			return parts, err
		}
	}
	if raw.heading.Spec.Photos {
		_, err := s.ExportPictures(ctx, func(name string, data []byte) error {
			if below, found := strings.CutPrefix(name, PicturesFolder+"/"); found {
				parts.Photos[packageName(below)] = data
			}
			return nil
		})
		if err != nil {
			return parts, err
		}
	}
	// The choices may have changed since the facts were gathered.
	if err := s.backgroundFacts(ctx, raw, &parts.Facts); err != nil {
		return parts, err
	}
	return privateParts(raw.data.Study, parts, &raw.heading, raw.people)
}

// packageName is a file's name with nothing but what every system and every
// archive takes.
func packageName(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == '-' || r == '_' {
			return r
		}
		return '-'
	}, name)
}

// prepare makes what a dossier prints, or takes what was made before of the same
// data and words. One caller at a time works.
//
// Errors: [ErrIncomplete] where the study has faults.
func (s *Study) prepareDossier(ctx context.Context, progress func(stage string, done, total int)) (*preparedDossier, error) {
	turn := s.dossierTurn()
	select {
	case turn <- struct{}{}:
		defer func() { <-turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprintf("%d %v", head.Position, right)
	s.dossiers.mu.Lock()
	held := s.dossiers.prepared
	s.dossiers.mu.Unlock()
	if held != nil && held.key == key {
		return held, nil
	}
	raw, err := s.dossierRaw(ctx)
	if err != nil {
		return nil, err
	}
	if len(raw.data.Faults) > 0 {
		return nil, ErrIncomplete
	}
	parts, err := s.dossierParts(ctx, raw)
	if err != nil {
		return nil, err
	}
	p := &preparedDossier{key: key, heading: raw.heading}
	if p.input, err = dossierInputOf(ctx, p.heading, parts, progress); err != nil {
		return nil, err
	}
	p.figures = dossier.Figures(p.input)
	p.report = dossier.Report(p.input, p.figures)
	if right, err := s.right(ctx); err != nil || fmt.Sprintf("%d %v", raw.data.Position, right) != key {
		return p, err // not kept: the journal moved meanwhile
	}
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	s.dossiers.prepared = p
	return p, nil
}

func (s *Study) dossierTurn() chan struct{} {
	s.dossiers.mu.Lock()
	defer s.dossiers.mu.Unlock()
	if s.dossiers.turn == nil {
		s.dossiers.turn = make(chan struct{}, 1)
	}
	return s.dossiers.turn
}

// Dossier is the page Dossier.
func (s *Study) Dossier(ctx context.Context) (DossierView, error) {
	v := DossierView{Study: s.folder.Name, ReadOnly: s.folder.ReadOnly, Lacks: []string{}, People: []dossier.Person{}, Made: []DossierMade{}}
	raw, err := s.dossierRaw(ctx)
	if err != nil {
		return v, err
	}
	h := &raw.heading
	v.Invented, v.Sealed, v.Spec, v.People = h.Invented, h.Sealed, h.Spec, h.People
	if _, _, v.SpecText, v.PeopleText, err = s.dossierWords(ctx, raw.data.current); err != nil {
		return v, err
	}
	switch {
	case len(raw.data.Faults) > 0:
		v.Why = ErrIncomplete.Error()
	case s.options.Printer == nil:
		v.Why = ErrNoPrinter.Error()
	case s.folder.Dossiers == nil:
		v.Why = ErrNoDossiers.Error()
	default:
		v.Ready = true
	}
	if s.options.Printer != nil {
		v.Browser = s.options.Printer.Browser()
	}
	if len(raw.data.Faults) == 0 {
		v.Names, v.Notes = len(othersNamed(raw.data.Study, h.People)), freeTexts(raw.data.Study)
		v.Lacks = append(v.Lacks, s.dossierLacks(raw)...)
	}
	v.Job = s.dossierJobView()
	v.Made, err = s.dossiersMade(ctx)
	return v, err
}

// dossierLacks is what the study lacks: with its results where they are at hand.
func (s *Study) dossierLacks(raw *dossierRaw) []string {
	s.dossiers.mu.Lock()
	held := s.dossiers.prepared
	s.dossiers.mu.Unlock()
	if held != nil && held.key == fmt.Sprintf("%d %v", raw.data.Position, raw.right) {
		return dossier.Lacks(held.input)
	}
	h := &raw.heading
	return dossier.LacksBeforeResults(dossier.Input{
		Name: h.Name, Study: raw.data.Study, Facts: raw.facts, Spec: h.Spec, People: h.People, Invented: h.Invented, Sealed: h.Sealed,
	})
}

// DossierPreview is the dossier as it would be made now.
func (s *Study) DossierPreview(ctx context.Context) (DossierPreview, error) {
	p, err := s.prepareDossier(ctx, nil)
	if err != nil {
		return DossierPreview{}, err
	}
	seed := p.heading.Seed
	return DossierPreview{
		Heading: Heading{
			Format: Format, Program: s.options.Program, InputsSHA256: Input(p.input.Season).Fingerprints(), Seed: &seed,
			Warnings: joined(p.input.Findings.Warnings, nil),
		},
		Figures: append([]dossier.Figure{}, p.figures...), Report: p.report,
	}, nil
}

// DossierFigure prints one figure as things stand.
//
// Errors: [ErrNoFigure]; those of [Study.DossierPreview].
func (s *Study) DossierFigure(ctx context.Context, name string, print FigurePrint) (DossierFile, error) {
	if s.options.Printer == nil {
		return DossierFile{}, ErrNoPrinter
	}
	p, err := s.prepareDossier(ctx, nil)
	if err != nil {
		return DossierFile{}, err
	}
	media, known := figureMedia[print.Format]
	i := slices.IndexFunc(p.figures, func(f dossier.Figure) bool { return f.Name == name })
	switch {
	case i < 0 || !known:
		return DossierFile{}, fmt.Errorf("%w: %.80q as %.20q", ErrNoFigure, name, print.Format)
	case p.figures[i].Why != "":
		return DossierFile{}, fmt.Errorf("%w: %s: %s", ErrNoFigure, name, p.figures[i].Why)
	}
	data, err := s.options.Printer.Figure(p.figures[i], print)
	if err != nil {
		return DossierFile{}, err
	}
	width := widths[0].name
	if print.Wide {
		width = widths[1].name
	}
	return DossierFile{Name: name + "-" + width + "." + print.Format, Media: media, Bytes: data}, nil
}

// DossierUpload keeps a package that the browser sends, to be checked or compared.
func (s *Study) DossierUpload(ctx context.Context, from io.Reader) (token string, err error) {
	if s.folder.Dossiers == nil {
		return "", ErrNoDossiers
	}
	return s.folder.Dossiers.Take(ctx, from, mostDossierBytes)
}

// mostDossierBytes is the largest package that is taken in.
const mostDossierBytes = 1 << 30

// freeTexts counts the notes of trials and passes.
func freeTexts(s *study.Study) int {
	n := 0
	for i := range s.Trials {
		if s.Trials[i].Note != "" {
			n++
		}
	}
	for i := range s.Passes {
		if s.Passes[i].Note != "" {
			n++
		}
	}
	return n
}
