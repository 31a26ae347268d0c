package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"golang.org/x/term"

	"brinefield/internal/app"
	"brinefield/internal/cli"
)

// finder keeps one shelf for each folder, so that all entries of a run of the
// program carry the same name of that run.
type finder struct {
	mu      sync.Mutex
	shelves map[string]*shelf
}

func (f *finder) shelf(dir string) *shelf {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.shelves == nil {
		f.shelves = map[string]*shelf{}
	}
	if f.shelves[dir] == nil {
		f.shelves[dir] = newShelf(dir)
	}
	return f.shelves[dir]
}

// find says on which shelf a study lies. A path names a folder anywhere, whose
// own folder is then the shelf; a name is one on the usual shelf.
func (f *finder) find(dir, study string) (cli.Place, error) {
	usual, err := shelfFolder(dir)
	if err != nil {
		return cli.Place{}, err
	}
	name := study
	if isPath(study) {
		full, err := filepath.Abs(study)
		if err != nil {
			return cli.Place{}, fmt.Errorf("%s: %w", study, err)
		}
		usual, name = filepath.Dir(full), filepath.Base(full)
	}
	s := f.shelf(usual)
	place := cli.Place{Shelf: s, Folder: shortPath(usual), Name: name}
	if name != "" {
		_, err := s.Path(name)
		place.Exists = err == nil
	}
	return place, nil
}

// isPath tells a path from a name: it holds a separator, or a folder with a
// study lies there.
func isPath(study string) bool {
	if strings.ContainsRune(study, '/') || strings.ContainsRune(study, filepath.Separator) || study == "." || study == ".." {
		return true
	}
	_, err := os.Stat(filepath.Join(study, "study.db"))
	return study != "" && err == nil
}

// shortPath is a folder as its owner would write it.
func shortPath(dir string) string {
	home, err := os.UserHomeDir()
	if err != nil {
		return dir
	}
	if rel, err := filepath.Rel(home, dir); err == nil && filepath.IsLocal(rel) {
		return filepath.Join("~", rel)
	}
	return dir
}

// temporary makes the folder of a study that is not kept.
func temporary() (string, func(), error) {
	dir, err := os.MkdirTemp("", "brinefield-demo-") // 0700
	if err != nil {
		return "", nil, fmt.Errorf("a temporary folder for the demo cannot be made: %w", err)
	}
	return dir, func() { os.RemoveAll(dir) }, nil
}

// ask puts a question on a terminal; without one nobody is asked.
func ask(question string) (yes, asked bool) {
	if !term.IsTerminal(int(os.Stdin.Fd())) {
		return false, false
	}
	fmt.Fprintf(os.Stderr, "%s [y/N] ", question)
	answer, err := bufio.NewReader(os.Stdin).ReadString('\n')
	if err != nil {
		return false, true
	}
	answer = strings.ToLower(strings.TrimSpace(answer))
	return answer == "y" || answer == "yes", true
}

func program() app.Program {
	return app.Program{Version: version, Commit: commit, OSArch: platform}
}
