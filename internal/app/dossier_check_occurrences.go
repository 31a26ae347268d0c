package app

import (
	"context"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"strings"

	"brinefield/core/dossier"
)

// The part of a Darwin Core Archive's meta.xml that is checked (Darwin Core text
// guide, dwc.tdwg.org/text).

type darwinArchive struct {
	XMLName    xml.Name      `xml:"archive"`
	Core       darwinTable   `xml:"core"`
	Extensions []darwinTable `xml:"extension"`
}

type darwinTable struct {
	RowType string   `xml:"rowType,attr"`
	Skipped int      `xml:"ignoreHeaderLines,attr"`
	Files   []string `xml:"files>location"`
	ID      *struct {
		Index int `xml:"index,attr"`
	} `xml:"id"`
	CoreID *struct {
		Index int `xml:"index,attr"`
	} `xml:"coreid"`
	Fields []struct {
		Index *int   `xml:"index,attr"`
		Term  string `xml:"term,attr"`
	} `xml:"field"`
}

// column finds the column of a term by its local name; -1 where there is none.
func (t *darwinTable) column(term string) int {
	for _, f := range t.Fields {
		if path.Base(f.Term) == term && f.Index != nil {
			return *f.Index
		}
	}
	return -1
}

// darwinCore checks that every event, occurrence and measurement refers to one that
// is there.
func (c *packageCheck) darwinCore(ctx context.Context) error {
	if !c.p.Has(dossier.MetaFile) {
		return nil // layout says so
	}
	var archive darwinArchive
	if err := c.readXML(dossier.MetaFile, &archive); err != nil {
		return err
	}
	if len(archive.Core.Files) == 0 {
		c.differs("%s names no table as the core", dossier.MetaFile)
		return nil
	}
	if c.p.Has(dossier.EMLFile) {
		var eml struct {
			XMLName xml.Name
		}
		if err := c.readXML(dossier.EMLFile, &eml); err != nil {
			return err
		}
	}
	d := &darwinCheck{c: c, events: map[string]bool{}, occurrences: map[string]bool{}}
	if err := d.core(ctx, &archive.Core); err != nil {
		return err
	}
	// What others refer to is gathered first.
	for i := range archive.Extensions {
		if err := d.gather(ctx, &archive.Extensions[i]); err != nil {
			return err
		}
	}
	for i := range archive.Extensions {
		if err := d.extension(ctx, &archive.Extensions[i]); err != nil {
			return err
		}
	}
	return nil
}

func (c *packageCheck) readXML(name string, into any) error {
	data, err := c.p.Read(name)
	if err != nil {
		return err
	}
	d := xml.NewDecoder(strings.NewReader(string(data)))
	err = d.Decode(into)
	for err == nil {
		_, err = d.Token()
	}
	if !errors.Is(err, io.EOF) {
		c.differs("%s cannot be read: %v", name, err)
	}
	return nil
}

type darwinCheck struct {
	c                   *packageCheck
	events, occurrences map[string]bool
}

// file is the one file of a table, whose header agrees with its terms.
func (d *darwinCheck) file(t *darwinTable) (string, bool) {
	if len(t.Files) != 1 || badPackageName("darwin-core/"+t.Files[0]) != "" {
		d.c.differs("%s: a table of the type %s does not name one file", dossier.MetaFile, t.RowType)
		return "", false
	}
	name := path.Join("darwin-core", t.Files[0])
	if !d.c.p.Has(name) {
		d.c.differs("%s names %s, which is missing", dossier.MetaFile, name)
		return "", false
	}
	header, err := d.c.header(name)
	if err != nil {
		d.c.differs("%s:1: the header cannot be read: %v", name, err)
		return "", false
	}
	if t.Skipped != 1 {
		d.c.differs("%s: %s has one row of names, and ignoreHeaderLines is %d", dossier.MetaFile, t.Files[0], t.Skipped)
	}
	for _, f := range t.Fields {
		switch {
		case f.Index == nil:
			continue // one value for all rows
		case *f.Index < 0 || *f.Index >= len(header):
			d.c.differs("%s: %s is column %d of %s, which has %d", dossier.MetaFile, f.Term, *f.Index, t.Files[0], len(header))
			return "", false
		case header[*f.Index] != path.Base(f.Term):
			d.c.differs("%s:1: column %d is %q, and %s says %s", name, *f.Index+1, header[*f.Index], dossier.MetaFile, f.Term)
			return "", false
		}
	}
	for _, id := range []*struct {
		Index int `xml:"index,attr"`
	}{t.ID, t.CoreID} {
		if id != nil && (id.Index < 0 || id.Index >= len(header)) {
			d.c.differs("%s: the id is column %d of %s, which has %d", dossier.MetaFile, id.Index, t.Files[0], len(header))
			return "", false
		}
	}
	return name, true
}

func (d *darwinCheck) core(ctx context.Context, t *darwinTable) error {
	name, ok := d.file(t)
	if !ok {
		return nil
	}
	if t.ID == nil {
		d.c.differs("%s: the core has no id", dossier.MetaFile)
		return nil
	}
	if err := d.c.eachRow(ctx, name, func(n int, row []string) {
		id := row[t.ID.Index]
		switch {
		case id == "":
			d.c.differs("%s:%d:eventID: the cell is blank", name, n)
		case d.events[id]:
			d.c.differs("%s:%d:eventID: %.100q is there already", name, n, id)
		}
		d.events[strings.Clone(id)] = true
	}, false); err != nil {
		return err
	}
	parent := t.column("parentEventID")
	if parent < 0 {
		return nil
	}
	return d.c.eachRow(ctx, name, func(n int, row []string) {
		if id := row[parent]; id != "" && (!d.events[id] || id == row[t.ID.Index]) {
			d.c.differs("%s:%d:parentEventID: %.100q is no other event", name, n, id)
		}
	}, true)
}

func isOccurrences(t *darwinTable) bool { return path.Base(t.RowType) == "Occurrence" }

func (d *darwinCheck) gather(ctx context.Context, t *darwinTable) error {
	name, ok := d.file(t)
	at := t.column("occurrenceID")
	if !ok || !isOccurrences(t) || at < 0 {
		return nil
	}
	return d.c.eachRow(ctx, name, func(n int, row []string) {
		id := row[at]
		if id == "" || d.occurrences[id] {
			d.c.differs("%s:%d:occurrenceID: %.100q is blank, or there already", name, n, id)
		}
		d.occurrences[strings.Clone(id)] = true
	}, false)
}

func (d *darwinCheck) extension(ctx context.Context, t *darwinTable) error {
	if len(t.Files) != 1 || t.CoreID == nil {
		d.c.differs("%s: an extension of the type %s has no coreid", dossier.MetaFile, t.RowType)
		return nil
	}
	name := path.Join("darwin-core", t.Files[0])
	header, err := d.c.header(name)
	if err != nil || t.CoreID.Index < 0 || t.CoreID.Index >= len(header) {
		return nil // gather said so
	}
	occurrence := t.column("occurrenceID")
	if occurrence >= len(header) || isOccurrences(t) {
		occurrence = -1
	}
	return d.c.eachRow(ctx, name, func(n int, row []string) {
		if id := row[t.CoreID.Index]; !d.events[id] {
			d.c.differs("%s:%d:eventID: %.100q is no event", name, n, id)
		}
		if occurrence < 0 || row[occurrence] == "" || d.occurrences[row[occurrence]] {
			return
		}
		d.c.differs("%s:%d:occurrenceID: %.100q is no occurrence", name, n, row[occurrence])
	}, true)
}
