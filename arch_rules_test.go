package brinefield_test

import (
	"fmt"
	"go/ast"
	"go/token"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// closed is a package that is not to be imported, with everything under it.
type closed struct{ path, why string }

func (c closed) covers(imported string) bool {
	return imported == c.path || strings.HasPrefix(imported, c.path+"/") && imported != "math/rand/v2"
}

// closedName lists what may not be used of a package: the names, or
// everything that is exported except some.
type closedName struct {
	names, except []string
	why           string
}

func (c closedName) covers(name string) bool {
	if c.except != nil {
		return !slices.Contains(c.except, name)
	}
	return slices.Contains(c.names, name)
}

type rule struct {
	name  string
	check func(*tree) []string
}

var rules = []rule{
	{"rooms of core import only what stands before them", checkRooms},
	{"core and app keep away from the machine", checkClosedImports},
	{"core uses no clock, no global chance and no output", checkClosedNames},
	{"walls between app, adapters, web and cmd", checkWalls},
	{"a module from outside has one home", checkOutside},
	{"test packages appear only in tests", checkTestOnly},
	{"every package says what it is for", checkPackageDocs},
	{"files are short enough to read", checkLength},
	{"no path of one machine", checkMachinePaths},
	{"nothing is left unfinished", checkUnfinished},
	{"every direct dependency is explained", checkDependencies},
	{"links in the documents lead somewhere", checkLinks},
}

func checkRooms(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		if !under(f.pkg, "core") || f.test {
			continue
		}
		allowed, known := rooms[f.pkg]
		if !known {
			bad = append(bad, fmt.Sprintf("%s: %s is not in the table of rooms in arch_test.go; add it with what it may import, and say in ARCHITECTURE.md what it is for", f.path, f.pkg))
			continue
		}
		for _, i := range f.imports {
			if under(i.pkg, "core") && !slices.Contains(allowed, i.pkg) {
				bad = append(bad, fmt.Sprintf("%s: %s may not import %s (allowed: %s); data moves in the order of the job and never back: take a plain value instead, or move the wall in arch_test.go and say why",
					i.at, f.pkg, i.pkg, listed(allowed)))
			}
		}
	}
	return bad
}

func checkClosedImports(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		var list []closed
		switch {
		case f.test || slices.Contains(testOnly, f.pkg):
		case under(f.pkg, "core"):
			list = closedStd
		case under(f.pkg, "internal/app"):
			list = closedToApp
		case slices.Contains(plain, f.pkg):
			list = closedToPlain
		}
		for _, i := range f.imports {
			for _, c := range list {
				if c.covers(i.path) {
					bad = append(bad, fmt.Sprintf("%s: %s may not import %q; %s", i.at, f.pkg, i.path, c.why))
				}
			}
		}
	}
	return bad
}

func checkClosedNames(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		if !under(f.pkg, "core") || f.test || slices.Contains(testOnly, f.pkg) {
			continue
		}
		names := f.importNames()
		ast.Inspect(f.syntax, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			id, ok := sel.X.(*ast.Ident)
			if !ok {
				return true
			}
			c, listed := closedNames[names[id.Name]]
			if listed && c.covers(sel.Sel.Name) {
				bad = append(bad, fmt.Sprintf("%s: %s may not use %s.%s; %s", t.at(sel.Pos()), f.pkg, id.Name, sel.Sel.Name, c.why))
			}
			return true
		})
	}
	return bad
}

// checkWalls keeps every arrow pointing inwards: cmd joins the parts,
// adapters know app and core, app knows core, core knows only itself. It
// holds in tests too, except that cmd's tests and the root's may see all.
func checkWalls(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		for _, i := range f.imports {
			if why := wall(f.pkg, i.pkg); why != "" {
				bad = append(bad, fmt.Sprintf("%s: %s may not import %s; %s", i.at, orRoot(f.pkg), i.pkg, why))
			}
		}
	}
	return bad
}

