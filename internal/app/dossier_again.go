package app

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"path"
	"slices"
	"strings"

	"brinefield/core/dossier"
)

// mostNumbers is how many differences are listed.
const mostNumbers = 1000

// WorkOutAgain works a package out again from its raw tables: the season folder,
// what lies beside it, the facts and the choices of dossier.json, by the very way in
// which it was made. It compares every file with the one in the package, numbers by
// their key or cell.
//
// Where the same build made it on the same kind of machine every byte must come out
// the same (docs/adr/0003-determinism.md), but for the PDF of the report, which a
// browser prints and dates. Elsewhere the data files are compared number by number
// within the limits that the decision names; what is drawn or set is not compared.
//
// Errors: a [*PackageError]; a *FaultsError where the season has faults; those of
// [Analyse]; that of ctx. progress may be nil.
func WorkOutAgain(ctx context.Context, p *Package, program Program, printer DossierPrinter, progress func(stage string, done, total int)) (DossierAgain, error) {
	doc := DossierAgain{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Warnings: []string{}},
		Package: p.Name, By: p.Heading.Program, Exact: p.Heading.Program == dossier.Build(program),
		Differences: []NumberDifference{}, Left: []string{},
	}
	if p.hashes == nil {
		if err := p.Scan(ctx, progress); err != nil {
			return doc, err
		}
	}
	files, err := p.buildAgain(ctx, printer, progress)
	if err != nil {
		return doc, err
	}
	for _, name := range p.In(dossier.SeasonFolder) {
		doc.InputsSHA256[name] = p.hashes[name]
	}
	doc.InputsSHA256[dossier.DossierFile] = p.hashes[dossier.DossierFile]
	seed := p.Heading.Seed
	doc.Seed = &seed
	c := &againCheck{p: p, doc: &doc}
	if !doc.Exact {
		doc.Limits = againLimits
		for _, l := range againLimits {
			doc.Limit = max(doc.Limit, l.Relative)
		}
	}
	if err := c.compare(ctx, files, progress); err != nil {
		return doc, err
	}
	doc.Same = len(doc.Differences) == 0
	return doc, nil
}

// buildAgain takes the way of the data from the raw parts. The program that made
// the package stands in the heading, because it is printed; it is this program that
// works.
func (p *Package) buildAgain(ctx context.Context, printer DossierPrinter, progress func(stage string, done, total int)) ([]dossier.File, error) {
	parts, err := p.parts()
	if err != nil {
		return nil, err
	}
	in, err := dossierInputOf(ctx, p.Heading, parts, progress)
	if err != nil {
		return nil, err
	}
	return BuildDossier(ctx, in, p.Heading, printer, true, progress)
}

// parts are the raw parts of a package. A package without its facts is one of a
// season alone.
func (p *Package) parts() (DossierParts, error) {
	e := &PackageError{Package: p.Name}
	parts := DossierParts{Beside: map[string][]byte{}, Photos: map[string][]byte{}}
	var err error
	if parts.Season, err = p.seasonOf(); err != nil {
		e.add("%v", err)
	}
	for _, of := range []struct {
		folder string
		into   map[string][]byte
	}{{dossier.StudyFolder, parts.Beside}, {dossier.PhotosFolder, parts.Photos}} {
		for _, name := range p.In(of.folder) {
			if name == dossier.FactsFile {
				continue
			}
			data, err := p.Read(name)
			if err != nil {
				e.add("%v", err)
			}
			of.into[strings.TrimPrefix(name, of.folder)] = data
		}
	}
	data, err := p.Read(dossier.FactsFile)
	switch {
	case err != nil:
		e.add("%v: the package has no facts to be worked out of", err)
	default:
		if err := json.Unmarshal(data, &parts.Facts); err != nil {
			e.add("%s cannot be read: %s", dossier.FactsFile, plainJSONError(data, err))
		}
	}
	return parts, e.orNil()
}

type againCheck struct {
	p   *Package
	doc *DossierAgain
}

func (c *againCheck) differs(d NumberDifference) {
	if len(c.doc.Differences) < mostNumbers {
		c.doc.Differences = append(c.doc.Differences, d)
		return
	}
	c.doc.More++
}

