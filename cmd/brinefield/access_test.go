package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/access"
	"brinefield/internal/httpapi"
)

// TestEveryOperationHasARule asks the program's own description of its API. A
// new route fails here until the table in internal/access says who may use it
// over the network; until then it is refused to every tablet.
func TestEveryOperationHasARule(t *testing.T) {
	var described []string
	for path, item := range describedRoutes().Paths {
		for _, op := range []*huma.Operation{item.Get, item.Put, item.Post, item.Delete, item.Options, item.Head, item.Patch, item.Trace} {
			if op == nil {
				continue
			}
			described = append(described, op.OperationID)
			need, ok := access.NeedOf(op.OperationID)
			ofStudy := strings.Contains(path, "{study}")
			switch {
			case !ok:
				t.Errorf("%s %s (%q) has no rule: say in internal/access/rules.go which right it needs over the network", op.Method, path, op.OperationID)
			case !ofStudy && need != access.AtHome && need != access.Reckon && need != access.Anyone:
				t.Errorf("%s needs the right to %s in a study, and %s names none", op.OperationID, need, path)
			case ofStudy && (need == access.Reckon || need == access.Anyone):
				t.Errorf("%s is about a study, and is open to devices of any study", op.OperationID)
			}
		}
	}
	if len(described) < 40 {
		t.Fatalf("only %d operations are described: this test does not look at the API", len(described))
	}
	for op := range httpapi.Downloads() {
		described = append(described, op)
		if need, ok := access.NeedOf(op); !ok || need == access.Reckon || need == access.Anyone {
			t.Errorf("the download %s needs %q: expected a right in its study", op, need)
		}
	}
	for _, op := range access.Operations() {
		if !slices.Contains(described, op) {
			t.Errorf("the rules know %q, which is no operation any more", op)
		}
	}
}

// TestTheTableInTheDocument compares the table of operations and roles in the
// document with the rules. BRINEFIELD_UPDATE=1 writes it again.
func TestTheTableInTheDocument(t *testing.T) {
	page := filepath.Join("..", "..", "docs", "deck-security.md")
	body, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	const begin, end = "<!-- made of internal/access/rules.go -->\n", "<!-- end -->"
	before, rest, found := strings.Cut(string(body), begin)
	table, after, ended := strings.Cut(rest, end)
	if !found || !ended {
		t.Fatalf("%s has no place for the table: %q … %q", page, begin, end)
	}
	if table == access.Table() {
		return
	}
	if os.Getenv("BRINEFIELD_UPDATE") == "" {
		t.Fatalf("the table in %s is not that of the rules; BRINEFIELD_UPDATE=1 writes it again", page)
	}
	if err := os.WriteFile(page, []byte(before+begin+access.Table()+end+after), 0o644); err != nil {
		t.Fatal(err)
	}
}
