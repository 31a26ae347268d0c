// Package brinefield_test holds the rules of the house as tests: who may
// import whom, what the core may not touch, and what must be written down.
// The rules stand in this file; arch_rules_test.go applies them to a tree of
// files, and arch_selftest_test.go proves that each of them can fail.
package brinefield_test

import (
	"os"
	"slices"
	"testing"
)

// rooms is the wall plan of core: which core packages each may import.
// Data moves in the order of the job and never back. A new room gets a line
// here, with the reason where the line is not obvious.
var rooms = map[string][]string{
	"core/quantity":        {},
	"core/numeric":         {},
	"core/numeric/numtest": {},
	"core/study":           {"core/quantity"},
	"core/season":          {"core/study", "core/quantity"}, // reads and prints the trade's units
	"core/journal":         {"core/study"},                  // keeps text as it was written: knows no units and no season folder
	"core/seawater":        {"core/quantity"},
	"core/conduction":      {"core/quantity", "core/numeric"},                    // not seawater: app hands it a conductivity, so each formula can be checked alone
	"core/reach":           {"core/conduction", "core/numeric", "core/quantity"}, // not study: a field in, distances out, for any page
	"core/rig":             {"core/numeric"},                                     // not conduction: app compares; a plate without end, in closed form
	"core/background":      {"core/numeric"},                                     // not seawater: app hands it a conductivity
	"core/exposure":        {"core/study", "core/conduction", "core/numeric"},
	"core/simulate":        {"core/study", "core/exposure", "core/conduction", "core/numeric"},
	"core/inference":       {"core/numeric"},                              // plain tables: knows nothing of animals
	"core/schedule":        {},                                            // chance arrives as bytes, and who encrypts is not its business
	"core/deck":            {},                                            // words and counts: what is logged, never what it says of a field
	"core/optics":          {"core/numeric"},                              // not study: pixels and places as plain numbers
	"core/footage":         {"core/study", "core/optics", "core/numeric"}, // frames, clocks and fixes to tracks
	// Everything that is handed over: figures, tables, texts, the data package.
	"core/dossier":     {"core/study", "core/numeric", "core/quantity"}, // not inference nor exposure: app hands it numbers, so that a text can be tested without a model
	"core/calibration": {"core/numeric"},                                // potentials as plain numbers: app asks conduction for them
}

// outside says which room may use which module from elsewhere: a dependency
// has one home, so that it can be replaced in one place.
var outside = map[string][]string{
	"gonum.org/v1/gonum":                {"core/"},
	"git.sr.ht/~sbinet/gg":              {"internal/printing"},
	"golang.org/x/image":                {"internal/printing"},
	"codeberg.org/go-pdf/fpdf":          {"internal/printing"},
	"codeberg.org/go-fonts/liberation":  {"internal/printing"},
	"github.com/BurntSushi/toml":        {"core/season"},
	"github.com/gowebpki/jcs":           {"internal/sqlite"}, // what is hashed has one form; core/journal writes its own, checked against this
	"github.com/danielgtaylor/huma":     {"internal/httpapi"},
	"github.com/alecthomas/kong":        {"internal/cli"},
	"filippo.io/age":                    {"internal/sealing"},
	"modernc.org/sqlite":                {"internal/sqlite"},
	"github.com/pressly/goose":          {"internal/sqlite"},
	"github.com/schollz/progressbar/v3": {"cmd/brinefield"}, // main knows whether there is a terminal
	"golang.org/x/term":                 {"cmd/brinefield"},
	"golang.org/x/net":                  {"internal/names"}, // multicast, and the packets of DNS
	"golang.org/x/time":                 {"internal/gate"},  // how often a tablet may ask
	"pgregory.net/rapid":                {},                 // tests only, like the next two
	"github.com/google/go-cmp":          {},
	"github.com/rogpeppe/go-internal":   {},
}

// plain are rooms below internal that are no adapters: bytes in, bytes out,
// without a file, a network or anything of this project. App and adapters may use them.
var plain = []string{
	"internal/pictures", // not core: it knows formats of files, and nothing of the study of sharks
}

// joined are adapters that join others of one topic. All else is joined by cmd.
var joined = map[string][]string{
	"internal/gate": {"internal/access", "internal/authority", "internal/names"}, // who gets in is decided in one place, out of reach of the routes
}

// testOnly are packages that may appear only in tests.
var testOnly = []string{"core/numeric/numtest", "internal/storetest", "internal/cliptest"}

// closedStd are the parts of the standard library that core may not import.
var closedStd = []closed{
	{"os", "core takes bytes and gives bytes: files belong to internal/files"},
	{"net", "core works without a network"},
	{"io/ioutil", "core takes bytes and gives bytes: files belong to internal/files"},
	{"syscall", "core runs the same on every system"},
	{"database/sql", "core knows no database"},
	{"log", "core returns what it has to say as values"},
	{"flag", "core takes its choices as arguments"},
	{"crypto/rand", "chance arrives as a seed, so that the same seed gives the same bits for ever"},
	{"math/rand", "use numeric.Stream: a stream keyed by seed and purpose (math/rand/v2 for its type)"},
	{"unsafe", "core has no need of it"},
	{"testing", "only tests and numtest know of tests"},
}

// closedToApp is the same list for internal/app, which says what it needs as
// small interfaces and is handed the rest.
var closedToApp = []closed{
	{"os", "app is handed bytes: files belong to internal/files"},
	{"net", "app knows no network: routes belong to internal/httpapi"},
	{"database/sql", "app declares the stores that it needs; drivers live in rooms of their own"},
	{"log", "app returns what it has to say as values"},
	{"flag", "commands belong to internal/cli"},
	{"math/rand", "use numeric.Stream: a stream keyed by seed and purpose"},
	{"unsafe", "app has no need of it"},
	{"testing", "only tests know of tests"},
}

// closedToPlain is the same for the plain rooms below internal; net/http knows how
// files begin.
var closedToPlain = slices.DeleteFunc(slices.Clone(closedToApp), func(c closed) bool { return c.path == "net" })

// closedNames are functions of otherwise open packages that core may not use.
var closedNames = map[string]closedName{
	"time": {
		names: []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "LoadLocation", "Local"},
		why:   "core has no clock and reads no time zone of this machine: the time and the zones arrive as arguments",
	},
	"math/rand/v2": {
		except: []string{"Rand", "New", "Source", "ChaCha8", "NewChaCha8", "PCG", "NewPCG", "Zipf", "NewZipf"},
		why:    "the global source cannot be seeded: use numeric.Stream, which gives the same numbers for the same seed",
	},
	"fmt": {
		names: []string{"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"},
		why:   "core returns what it has to say as values",
	},
}

const (
	longestFile = 500 // lines; a reader should know where in the file they are
	depsPage    = "docs/dependencies.md"
)

func TestHouseRules(t *testing.T) {
	tree, err := readTree(os.DirFS("."))
	if err != nil {
		t.Fatal(err)
	}
	if len(tree.goFiles) < 20 {
		t.Fatalf("only %d Go files found: the test does not look at the tree", len(tree.goFiles))
	}
	for _, rule := range rules {
		t.Run(rule.name, func(t *testing.T) {
			for _, v := range rule.check(tree) {
				t.Error(v)
			}
		})
	}
}
