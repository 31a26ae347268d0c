package brinefield_test

import (
	"strings"
	"testing"
	"testing/fstest"
)

// Each rule is shown a small tree that breaks it in one place and a tree that
// keeps it: a rule that cannot fail protects nothing.
func TestHouseRulesCanFail(t *testing.T) {
	const machineFile = "/ho" + "me/ann/season"
	cases := []struct {
		rule  string
		files map[string]string
		want  string // part of the complaint; "" = none
	}{
		{"rooms", goFileOf("core/study/a.go", "study", `"brinefield/core/season"`), "core/study may not import core/season"},
		{"rooms", goFileOf("core/season/a.go", "season", `"brinefield/core/study"`), ""},
		{"rooms", goFileOf("core/attic/a.go", "attic", `"fmt"`), "core/attic is not in the table of rooms"},
		{"rooms", goFileOf("core/study/a_test.go", "study_test", `"brinefield/core/season"`), ""},

		{"core and app", goFileOf("core/seawater/a.go", "seawater", `"os"`), `may not import "os"`},
		{"core and app", goFileOf("core/seawater/a.go", "seawater", `"net/http"`), `may not import "net/http"`},
		{"core and app", goFileOf("core/seawater/a.go", "seawater", `"log/slog"`), `may not import "log/slog"`},
		{"core and app", goFileOf("core/seawater/a.go", "seawater", `"math/rand"`), "use numeric.Stream"},
		{"core and app", goFileOf("core/seawater/a.go", "seawater", `"math/rand/v2"`), ""},
		{"core and app", goFileOf("core/seawater/a_test.go", "seawater", `"os"`), ""},
		{"core and app", goFileOf("internal/app/a.go", "app", `"database/sql"`), `may not import "database/sql"`},
		{"core and app", goFileOf("internal/files/a.go", "files", `"os"`), ""},

		{"core uses no clock", goBody("core/season/a.go", "package season\nimport \"time\"\nvar t = time.Now()\n"), "may not use time.Now"},
		{"core uses no clock", goBody("core/season/a.go", "package season\nimport clock \"time\"\nvar z, _ = clock.LoadLocation(\"\")\n"), "may not use clock.LoadLocation"},
		{"core uses no clock", goBody("core/season/a.go", "package season\nimport \"time\"\nvar d = time.Second\n"), ""},
		{"core uses no clock", goBody("core/numeric/a.go", "package numeric\nimport \"math/rand/v2\"\nvar x = rand.Float64()\n"), "may not use rand.Float64"},
		{"core uses no clock", goBody("core/numeric/a.go", "package numeric\nimport \"math/rand/v2\"\nvar r = rand.New(rand.NewPCG(1, 2))\n"), ""},
		{"core uses no clock", goBody("core/numeric/a.go", "package numeric\nimport \"fmt\"\nfunc f() { fmt.Println() }\n"), "may not use fmt.Println"},

		{"walls", goFileOf("core/study/a.go", "study", `"brinefield/internal/app"`), "core is values in"},
		{"walls", goFileOf("internal/app/a.go", "app", `"brinefield/internal/files"`), "app declares the small interfaces"},
		{"walls", goFileOf("internal/cli/a.go", "cli", `"brinefield/internal/httpapi"`), "adapters do not know each other"},
		{"walls", goFileOf("internal/cli/a_test.go", "cli", `"brinefield/internal/httpapi"`), "adapters do not know each other"},
		{"walls", goFileOf("internal/gate/a.go", "gate", `"brinefield/internal/access"`), ""},
		{"walls", goFileOf("internal/gate/a.go", "gate", `"brinefield/internal/httpapi"`), "adapters do not know each other"},
		{"walls", goFileOf("internal/access/a.go", "access", `"brinefield/internal/gate"`), "adapters do not know each other"},
		{"walls", goFileOf("internal/cli/a.go", "cli", `"brinefield/internal/cli/terminal"`), ""},
		{"walls", goFileOf("internal/app/a.go", "app", `"brinefield/internal/pictures"`), ""},
		{"walls", goFileOf("internal/httpapi/a.go", "httpapi", `"brinefield/internal/pictures"`), ""},
		{"walls", goFileOf("internal/pictures/a.go", "pictures", `"brinefield/internal/app"`), "knows nothing else of this project"},
		{"core and app", goFileOf("internal/pictures/a.go", "pictures", `"os"`), `may not import "os"`},
		{"core and app", goFileOf("internal/pictures/a.go", "pictures", `"net/http"`), ""},
		{"walls", goFileOf("internal/httpapi/a.go", "httpapi", `"brinefield/web"`), "handed over as an fs.FS"},
		{"walls", goFileOf("internal/cli/a.go", "cli", `"brinefield/cmd/brinefield"`), "nothing imports it"},
		{"walls", goFileOf("cmd/brinefield/main.go", "main", `"brinefield/web"`), ""},

		{"a module from outside", goFileOf("internal/app/a.go", "app", `"github.com/danielgtaylor/huma/v2"`), "its home is internal/httpapi"},
		{"a module from outside", goFileOf("core/study/a.go", "study", `"github.com/BurntSushi/toml"`), "its home is core/season"},
		{"a module from outside", goFileOf("core/study/a.go", "study", `"example.org/new"`), "no room is the home"},
		{"a module from outside", goFileOf("core/study/a.go", "study", `"pgregory.net/rapid"`), "its home is nothing"},
		{"a module from outside", goFileOf("core/study/a_test.go", "study", `"pgregory.net/rapid"`), ""},
		{"a module from outside", goFileOf("core/conduction/a.go", "conduction", `"gonum.org/v1/gonum/mat"`), ""},

		{"test packages", goFileOf("core/conduction/a.go", "conduction", `"brinefield/core/numeric/numtest"`), "is for tests"},
		{"test packages", goFileOf("internal/sqlite/a.go", "sqlite", `"brinefield/internal/storetest"`), "is for tests"},
		{"test packages", goFileOf("internal/sqlite/a_test.go", "sqlite", `"brinefield/internal/storetest"`), ""},
		{"walls", goFileOf("internal/sqlite/a_test.go", "sqlite", `"brinefield/internal/storetest"`), ""},
		{"test packages", goFileOf("core/conduction/a_test.go", "conduction", `"brinefield/core/numeric/numtest"`), ""},

		{"every package says", goBody("core/study/a.go", "package study\n"), "has a comment before package"},
		{"every package says", goBody("core/study/a.go", "// Words.\npackage study\n"), `must begin with "Package study "`},
		{"every package says", goBody("cmd/brinefield/main.go", "// main joins the parts.\npackage main\n"), `must begin with "Brinefield "`},
		{"every package says", goBody("cmd/brinefield/main.go", "// Brinefield joins the parts.\npackage main\n"), ""},

		{"files are short", goBody("core/study/a.go", "package study\n"+strings.Repeat("\n", longestFile)), "501 lines"},
		{"files are short", goBody("core/study/a.go", "package study\n"+strings.Repeat("\n", longestFile-1)), ""},
		{"files are short", goBody("core/study/a.go", "// Code generated by a tool. DO NOT EDIT.\npackage study\n"+strings.Repeat("\n", longestFile)), ""},

		{"no path", map[string]string{"docs/a.md": "see\n" + machineFile + "\n"}, "docs/a.md:2"},
		{"no path", map[string]string{"docs/a.md": "see docs/home/a and ./work/x\n"}, ""},

		{"nothing is left", goBody("core/study/a.go", "package study // TO"+"DO: later\n"), "core/study/a.go:1"},

		{"every direct", map[string]string{"web/package.json": `{"devDependencies": {"vite": "8.0.0"}}`, depsPage: "nothing"}, "no line names `vite`"},
		{"every direct", map[string]string{"web/package.json": `{"devDependencies": {"vite": "8.0.0"}}`, depsPage: "| `vite` | builds |"}, ""},
		{"every direct", map[string]string{"README.md": "x"}, depsPage + " is missing"},
		{"every direct", map[string]string{
			"go.mod": "module brinefield\nrequire (\n\texample.org/new/v2 v2.0.0\n)\n", depsPage: "`example.org/new`",
			"core/study/a.go": "package study\nimport \"example.org/new/v2/part\"\n",
		}, "no line names `example.org/new/v2`"},

		{"links", map[string]string{"docs/a.md": "[b](b.md)"}, "docs/b.md, which is not there"},
		{"links", goBody("core/study/a.go", "// See docs/physics/study.md.\npackage study\n"), "docs/physics/study.md, which is not there"},
		{"links", map[string]string{"docs/a.md": "[b](../b.md#part) [c](https://example.org)", "b.md": ""}, ""},
	}
	tried := map[string]int{}
	for _, c := range cases {
		name := c.rule + ": " + c.want
		t.Run(name, func(t *testing.T) {
			r := ruleThatBegins(t, c.rule)
			tried[r.name]++
			got := strings.Join(r.check(treeOf(t, c.files)), "\n")
			if c.want == "" && got != "" || !strings.Contains(got, c.want) {
				t.Errorf("the rule said %q, which should hold %q", got, c.want)
			}
		})
	}
	for _, r := range rules {
		if tried[r.name] == 0 {
			t.Errorf("no case shows that the rule %q can fail", r.name)
		}
	}
}

func goFileOf(file, pkg, imported string) map[string]string {
	return goBody(file, "package "+pkg+"\n\nimport _ "+imported+"\n")
}

func goBody(file, body string) map[string]string { return map[string]string{file: body} }

func treeOf(t *testing.T, files map[string]string) *tree {
	t.Helper()
	fsys := fstest.MapFS{}
	for name, body := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(body)}
	}
	tree, err := readTree(fsys)
	if err != nil {
		t.Fatal(err)
	}
	return tree
}

func ruleThatBegins(t *testing.T, name string) rule {
	t.Helper()
	for _, r := range rules {
		if strings.HasPrefix(r.name, name) {
			return r
		}
	}
	t.Fatalf("no rule begins with %q", name)
	return rule{}
}