func wall(from, to string) string {
	switch {
	case to == "" || from == "" || under(from, "cmd") && !under(to, "cmd"):
		return ""
	case under(to, "cmd"):
		return "cmd is where the parts are joined: nothing imports it"
	case under(to, "web"):
		return "the web app is handed over as an fs.FS by cmd"
	case under(from, "core") && under(to, "internal"):
		return "core is values in, values out, and knows nothing of who uses it"
	case slices.Contains(testOnly, to): // the promises that every store is tested for; no program part may import it
		return ""
	case slices.Contains(plain, from) && to != from:
		return "it takes bytes and gives bytes, and knows nothing else of this project"
	case slices.Contains(plain, to):
		return ""
	case under(from, "internal/app") && under(to, "internal") && !under(to, "internal/app"):
		return "app declares the small interfaces that it needs; cmd hands them in"
	case under(from, "web"):
		return "web only embeds the built files"
	case slices.Contains(joined[adapter(from)], to):
		return ""
	case under(from, "internal") && under(to, "internal") && !under(to, "internal/app") && adapter(from) != adapter(to):
		return "adapters do not know each other; cmd joins them"
	}
	return ""
}

// adapter is the room of a package below internal: internal/cli for
// internal/cli/terminal.
func adapter(pkg string) string {
	parts := strings.Split(pkg, "/")
	return strings.Join(parts[:min(2, len(parts))], "/")
}

func checkOutside(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		for _, i := range f.imports {
			if !i.external() {
				continue
			}
			module, homes, known := homeOf(i.path)
			switch {
			case !known:
				bad = append(bad, fmt.Sprintf("%s: no room is the home of %q; add its module to the table in arch_test.go and to %s, with the reason", i.at, i.path, depsPage))
			case f.test || slices.Contains(testOnly, f.pkg):
			case !slices.ContainsFunc(homes, func(h string) bool {
				return f.pkg == strings.TrimSuffix(h, "/") || strings.HasPrefix(f.pkg+"/", strings.TrimSuffix(h, "/")+"/")
			}):
				bad = append(bad, fmt.Sprintf("%s: %s may not import %s; its home is %s, so that it can be replaced in one place", i.at, f.pkg, module, listed(homes)))
			}
		}
	}
	return bad
}

func homeOf(imported string) (module string, homes []string, known bool) {
	for m, h := range outside {
		if imported == m || strings.HasPrefix(imported, m+"/") {
			return m, h, true
		}
	}
	return "", nil, false
}

func checkTestOnly(t *tree) (bad []string) {
	for _, f := range t.goFiles {
		for _, i := range f.imports {
			if slices.Contains(testOnly, i.pkg) && !f.test {
				bad = append(bad, fmt.Sprintf("%s: %s is for tests and may not be part of the program", i.at, i.pkg))
			}
		}
	}
	return bad
}

func checkPackageDocs(t *tree) (bad []string) {
	documented := map[string]bool{}
	first := map[string]string{}
	for _, f := range t.goFiles {
		if f.test && f.pkg != "" {
			continue
		}
		if first[f.pkg] == "" {
			first[f.pkg] = f.path
		}
		if f.syntax.Doc == nil {
			continue
		}
		documented[f.pkg] = true
		want := "Package " + f.syntax.Name.Name + " "
		if f.syntax.Name.Name == "main" {
			want = "Brinefield "
		}
		if text := f.syntax.Doc.Text(); !strings.HasPrefix(text, want) && !f.generated {
			bad = append(bad, fmt.Sprintf("%s: the comment before package must begin with %q: it is the first thing that a reader of the package sees", f.path, want))
		}
	}
	for _, pkg := range sortedKeys(first) {
		if !documented[pkg] {
			bad = append(bad, fmt.Sprintf("%s: no file of %s has a comment before package; say in a few lines what it is for and what to call first", first[pkg], orRoot(pkg)))
		}
	}
	return bad
}

