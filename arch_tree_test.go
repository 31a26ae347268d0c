package brinefield_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
)

const module = "brinefield"

// tree is the repository as the rules see it: Go files parsed, the other
// texts as they stand. It is read from an fs.FS, so that the rules can be
// tried on small trees that exist only in a test.
type tree struct {
	fsys    fs.FS
	files   *token.FileSet
	goFiles []goFile
	text    []textFile
}

type goFile struct {
	path, pkg string // pkg is relative to the module; "" is the root
	test      bool
	generated bool
	syntax    *ast.File
	imports   []imported
}

type imported struct {
	path string // as written
	pkg  string // relative to the module, "" where it is another's
	at   string
}

// external reports whether the import is neither ours nor the standard
// library's: only modules from elsewhere have a dot in the first part.
func (i imported) external() bool {
	first, _, _ := strings.Cut(i.path, "/")
	return strings.Contains(first, ".")
}

type textFile struct{ path, body string }

// isTest counts examples of tests and data for tests, too.
func (f textFile) isTest() bool {
	name := path.Base(f.path)
	return strings.HasSuffix(name, "_test.go") || strings.Contains(name, ".test.") || strings.Contains(name, ".spec.") ||
		strings.HasPrefix(f.path, "web/tests/")
}

func (f textFile) generated() bool {
	head := f.body[:min(len(f.body), 400)]
	return strings.Contains(head, "Code generated") || strings.Contains(head, "auto-generated")
}

// skipped are folders that are not ours to judge: built, fetched, or data.
func skipped(p string, d fs.DirEntry) bool {
	switch d.Name() {
	case ".git", "node_modules", "bin", "coverage", "test-results":
		return true
	}
	return p == "web/dist"
}

func readTree(fsys fs.FS) (*tree, error) {
	t := &tree{fsys: fsys, files: token.NewFileSet()}
	err := fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && p != "." && skipped(p, d):
			return fs.SkipDir
		case d.IsDir() || !d.Type().IsRegular():
			return nil
		}
		return t.read(p)
	})
	return t, err
}

func (t *tree) read(p string) error {
	body, err := fs.ReadFile(t.fsys, p)
	if err != nil || !isText(body) {
		return err
	}
	name := path.Base(p)
	if name != "package-lock.json" && name != "go.sum" {
		t.text = append(t.text, textFile{path: p, body: string(body)})
	}
	if path.Ext(p) != ".go" || strings.Contains("/"+p, "/testdata/") || strings.HasPrefix(p, "tools/") {
		return nil
	}
	syntax, err := parser.ParseFile(t.files, p, body, parser.ParseComments)
	if err != nil {
		return fmt.Errorf("parse: %w", err)
	}
	f := goFile{
		path: p, pkg: strings.TrimPrefix(path.Dir(p), "."),
		test: strings.HasSuffix(p, "_test.go"), generated: ast.IsGenerated(syntax), syntax: syntax,
	}
	for _, spec := range syntax.Imports {
		i := imported{path: quoted(spec.Path), at: t.at(spec.Pos())}
		if rest, ours := strings.CutPrefix(i.path, module+"/"); ours {
			i.pkg = rest
		}
		f.imports = append(f.imports, i)
	}
	t.goFiles = append(t.goFiles, f)
	return nil
}

// importNames maps the name by which a file calls a package to its path.
func (f *goFile) importNames() map[string]string {
	names := map[string]string{}
	for n, spec := range f.syntax.Imports {
		p := f.imports[n].path
		name := path.Base(p)
		if name == "v2" {
			name = path.Base(path.Dir(p))
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = p
	}
	return names
}

// directDependencies are the modules that our Go files import and the
// packages that web/package.json names.
func (t *tree) directDependencies() []string {
	found := map[string]bool{}
	for _, f := range t.goFiles {
		for _, i := range f.imports {
			if i.external() {
				found[t.moduleOf(i.path)] = true
			}
		}
	}
	if body, ok := t.file("web/package.json"); ok {
		var manifest struct{ Dependencies, DevDependencies map[string]string }
		if err := json.Unmarshal([]byte(body), &manifest); err == nil {
			for name := range manifest.Dependencies {
				found[name] = true
			}
			for name := range manifest.DevDependencies {
				found[name] = true
			}
		}
	}
	return sortedKeys(found)
}

// moduleOf is the longest module in a go.mod that holds the import.
func (t *tree) moduleOf(imported string) string {
	best := imported
	longest := 0
	body, _ := t.file("go.mod")
	for _, line := range strings.Split(body, "\n") {
		fields := strings.Fields(strings.TrimPrefix(strings.TrimSpace(line), "require "))
		if len(fields) < 2 || !strings.HasPrefix(fields[1], "v") {
			continue
		}
		if m := fields[0]; (imported == m || strings.HasPrefix(imported, m+"/")) && len(m) > longest {
			best, longest = m, len(m)
		}
	}
	return best
}

func (t *tree) file(p string) (string, bool) {
	body, err := fs.ReadFile(t.fsys, p)
	return string(bytes.ReplaceAll(body, []byte("\r\n"), []byte("\n"))), err == nil
}

func (t *tree) exists(p string) bool {
	_, err := fs.Stat(t.fsys, p)
	return err == nil
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
