package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"strings"
	"time"

	"brinefield/core/dossier"
)

// MakePackageAs makes the package of a study as it stands, with choices that differ
// from those that the study says: for one package, and without a word in the journal.
//
// Errors: a *FaultsError where the study has faults; that of ctx.
func (s *Study) MakePackageAs(ctx context.Context, p DossierPrinter, choose func(*dossier.Choices), progress func(stage string, done, total int)) (MadePackage, dossier.Heading, error) {
	raw, err := s.dossierRaw(ctx)
	if err != nil {
		return MadePackage{}, dossier.Heading{}, err
	}
	if len(raw.data.Faults) > 0 {
		return MadePackage{}, dossier.Heading{}, &FaultsError{Faults: raw.data.Faults}
	}
	choose(&raw.heading.Spec)
	parts, err := s.dossierParts(ctx, raw)
	if err != nil {
		return MadePackage{}, raw.heading, err
	}
	in, err := dossierInputOf(ctx, raw.heading, parts, progress)
	if err != nil {
		return MadePackage{}, raw.heading, err
	}
	return buildPackage(ctx, in, raw.heading, p, progress)
}

// MakeSeasonPackage makes the package of a season folder alone. What only a study's
// journal knows is said to be not recorded in it.
//
// Errors: a *FaultsError where the folder has faults; that of ctx.
func MakeSeasonPackage(ctx context.Context, in Input, name string, at time.Time, opt AnalyseOptions, choices dossier.Choices, p DossierPrinter) (MadePackage, dossier.Heading, error) {
	h := dossier.Heading{
		Format: Format, Name: name, Program: dossier.Build(opt.Program), Spec: choices, People: []dossier.Person{},
		Seed: opt.Seed, Old: opt.TreatOldAsExact,
	}
	s, err := ReadSeason(in)
	if err != nil {
		return MadePackage{}, h, err
	}
	h.Made = at.In(s.Site.Zone).Truncate(time.Second).Format(time.RFC3339)
	input, h, err := SeasonDossier(ctx, in, name, h, opt.Progress)
	if err != nil {
		return MadePackage{}, h, err
	}
	return buildPackage(ctx, input, h, p, opt.Progress)
}

func buildPackage(ctx context.Context, in dossier.Input, h dossier.Heading, p DossierPrinter, progress func(stage string, done, total int)) (MadePackage, dossier.Heading, error) {
	files, err := BuildDossier(ctx, in, h, p, false, progress)
	return MadePackage{Name: h.Name, At: in.Made, Files: files, Lacks: dossier.Lacks(in)}, h, err
}

// KeepPackage keeps a package beside the study, and names its file.
func (s *Study) KeepPackage(ctx context.Context, made MadePackage) (string, error) {
	switch {
	case s.folder.ReadOnly:
		return "", ErrReadOnly
	case s.folder.Dossiers == nil:
		return "", ErrNoDossiers
	}
	name, err := s.freeDossierName(ctx, made.Name, made.At)
	if err != nil {
		return "", err
	}
	return name, s.folder.Dossiers.Put(ctx, name, func(w io.Writer) error { return WritePackage(w, made.Files) })
}

// Document is what the command dossier prints of a package that was made.
func (m *MadePackage) Document(h dossier.Heading, program Program, name string) (DossierDocument, error) {
	sum := sha256.New()
	count := &countingWriter{to: sum}
	if err := WritePackage(count, m.Files); err != nil {
		return DossierDocument{}, err
	}
	seed := h.Seed
	doc := DossierDocument{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Seed: &seed, Warnings: []string{}},
		Package: name, SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: count.n, Files: []string{}, Lacks: append([]string{}, m.Lacks...),
	}
	for i := range m.Files {
		f := &m.Files[i]
		doc.Files = append(doc.Files, f.Name)
		if below, season := strings.CutPrefix(f.Name, dossier.SeasonFolder); season {
			one := sha256.Sum256(f.Bytes)
			doc.InputsSHA256[below] = hex.EncodeToString(one[:])
		}
		if f.Name == dossier.DossierFile {
			doc.PDF = headingOf(f.Bytes).PDF
		}
	}
	return doc, nil
}

// countingWriter counts what goes through it.
type countingWriter struct {
	to io.Writer
	n  int64
}

func (w *countingWriter) Write(b []byte) (int, error) {
	n, err := w.to.Write(b)
	w.n += int64(n)
	return n, err
}

// File is one file of a package that was made; nil where it has none of that name.
func (m *MadePackage) File(name string) []byte {
	for i := range m.Files {
		if m.Files[i].Name == name {
			return m.Files[i].Bytes
		}
	}
	return nil
}

// Below are the files of one folder of a package that was made, by their names in
// it.
func (m *MadePackage) Below(folder string) map[string][]byte {
	out := map[string][]byte{}
	for i := range m.Files {
		if below, inside := strings.CutPrefix(m.Files[i].Name, folder); inside {
			out[below] = bytes.Clone(m.Files[i].Bytes)
		}
	}
	return out
}

// DarwinCore is the Darwin Core Archive of a package by itself, as a zip.
func (m *MadePackage) DarwinCore(w io.Writer) error {
	var files []dossier.File
	for i := range m.Files {
		if below, inside := strings.CutPrefix(m.Files[i].Name, "darwin-core/"); inside {
			f := m.Files[i]
			f.Name = below
			files = append(files, f)
		}
	}
	return WritePackage(w, files)
}

func headingOf(text []byte) (h dossier.Heading) {
	_ = json.Unmarshal(text, &h) // this program wrote it
	return h
}