func checkLength(t *tree) (bad []string) {
	for _, f := range t.text {
		code := slices.Contains([]string{".go", ".ts", ".svelte", ".css"}, path.Ext(f.path))
		if !code || f.isTest() || f.generated() {
			continue
		}
		if n := strings.Count(f.body, "\n"); n > longestFile {
			bad = append(bad, fmt.Sprintf("%s: %d lines; above %d nobody knows where in the file they are: split it by what it does", f.path, n, longestFile))
		}
	}
	return bad
}

var machinePath = regexp.MustCompile(`(^|[^A-Za-z.])/(home|root|tmp|work|Users)/[A-Za-z.]`)

func checkMachinePaths(t *tree) (bad []string) {
	for _, f := range t.text {
		for n, line := range strings.Split(f.body, "\n") {
			if m := machinePath.FindString(line); m != "" {
				bad = append(bad, fmt.Sprintf("%s:%d: %q is a path of one machine; use a path relative to the repository, or a temporary folder that the system names", f.path, n+1, m))
			}
		}
	}
	return bad
}

// The words stand in pieces so that this file does not hold them.
var unfinished = regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|X` + `XX|HA` + `CK)\b|not (yet )?imple` + `mented`)

func checkUnfinished(t *tree) (bad []string) {
	for _, f := range t.text {
		if !slices.Contains([]string{".go", ".ts", ".svelte", ".sh", ""}, path.Ext(f.path)) {
			continue
		}
		for n, line := range strings.Split(f.body, "\n") {
			if m := unfinished.FindString(line); m != "" {
				bad = append(bad, fmt.Sprintf("%s:%d: %q: finish it, or leave it out and say so in the documents", f.path, n+1, m))
			}
		}
	}
	return bad
}

func checkDependencies(t *tree) (bad []string) {
	page, ok := t.file(depsPage)
	if !ok {
		return []string{depsPage + " is missing: every direct dependency has a line there that says why it is here"}
	}
	for _, name := range t.directDependencies() {
		if !strings.Contains(page, "`"+name+"`") {
			bad = append(bad, fmt.Sprintf("%s: no line names `%s`; say what it is for, why this one, and its licence", depsPage, name))
		}
	}
	return bad
}

var (
	markdownLink = regexp.MustCompile(`\]\(([^)#:\s]+)(#[^)\s]*)?\)`)
	codeMention  = regexp.MustCompile(`\bdocs/[a-z0-9/_-]+\.md\b`)
)

func checkLinks(t *tree) (bad []string) {
	for _, f := range t.text {
		if code := path.Ext(f.path); (code == ".go" || code == ".ts" || code == ".svelte") && !f.isTest() {
			for _, m := range codeMention.FindAllString(f.body, -1) {
				if !t.exists(m) {
					bad = append(bad, fmt.Sprintf("%s names %s, which is not there", f.path, m))
				}
			}
		}
		if path.Ext(f.path) != ".md" {
			continue
		}
		for n, line := range strings.Split(f.body, "\n") {
			for _, m := range markdownLink.FindAllStringSubmatch(line, -1) {
				if target := path.Join(path.Dir(f.path), m[1]); !t.exists(target) {
					bad = append(bad, fmt.Sprintf("%s:%d: the link leads to %s, which is not there", f.path, n+1, target))
				}
			}
		}
	}
	return bad
}

func under(pkg, room string) bool { return pkg == room || strings.HasPrefix(pkg, room+"/") }

func orRoot(pkg string) string {
	if pkg == "" {
		return "the root"
	}
	return pkg
}

func listed(names []string) string {
	if len(names) == 0 {
		return "nothing"
	}
	return strings.Join(names, ", ")
}

func quoted(lit *ast.BasicLit) string {
	s, err := strconv.Unquote(lit.Value)
	if err != nil {
		return lit.Value
	}
	return s
}

func (t *tree) at(p token.Pos) string {
	pos := t.files.Position(p)
	return fmt.Sprintf("%s:%d", pos.Filename, pos.Line)
}

func isText(body []byte) bool { return len(body) < 2<<20 && utf8.Valid(body) }
