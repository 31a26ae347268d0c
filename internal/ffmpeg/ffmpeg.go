// Package ffmpeg looks into files of footage and makes small copies of them by
// running ffprobe and ffmpeg as separate programs. Files come from cameras, cards
// and the net, so that each is taken for hostile: what kind it is, its first bytes
// decide, against a short list; the programs may read that one file and nothing
// else, and have limits on time, memory and output. Begin with [New].
package ffmpeg

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"

	"brinefield/internal/app"
)

// Media is [app.Media] by ffmpeg and ffprobe. It is safe for concurrent use.
type Media struct {
	path []string // folders in which the programs are sought

	mu    sync.Mutex
	asked string // of which programs tools tells
	tools tools
}

var _ app.Media = (*Media)(nil)

// tools is what is known of the programs.
type tools struct {
	app.MediaTools
	ffprobe, ffmpeg string
	passthrough     []string // how this version is told to leave times alone
	noX264          bool
	old             bool // 5.0
}

// New finds the programs in the folders of a search path like $PATH, whenever they
// are needed: they may be installed while this program runs.
func New(searchPath string) *Media {
	return &Media{path: filepath.SplitList(searchPath)}
}

// System is [New] with the search path of this machine, and the folders in which
// package managers put programs although it does not name them.
func System() *Media {
	search := os.Getenv("PATH")
	if runtime.GOOS == "darwin" { // a program begun from the Finder has a short one
		search += string(os.PathListSeparator) + "/opt/homebrew/bin" + string(os.PathListSeparator) + "/usr/local/bin"
	}
	return New(search)
}

func (m *Media) find(name string) string {
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	for _, dir := range m.path {
		if !filepath.IsAbs(dir) { // what lies in the folder of the moment is not the system's program
			continue
		}
		at := filepath.Join(dir, name)
		if info, err := os.Stat(at); err == nil && info.Mode().IsRegular() && (runtime.GOOS == "windows" || info.Mode()&0o111 != 0) {
			return at
		}
	}
	return ""
}

// Tools says whether the programs are there and new enough.
func (m *Media) Tools(ctx context.Context) app.MediaTools { return m.look(ctx).MediaTools }

// look finds the programs, and asks them only when they are others than before.
func (m *Media) look(ctx context.Context) tools {
	m.mu.Lock()
	defer m.mu.Unlock()
	t := tools{ffprobe: m.find("ffprobe"), ffmpeg: m.find("ffmpeg")}
	mark := stamp(t.ffprobe) + stamp(t.ffmpeg)
	if mark == m.asked && m.tools.Version != "" {
		return m.tools
	}
	m.ask(ctx, &t)
	if ctx.Err() == nil {
		m.asked, m.tools = mark, t
	}
	return t
}

func stamp(path string) string {
	if path == "" {
		return "none;"
	}
	info, err := os.Stat(path)
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%s %d %d;", path, info.Size(), info.ModTime().UnixNano())
}

// What works without ffmpeg is said wherever it is missing.
const (
	withoutTools = "Without it no clip can be taken in, looked into or copied small. Footage that was taken in before still plays where the browser can decode it; positions from pixels (brinefield footage locate), tables, tracks and exposures all work."
	withoutX264  = "this ffmpeg has no encoder libx264: clips can be taken in, and played where the browser can decode and step through them; small copies of the others cannot be made."
)

