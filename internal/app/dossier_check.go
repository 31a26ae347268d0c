package app

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// CheckPackage checks a package: that it is laid out as a package is, that its
// checksums, its descriptor and its tables agree, that its season can be read, that
// what was sealed is what was opened and what the season says, and that results and
// Darwin Core rows belong to it. It works nothing out again; [WorkOutAgain] does.
//
// The error is a [*PackageError] where the package cannot be read at all.
// progress may be nil.
func CheckPackage(ctx context.Context, p *Package, program Program, progress func(stage string, done, total int)) (DossierCheck, error) {
	doc := DossierCheck{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Warnings: []string{}},
		Package: p.Name, Made: p.Heading.Made, By: p.Heading.Program, Files: len(p.names),
		Differences: []string{}, Notes: []string{}, Checked: []PackagePart{},
	}
	if p.hashes == nil {
		if err := p.Scan(ctx, progress); err != nil {
			return doc, err
		}
	}
	c := &packageCheck{p: p, doc: &doc}
	parts := []struct {
		name  string
		check func(context.Context) error
	}{
		{"layout", c.layout},
		{"checksums", c.checksums},
		{"descriptor", c.descriptor},
		{"tables", c.tables},
		{"season", c.seasonFolder},
		{"seal", c.seal},
		{"results", c.results},
		{"darwin-core", c.darwinCore},
	}
	for i, part := range parts {
		if err := ctx.Err(); err != nil {
			return doc, err
		}
		if progress != nil {
			progress("Checking", i, len(parts))
		}
		c.part, c.found = part.name, 0
		if err := part.check(ctx); err != nil {
			return doc, err
		}
		if over := c.found - mostDifferences; over > 0 {
			doc.Differences = append(doc.Differences, fmt.Sprintf("%s: and %d more", part.name, over))
		}
		doc.Checked = append(doc.Checked, PackagePart{Part: part.name, Differences: c.found})
	}
	if progress != nil {
		progress("Checking", len(parts), len(parts))
	}
	for _, name := range []string{dossier.DossierFile, dossier.ChecksumsFile, dossier.DescriptorFile} {
		if hash, ok := p.hashes[name]; ok {
			doc.InputsSHA256[name] = hash
		}
	}
	doc.Same = len(doc.Differences) == 0
	return doc, nil
}

type packageCheck struct {
	p     *Package
	doc   *DossierCheck
	part  string
	found int

	tablesFound []describedTable // by the descriptor
	study       *study.Study     // nil where the season has faults
}

func (c *packageCheck) differs(format string, args ...any) {
	if c.found++; c.found <= mostDifferences {
		c.doc.Differences = append(c.doc.Differences, fmt.Sprintf(format, args...))
	}
}

func (c *packageCheck) note(format string, args ...any) {
	c.doc.Notes = append(c.doc.Notes, fmt.Sprintf(format, args...))
}

// alwaysThere are the files without which nobody can read or cite a package.
var alwaysThere = []string{
	dossier.ReadmeFile, dossier.DescriptorFile, dossier.LicenceFile, dossier.CitationFile,
	dossier.FactsFile, dossier.FindingsFile, dossier.MetaFile, dossier.EMLFile, dossier.ReportHTML, dossier.MethodsMD,
}

// topNames are the files and folders at the root of a package.
var topNames = []string{
	dossier.ReadmeFile, dossier.DescriptorFile, dossier.DossierFile, dossier.LicenceFile, dossier.CitationFile, dossier.ChecksumsFile,
	dossier.SeasonFolder, dossier.StudyFolder, dossier.TablesFolder, dossier.FiguresFolder, dossier.PhotosFolder,
	"results/", "casts/", "sites/", "darwin-core/", "report/",
}