func (c *againCheck) text(file, where, was, now string) {
	c.differs(NumberDifference{File: file, Where: where, Was: inOneLine(was), Now: inOneLine(now)})
}

// inOneLine keeps a text to what a line can hold.
func inOneLine(s string) string {
	const most = 200
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// compare goes through the files of both, the package's and those made again.
func (c *againCheck) compare(ctx context.Context, files []dossier.File, progress func(stage string, done, total int)) error {
	made := make(map[string]*dossier.File, len(files))
	names := c.p.Names()
	for i := range files {
		made[files[i].Name] = &files[i]
		if !c.p.Has(files[i].Name) {
			names = append(names, files[i].Name)
		}
	}
	// What the rest is made of stands first in the list of differences.
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(rankOf(a), rankOf(b)), cmp.Compare(a, b)) })
	left := map[string]int{}
	for i, name := range names {
		if err := ctx.Err(); err != nil {
			return err
		}
		if progress != nil && i%16 == 0 {
			progress("Comparing", i, len(names))
		}
		if why := c.leaves(name); why != "" {
			left[why]++
			continue
		}
		if err := c.file(name, made[name]); err != nil {
			return err
		}
	}
	if progress != nil {
		progress("Comparing", len(names), len(names))
	}
	for why, n := range left {
		c.doc.Left = append(c.doc.Left, strings.Replace(why, "N files", counted(n, "file", "files"), 1))
	}
	slices.Sort(c.doc.Left)
	return nil
}

func rankOf(name string) int {
	for i, folder := range []string{"results/", dossier.TablesFolder, dossier.SeasonFolder, dossier.StudyFolder} {
		if strings.HasPrefix(name, folder) {
			return i
		}
	}
	return 99
}

// dataFiles are those whose numbers are compared one by one.
var dataFiles = []string{".json", ".csv", ".geojson"}

// leaves says why a file is not compared; "" where it is.
func (c *againCheck) leaves(name string) string {
	switch {
	case name == dossier.ReportPDF:
		return dossier.ReportPDF + ": no two prints are alike; report.html holds the same"
	case name == dossier.ChecksumsFile:
		return dossier.ChecksumsFile + ": it follows from the files; brinefield verify compares it"
	case c.doc.Exact || slices.Contains(dataFiles, path.Ext(name)):
		return ""
	case strings.HasPrefix(name, dossier.FiguresFolder):
		return fmt.Sprintf("figures/: N files that are drawn, by %s; their numbers are compared", sayVersion(c.doc.By))
	case strings.Contains(name, "/"):
		return fmt.Sprintf("%s/: N files whose words are set by %s", path.Dir(name), sayVersion(c.doc.By))
	}
	return fmt.Sprintf("N files at the root whose words are set by %s", sayVersion(c.doc.By))
}

func (c *againCheck) file(name string, made *dossier.File) error {
	c.doc.Files++
	if made == nil {
		c.text(name, "", "there", "not made again: it does not come of the raw tables")
		return nil
	}
	if !c.p.Has(name) {
		c.text(name, "", "missing", "there")
		return nil
	}
	was, err := c.p.Read(name)
	if err != nil {
		return &PackageError{Package: c.p.Name, Problems: []string{err.Error()}}
	}
	switch path.Ext(name) {
	case ".json", ".geojson":
		c.document(name, was, made.Bytes)
	case ".csv":
		c.table(name, was, made.Bytes)
	default:
		if !bytes.Equal(was, made.Bytes) {
			at, line := firstDifference(was, made.Bytes)
			c.text(name, line, fmt.Sprintf("%d bytes, another from byte %d on", len(was), at), fmt.Sprintf("%d bytes", len(made.Bytes)))
		}
	}
	return nil
}

// firstDifference is the byte from which on two files differ, from 1, and the line
// where they are text.
func firstDifference(a, b []byte) (at int, line string) {
	for at < min(len(a), len(b)) && a[at] == b[at] {
		at++
	}
	if !bytes.ContainsRune(a[:min(len(a), 1000)], 0) {
		line = fmt.Sprintf("line %d", lineAt(a, int64(at)))
	}
	return at + 1, line
}