func (m *Media) ask(ctx context.Context, t *tools) {
	var missing []string
	if t.ffmpeg == "" {
		missing = append(missing, "ffmpeg")
	}
	if t.ffprobe == "" {
		missing = append(missing, "ffprobe")
	}
	if len(missing) > 0 {
		verb := " is not installed. "
		if len(missing) > 1 {
			verb = " are not installed. "
		}
		t.Why, t.Remedy = strings.Join(missing, " and ")+verb+withoutTools, remedy()
		return
	}
	oldest, text := [2]int{1 << 30, 0}, ""
	for _, program := range []string{t.ffprobe, t.ffmpeg} {
		number, version, err := askVersion(ctx, program)
		if err != nil {
			t.Why, t.Remedy = fmt.Sprintf("%s does not run (%v). %s", filepath.Base(program), err, withoutTools), remedy()
			return
		}
		if number[0] < oldest[0] || number[0] == oldest[0] && number[1] < oldest[1] {
			oldest, text = number, version
		}
	}
	t.Version = text
	if oldest[0] < 5 {
		t.Why, t.Remedy = fmt.Sprintf("ffmpeg is version %s; 5.0 or newer is needed. %s", text, withoutTools), remedy()
		return
	}
	t.Found = true
	t.passthrough = []string{"-fps_mode", "passthrough"}
	if oldest[0] == 5 && oldest[1] == 0 { // the older word for it
		t.passthrough, t.old = []string{"-vsync", "passthrough"}, true
	}
	var encoders strings.Builder
	if err := run(ctx, t.ffmpeg, []string{"-v", "error", "-nostdin", "-encoders"}, asking, keep(&encoders)); err == nil && !strings.Contains(encoders.String(), " libx264 ") {
		t.noX264, t.Why, t.Remedy = true, withoutX264, remedy()
	}
}

var versionLine = regexp.MustCompile(`^ff(?:mpeg|probe) version (\S+)`)

func askVersion(ctx context.Context, program string) (number [2]int, text string, err error) {
	var out strings.Builder
	if err := run(ctx, program, []string{"-version"}, asking, keep(&out)); err != nil {
		return number, "", err
	}
	return parseVersion(out.String())
}

// parseVersion reads the first line of -version. A build from between two versions
// has a name without a number, and counts as newer than all.
func parseVersion(out string) (number [2]int, text string, err error) {
	found := versionLine.FindStringSubmatch(out)
	if found == nil {
		return number, "", fmt.Errorf("it does not say its version")
	}
	text = found[1]
	if len(text) > 60 {
		text = text[:60]
	}
	digits := strings.FieldsFunc(strings.TrimPrefix(text, "n"), func(r rune) bool { return r < '0' || r > '9' })
	if len(digits) == 0 || !strings.HasPrefix(strings.TrimPrefix(text, "n"), digits[0]) {
		return [2]int{1 << 20, 0}, text, nil
	}
	number[0], err = strconv.Atoi(digits[0])
	if len(digits) > 1 && err == nil {
		number[1], err = strconv.Atoi(digits[1])
	}
	if err != nil {
		return [2]int{1 << 20, 0}, text, nil
	}
	return number, text, nil
}

// remedy is how to get the programs, by the usual package manager of the system:
// common practice, not checked here.
func remedy() string {
	switch runtime.GOOS {
	case "darwin":
		return "Install it, as is common practice: brew install ffmpeg"
	case "windows":
		return "Install it, as is common practice: winget install ffmpeg, then open a new window"
	case "linux":
		return "Install it, as is common practice: sudo apt install ffmpeg on Debian and Ubuntu, elsewhere the package ffmpeg of the distribution (5.0 or newer, with libx264)"
	}
	return "Install ffmpeg 5.0 or newer, with libx264"
}

// ready finds the programs or says what is missing.
func (m *Media) ready(ctx context.Context, file string) (tools, error) {
	t := m.look(ctx)
	if err := ctx.Err(); err != nil {
		return t, err
	}
	if !t.Found {
		return t, &app.MediaError{File: file, Wrong: "cannot be looked into: " + lower(t.Why), Right: lower(t.Remedy)}
	}
	return t, nil
}

func lower(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' {
		s = string(s[0]+'a'-'A') + s[1:]
	}
	return strings.TrimSuffix(s, ".")
}

// shown is how a file is called in one line: its name, with what would break the
// line written out.
func shown(path string) string {
	name := filepath.Base(path)
	if q := strconv.Quote(name); q != `"`+name+`"` && strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\uFFFD' }) {
		return q
	}
	return name
}

// asking is for questions that are answered at once.
var asking = limits{total: 30 * time.Second, stall: 30 * time.Second, memory: 4 << 30, out: 1 << 20}