func (c *packageCheck) layout(context.Context) error {
	for _, name := range alwaysThere {
		if !c.p.Has(name) {
			c.differs("%s is missing", name)
		}
	}
	for _, folder := range []string{dossier.TablesFolder, dossier.FiguresFolder} {
		if len(c.p.In(folder)) == 0 {
			c.differs("the folder %s is missing", folder)
		}
	}
	for _, name := range c.p.names {
		top := name
		if first, _, below := strings.Cut(name, "/"); below {
			top = first + "/"
		}
		if !slices.Contains(topNames, top) {
			c.differs("%s has no place in a package", name)
		}
	}
	if c.p.Heading.Sealed > 0 {
		c.note("which pair was active is sealed in %s: their passes have no role and are in no estimate", counted(c.p.Heading.Sealed, "trial", "trials"))
	}
	if c.p.Heading.Invented {
		c.note("the data are invented, and the package says so")
	}
	if c.p.Heading.PDF == "" && !c.p.Has(dossier.ReportPDF) {
		c.note("the report is there as HTML, and not as PDF")
	}
	return nil
}

// checksums compares the list with the files: every file but the list is in it.
func (c *packageCheck) checksums(context.Context) error {
	data, err := c.p.Read(dossier.ChecksumsFile)
	if err != nil {
		return err
	}
	listed := map[string]string{}
	lines := bufio.NewScanner(bytes.NewReader(data))
	for row := 1; lines.Scan(); row++ {
		sum, name, ok := cutChecksum(lines.Text())
		switch {
		case !ok:
			c.differs("%s:%d: %.100q is no line of a checksum; expected 64 hexadecimal digits, two blanks and a name", dossier.ChecksumsFile, row, lines.Text())
		case listed[name] != "":
			c.differs("%s:%d: %s is listed twice", dossier.ChecksumsFile, row, name)
		default:
			listed[name] = sum
			c.compareSum(name, sum)
		}
	}
	if err := lines.Err(); err != nil {
		c.differs("%s: a line is too long for a checksum: %v", dossier.ChecksumsFile, err)
	}
	for _, name := range c.p.names {
		if listed[name] == "" && name != dossier.ChecksumsFile {
			c.differs("%s is not in %s: it was added after the package was made", name, dossier.ChecksumsFile)
		}
	}
	return nil
}

func (c *packageCheck) compareSum(name, sum string) {
	switch found, there := c.p.hashes[name]; {
	case name == dossier.ChecksumsFile:
		c.differs("%s lists itself, which no checksum can", dossier.ChecksumsFile)
	case !there:
		c.differs("%s is listed in %s and missing", name, dossier.ChecksumsFile)
	case found != sum:
		c.differs("%s was changed after the package was made: its SHA-256 is %s, and %s says %s", name, found, dossier.ChecksumsFile, sum)
	}
}

// cutChecksum takes a line apart as sha256sum writes it, in text or binary mode.
func cutChecksum(line string) (sum, name string, ok bool) {
	line = strings.TrimSuffix(line, "\r")
	if len(line) < 67 || line[64] != ' ' || line[65] != ' ' && line[65] != '*' {
		return "", "", false
	}
	sum, name = strings.ToLower(line[:64]), line[66:]
	if _, err := hex.DecodeString(sum); err != nil || badPackageName(name) != "" {
		return "", "", false
	}
	return sum, name, true
}

// seasonOf reads the season folder of a package.
func (p *Package) seasonOf() (Input, error) {
	in := Input{}
	for _, name := range p.In(dossier.SeasonFolder) {
		data, err := p.Read(name)
		if err != nil {
			return nil, err
		}
		in[strings.TrimPrefix(name, dossier.SeasonFolder)] = data
	}
	return in, nil
}

func (c *packageCheck) seasonFolder(context.Context) error {
	in, err := c.p.seasonOf()
	if err != nil {
		return err
	}
	s, err := ReadSeason(in)
	var faults *FaultsError
	if errors.As(err, &faults) {
		for _, f := range faults.Faults {
			c.differs("%s%s", dossier.SeasonFolder, f.String())
		}
		return nil
	}
	for _, name := range UnknownFiles(in) {
		c.differs("%s%s is no file of a season", dossier.SeasonFolder, name)
	}
	c.study = s
	sealed := 0
	for i := range s.Trials {
		if s.Trials[i].Sealed {
			sealed++
		}
	}
	if sealed != c.p.Heading.Sealed {
		c.differs("%strials.csv has %s, and %s says %d", dossier.SeasonFolder, counted(sealed, "sealed trial", "sealed trials"), dossier.DossierFile, c.p.Heading.Sealed)
	}
	return err
}
