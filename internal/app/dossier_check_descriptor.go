package app

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"brinefield/core/dossier"
)

// The part of a Frictionless Data Package that is checked: its resources and the
// schemas of its tables (Data Package and Table Schema, specifications version 1,
// specs.frictionlessdata.io; version 2 names the same keys).

type packageDescriptor struct {
	Profile   string               `json:"profile"`
	Name      string               `json:"name"`
	Resources []descriptorResource `json:"resources"`
}

type descriptorResource struct {
	Name     string          `json:"name"`
	Path     json.RawMessage `json:"path"` // a text, or a list of one
	Profile  string          `json:"profile"`
	Hash     string          `json:"hash"`
	Bytes    *int64          `json:"bytes"`
	Encoding string          `json:"encoding"`
	Schema   *tableSchema    `json:"schema"`
	Dialect  *struct {
		Delimiter string `json:"delimiter"`
		Header    *bool  `json:"header"`
	} `json:"dialect"`
}

// path is the one file of a resource.
func (r *descriptorResource) path() (string, bool) {
	var one string
	if json.Unmarshal(r.Path, &one) == nil {
		return one, one != ""
	}
	var list []string
	if json.Unmarshal(r.Path, &list) == nil && len(list) == 1 {
		return list[0], list[0] != ""
	}
	return "", false
}

// describedTable is a table with its schema.
type describedTable struct {
	resource string
	file     string
	schema   *tableSchema
}

// descriptor compares datapackage.json with the files.
func (c *packageCheck) descriptor(context.Context) error {
	if !c.p.Has(dossier.DescriptorFile) {
		return nil // layout says so
	}
	data, err := c.p.Read(dossier.DescriptorFile)
	if err != nil {
		return err
	}
	var d packageDescriptor
	if err := json.Unmarshal(data, &d); err != nil {
		c.differs("%s cannot be read: %s", dossier.DescriptorFile, plainJSONError(data, err))
		return nil
	}
	if d.Name == "" {
		c.differs("%s: the package has no name", dossier.DescriptorFile)
	}
	if len(d.Resources) == 0 {
		c.differs("%s lists no resources", dossier.DescriptorFile)
	}
	names, files := map[string]bool{}, map[string]bool{}
	for i := range d.Resources {
		c.resource(&d.Resources[i], i, names, files)
	}
	c.notDescribed(files)
	return nil
}

func (c *packageCheck) resource(r *descriptorResource, i int, names, files map[string]bool) {
	at := fmt.Sprintf("%s: resources[%d]", dossier.DescriptorFile, i)
	switch {
	case r.Name == "":
		c.differs("%s has no name", at)
	case names[r.Name]:
		c.differs("%s: the name %q is there twice", at, r.Name)
	}
	names[r.Name] = true
	file, ok := r.path()
	switch {
	case !ok:
		c.differs("%s (%s) has no path of one file", at, r.Name)
		return
	case badPackageName(file) != "":
		c.differs("%s (%s): %q is no file of the package: %s", at, r.Name, file, badPackageName(file))
		return
	case files[file]:
		c.differs("%s (%s): the file %s is described twice", at, r.Name, file)
	case !c.p.Has(file):
		c.differs("%s (%s): the file %s is missing", at, r.Name, file)
		return
	}
	files[file] = true
	if r.Bytes != nil && *r.Bytes != c.p.files[file].Bytes {
		c.differs("%s has %d bytes, and %s says %d", file, c.p.files[file].Bytes, dossier.DescriptorFile, *r.Bytes)
	}
	if r.Hash != "" && strings.TrimPrefix(strings.ToLower(r.Hash), "sha256:") != c.p.hashes[file] {
		c.differs("%s was changed after it was described: its SHA-256 is %s, and %s says %s", file, c.p.hashes[file], dossier.DescriptorFile, r.Hash)
	}
	if r.Schema == nil {
		if strings.HasSuffix(file, ".csv") {
			c.differs("%s (%s): the table %s has no schema", at, r.Name, file)
		}
		return
	}
	if wrong := r.Schema.check(); wrong != "" {
		c.differs("%s (%s): %s", at, r.Name, wrong)
		return
	}
	if r.Dialect != nil && (r.Dialect.Delimiter != "" && r.Dialect.Delimiter != "," || r.Dialect.Header != nil && !*r.Dialect.Header) {
		c.differs("%s (%s): the tables of a package are comma separated, with a header", at, r.Name)
		return
	}
	if c.sameHeader(file, r.Schema) {
		c.tablesFound = append(c.tablesFound, describedTable{r.Name, file, r.Schema})
	}
}

// sameHeader compares the header of a table with the fields of its schema.
func (c *packageCheck) sameHeader(file string, s *tableSchema) bool {
	header, err := c.header(file)
	if err != nil {
		c.differs("%s:1: the header cannot be read: %v", file, err)
		return false
	}
	for i := range max(len(header), len(s.Fields)) {
		switch {
		case i >= len(s.Fields):
			c.differs("%s:1:%s: %s does not describe this column", file, header[i], dossier.DescriptorFile)
			return false
		case i >= len(header):
			c.differs("%s:1: the column %s is missing, which %s describes", file, s.Fields[i].Name, dossier.DescriptorFile)
			return false
		case header[i] != s.Fields[i].Name:
			c.differs("%s:1: column %d is %q, and %s says %q", file, i+1, header[i], dossier.DescriptorFile, s.Fields[i].Name)
			return false
		}
	}
	return true
}

func (c *packageCheck) header(file string) ([]string, error) {
	r, err := c.p.Open(file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	row, err := newTableReader(r).Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the file is empty")
	}
	return row, err
}

// newTableReader reads a table of a package: comma separated, every row with as
// many cells as the header.
func newTableReader(r io.Reader) *csv.Reader {
	t := csv.NewReader(r)
	t.ReuseRecord = true
	return t
}

// notDescribed finds files that no resource describes. The descriptor cannot
// describe itself, nor the list of checksums that holds its own.
func (c *packageCheck) notDescribed(files map[string]bool) {
	free := []string{dossier.DescriptorFile, dossier.ChecksumsFile}
	for _, name := range c.p.names {
		if !files[name] && !slices.Contains(free, name) {
			c.differs("%s does not describe %s", dossier.DescriptorFile, name)
		}
	}
}
