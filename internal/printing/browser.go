package printing

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"time"
)

// NoBrowser as Options.BrowserPath says that no browser is to be used, though one
// may be there.
const NoBrowser = "none"

const (
	printingTakes = 2 * time.Minute // at most, for the longest report
	versionTakes  = 10 * time.Second
	largestPDF    = 200 << 20
)

// browsers are the programs that print a page with `--print-to-pdf`, by the names
// they go by, the leanest first.
var browsers = []string{
	"chromium-headless-shell", "chromium", "chromium-browser", "google-chrome-stable", "google-chrome",
	"microsoft-edge-stable", "microsoft-edge", "brave-browser", "brave",
}

// browserPlaces are whole paths at which browsers are found, for this system.
func browserPlaces(system string, env func(string) string) (places []string) {
	switch system {
	case "windows":
		for _, root := range []string{"ProgramFiles", "ProgramFiles(x86)", "LocalAppData"} {
			if dir := env(root); dir != "" {
				for _, p := range []string{`Google\Chrome\Application\chrome.exe`, `Chromium\Application\chrome.exe`, `Microsoft\Edge\Application\msedge.exe`, `BraveSoftware\Brave-Browser\Application\brave.exe`} {
					places = append(places, dir+`\`+p)
				}
			}
		}
	case "darwin":
		for _, root := range []string{"", env("HOME")} {
			for _, name := range []string{"Google Chrome", "Chromium", "Microsoft Edge", "Brave Browser"} {
				places = append(places, root+"/Applications/"+name+".app/Contents/MacOS/"+name)
			}
		}
		fallthrough
	default:
		folders := append(filepath.SplitList(env("PATH")), "/usr/bin", "/usr/local/bin", "/opt/homebrew/bin", "/snap/bin")
		for _, name := range browsers {
			for _, dir := range folders {
				if filepath.IsAbs(dir) { // not whatever lies in the folder of the moment
					places = append(places, filepath.Join(dir, name))
				}
			}
		}
	}
	return places
}

// findBrowser is the path of the browser that would print; "" where there is none.
func (p *Printer) findBrowser() string {
	places := browserPlaces(runtime.GOOS, os.Getenv)
	switch p.opt.BrowserPath {
	case "":
	case NoBrowser:
		return ""
	default:
		places = []string{p.opt.BrowserPath}
	}
	for _, place := range places {
		if info, err := os.Stat(place); err == nil && info.Mode().IsRegular() && (runtime.GOOS == "windows" || info.Mode()&0o111 != 0) {
			if whole, err := filepath.Abs(place); err == nil {
				return whole
			}
		}
	}
	return ""
}

// Browser names the browser that would print, with its version; "" = none was found.
func (p *Printer) Browser() string {
	path := p.findBrowser()
	if path == "" {
		return ""
	}
	return p.asked.name(path)
}

var versionNumber = regexp.MustCompile(`\d+(\.\d+){1,4}`)

// asked keeps what browsers are called, by path and time of change: to ask one takes
// a while.
type asked struct {
	mu    sync.Mutex
	names map[string]string
}

func (a *asked) name(path string) string {
	key := path
	if info, err := os.Stat(path); err == nil {
		key += " " + info.ModTime().String()
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if name, known := a.names[key]; known {
		return name
	}
	name := familyOf(path)
	if version := versionOf(path); version != "" {
		name += " " + version
	}
	if a.names == nil {
		a.names = map[string]string{}
	}
	a.names[key] = name
	return name
}

func versionOf(path string) (version string) {
	if runtime.GOOS == "windows" { // there it would open a window instead of telling; beside it lies a folder that is named by the version
		inside, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*.*.*.*"))
		for _, dir := range inside {
			if v := filepath.Base(dir); versionNumber.FindString(v) == v {
				version = v
			}
		}
		return version
	}
	dir, err := os.MkdirTemp("", "brinefield-print-")
	if err != nil {
		return ""
	}
	defer removeAll(dir)
	ctx, end := context.WithTimeout(context.Background(), versionTakes)
	defer end()
	said, err := runBrowser(ctx, path, []string{"--version"}, dir)
	if err != nil {
		return ""
	}
	return versionNumber.FindString(said)
}

func familyOf(path string) string {
	base := strings.ToLower(filepath.Base(path))
	for _, f := range [][2]string{{"edge", "Edge"}, {"brave", "Brave"}, {"google", "Chrome"}, {"chromium", "Chromium"}, {"chrome", "Chrome"}} {
		if strings.Contains(base, f[0]) {
			return f[1]
		}
	}
	return "Browser"
}

// printPage has the browser at path print a page on A4. The page lies in a folder
// of its own, with a profile that nobody else uses, and the browser finds no
// network. That no script runs is the page's own policy: told to run none at all, a
// browser without a window does not print either.
func printPage(ctx context.Context, path string, page []byte) (pdf []byte, err error) {
	ctx, end := context.WithTimeoutCause(ctx, printingTakes, fmt.Errorf("it took longer than %v", printingTakes))
	defer end()
	dir, err := os.MkdirTemp("", "brinefield-print-") // 0700
	if err != nil {
		return nil, fmt.Errorf("no temporary folder for printing: %w", err)
	}
	defer removeAll(dir)
	page = bytes.Replace(page, []byte("</style>"), []byte("@page{size:A4}@page turned{size:A4 landscape}</style>"), 1)
	in, out := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.pdf")
	if err := os.WriteFile(in, page, 0o600); err != nil {
		return nil, fmt.Errorf("the page for printing cannot be written: %w", err)
	}
	said, err := runBrowser(ctx, path, browserArgs(dir, in, out, runtime.GOOS == "linux" && os.Geteuid() == 0), dir)
	if err != nil {
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		return nil, fmt.Errorf("%s: %w: %s", filepath.Base(path), err, lastLine(said))
	}
	info, err := os.Stat(out)
	if err != nil {
		return nil, fmt.Errorf("%s wrote no PDF: %s", filepath.Base(path), lastLine(said))
	}
	if info.Size() > largestPDF {
		return nil, fmt.Errorf("%s wrote a PDF of %d MB, and at most %d MB are read", filepath.Base(path), info.Size()>>20, largestPDF>>20)
	}
	if pdf, err = os.ReadFile(out); err != nil {
		return nil, fmt.Errorf("the printed report cannot be read: %w", err)
	}
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) || !bytes.Contains(pdf[max(0, len(pdf)-1024):], []byte("%%EOF")) {
		return nil, fmt.Errorf("what %s wrote is no whole PDF", filepath.Base(path))
	}
	return pdf, nil
}

// browserArgs are what the browser is begun with. root: Chromium's own sandbox
// refuses to run as root, as in a container.
func browserArgs(dir, in, out string, root bool) []string {
	args := []string{
		"--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--disable-extensions",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-quic",
		"--disable-breakpad", "--disable-dev-shm-usage", "--password-store=basic", "--use-mock-keychain",
		"--no-proxy-server", "--host-resolver-rules=MAP * ~NOTFOUND",
		"--user-data-dir=" + filepath.Join(dir, "profile"),
		"--no-pdf-header-footer", "--export-tagged-pdf", "--generate-pdf-document-outline", "--print-to-pdf=" + out,
	}
	if root {
		args = append(args, "--no-sandbox")
	}
	address := url.URL{Scheme: "file", Path: filepath.ToSlash(in)}
	if !strings.HasPrefix(address.Path, "/") {
		address.Path = "/" + address.Path // C:/…
	}
	return append(args, address.String())
}

// runBrowser runs a program to its end in a process group of its own, which is
// gone afterwards. It gives the end of what was said.
func runBrowser(ctx context.Context, path string, args []string, dir string) (said string, err error) {
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Dir = dir
	cmd.Env = browserEnv(dir)
	cmd.WaitDelay = 2 * time.Second
	heard := &tail{most: 8 << 10}
	cmd.Stdout, cmd.Stderr = heard, heard
	apart(cmd)
	if err := cmd.Start(); err != nil {
		return "", err
	}
	err = cmd.Wait()
	endGroup(cmd)
	if errors.Is(err, exec.ErrWaitDelay) { // it ended well; a child held on to its output
		err = nil
	}
	return heard.String(), err
}

// browserEnv is what the browser learns of this machine: on Unix next to nothing.
func browserEnv(dir string) []string {
	if runtime.GOOS == "windows" {
		return nil // it does not start without a dozen of them
	}
	return []string{
		"PATH=/usr/local/bin:/usr/bin:/bin", "HOME=" + dir, "TMPDIR=" + dir, "LANG=C.UTF-8", "TZ=UTC",
		"XDG_CONFIG_HOME=" + dir, "XDG_CACHE_HOME=" + dir, "DBUS_SESSION_BUS_ADDRESS=disabled:",
	}
}

// removeAll tries for a moment: on Windows files are held until their program is
// quite gone.
func removeAll(dir string) {
	for range 20 {
		if os.RemoveAll(dir) == nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// tail keeps the last bytes that are written to it. Two streams may write at once.
type tail struct {
	mu   sync.Mutex
	most int
	kept []byte
}

func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.kept = append(t.kept, b[max(0, len(b)-t.most):]...)
	if over := len(t.kept) - t.most; over > 0 {
		t.kept = append(t.kept[:0], t.kept[over:]...)
	}
	return len(b), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(bytes.ToValidUTF8(t.kept, []byte("?")))
}

func lastLine(said string) string {
	said = strings.TrimSpace(said)
	if said == "" {
		return "it said nothing"
	}
	return said[strings.LastIndexByte(said, '\n')+1:]
}
