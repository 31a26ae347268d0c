package printing

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/core/dossier"
)

// outside finds a program that reads PDF by itself (poppler's). Where everything
// must be checked (CI), it must be there.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("CI") != "" {
		t.Fatalf("%s is missing: scripts/need.sh %s", program, program)
	}
	if err != nil {
		t.Skipf("%s, which reads the PDF, is not installed (scripts/need.sh %s)", program, program)
	}
	return path
}

// read runs one of poppler's programs on a PDF.
func read(t *testing.T, program string, pdf []byte, args ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	args = append(args, file)
	if program == "pdftotext" {
		args = append(args, "-")
	}
	out, err := exec.Command(outside(t, program), args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", program, err, out)
	}
	return string(out)
}

// embedded fails where a font of the PDF is not in it (pdffonts: column emb).
func embedded(t *testing.T, pdf []byte) {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(read(t, "pdffonts", pdf)), "\n")[2:]
	if len(lines) < 3 {
		t.Errorf("%d fonts", len(lines))
	}
	for _, l := range lines {
		if !regexp.MustCompile(` yes (yes|no ) (yes|no ) +\d+ +\d+$`).MatchString(l) {
			t.Errorf("not embedded: %s", l)
		}
	}
}

// everyPage fails where a page lacks its number, or that data are invented.
func everyPage(t *testing.T, pdf []byte) (pages []string) {
	t.Helper()
	text := read(t, "pdftotext", pdf, "-layout")
	pages = strings.Split(strings.TrimSuffix(text, "\f"), "\f")
	for i, p := range pages {
		if !strings.Contains(p, inventedShort) || !strings.HasSuffix(strings.Join(strings.Fields(p), ""), itoa(i+1)+"/"+itoa(len(pages))) {
			t.Errorf("page %d of %d:\n%s", i+1, len(pages), p)
		}
	}
	return pages
}

func TestOwnPDF(t *testing.T) {
	pdf := ownForm(t, sample(), sampleFigures(t))
	embedded(t, pdf)
	pages := everyPage(t, pdf)
	text := strings.Join(strings.Fields(strings.Join(pages, " ")), " ")
	for _, s := range []string{
		"Half of the passes of Scyliorhinus canicula were answered at 21.4 nV/cm", "1.1 Water and bottom", "Sediment: [not recorded].", "Figure 1. Share of passes answered. Detection model", "[Not drawn: no trial has a time.]", "Ana Sørensen and Jiří Novák", "P0059",
	} {
		if !strings.Contains(text, s) {
			t.Errorf("%q is not in it", s)
		}
	}
	heads := 0
	for _, p := range pages {
		if strings.Contains(p, "P00") && strings.Contains(p, "Quantity") {
			heads++
		}
	}
	if heads < 2 || strings.Count(text, "P00") != 60 {
		t.Errorf("the head of the table stands on %d pages", heads)
	}
	info := read(t, "pdfinfo", pdf)
	for _, s := range []string{"Where catsharks turn", "Sun Nov 29 00:00:00 2026", "A4"} {
		if !strings.Contains(info, s) {
			t.Errorf("pdfinfo says nothing of %s:\n%s", s, info)
		}
	}
}

// A browser prints the page once: tagged, with an outline, fonts inside, without a
// network.
func TestBrowserPDF(t *testing.T) {
	p := New(Options{})
	name := p.Browser()
	if name == "" {
		outside(t, "chromium")
		t.Fatal("there is a chromium, and it was not found")
	}
	d, figures := sample(), sampleFigures(t)
	d.Blocks = slices.DeleteFunc(d.Blocks, func(b dossier.Block) bool { return b.Table != nil && b.Table.Name == "exposures" })
	page, err := p.HTML(d, figures)
	if err != nil {
		t.Fatal(err)
	}
	pdf, how, err := p.PDF(t.Context(), d, page, figures)
	if err != nil || how != name || !regexp.MustCompile(`\d+\.\d+`).MatchString(how) {
		t.Fatalf("%q, %v", how, err)
	}
	embedded(t, pdf)
	text := strings.Join(everyPage(t, pdf), " ")
	if !strings.Contains(text, "Water and bottom") || !strings.Contains(text, "14.9–30.8") {
		t.Error(text)
	}
	if info := read(t, "pdfinfo", pdf); !regexp.MustCompile(`Tagged: +yes`).MatchString(info) || !strings.Contains(info, "A4") || !bytes.Contains(pdf, []byte("/Outlines")) {
		t.Error(info)
	}
}

// script is a program in the place of a browser.
func script(t *testing.T, body string) string {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("the program is a shell script")
	}
	path := filepath.Join(t.TempDir(), "chromium")
	if err := os.WriteFile(path, []byte("#!/bin/sh\ncase \"$1\" in --version) echo Chromium 1.2.3.4; exit;; esac\n"+body+"\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	return path
}

// What a browser does wrong ends in the program's own PDF, which says so; what the
// user ends, ends.
func TestABrowserThatFails(t *testing.T) {
	d := dossier.Document{Title: "Short"}
	for name, body := range map[string]string{
		"fails": "echo no >&2; exit 1", "writes nothing": "exit 0", "writes no PDF": `for a in "$@"; do case $a in --print-to-pdf=*) echo hello >"${a#--print-to-pdf=}";; esac; done`,
	} {
		pdf, how, err := New(Options{BrowserPath: script(t, body)}).PDF(t.Context(), d, []byte("<style></style>"), nil)
		if err != nil || how != "Brinefield, as Chromium 1.2.3.4 did not print it" || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
			t.Errorf("%s: %q, %v", name, how, err)
		}
	}
	if _, how, err := New(Options{BrowserPath: filepath.Join(t.TempDir(), "none here")}).PDF(t.Context(), d, nil, nil); err != nil || how != "Brinefield, as the browser that was named is no program" {
		t.Errorf("%q, %v", how, err)
	}
	// Its children end with it: one of them would write a file a moment later.
	left := filepath.Join(t.TempDir(), "left")
	ctx, end := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer end()
	_, _, err := New(Options{BrowserPath: script(t, "(sleep 1; echo x >'"+left+"') & sleep 60")}).PDF(ctx, d, nil, nil)
	if !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v", err)
	}
	time.Sleep(1100 * time.Millisecond)
	if _, err := os.Stat(left); err == nil {
		t.Error("a child of the browser went on")
	}
}

func TestWhereBrowsersAre(t *testing.T) {
	env := func(key string) string {
		return map[string]string{"PATH": "/opt/x" + string(filepath.ListSeparator) + "relative", "HOME": "/home-of-ana", "ProgramFiles": `C:\Program Files`}[key]
	}
	for system, want := range map[string]string{
		"windows": `C:\Program Files\Microsoft\Edge\Application\msedge.exe`, "darwin": "/home-of-ana/Applications/Brave Browser.app/Contents/MacOS/Brave Browser", "linux": filepath.Join("/opt/x", "google-chrome"),
	} {
		places := browserPlaces(system, env)
		if !slices.Contains(places, want) {
			t.Errorf("%s: %q", system, places)
		}
		for _, p := range places {
			if strings.HasPrefix(p, "relative") {
				t.Errorf("%s: %s is sought in the folder of the moment", system, p)
			}
		}
	}
	args := browserArgs("/a b", "/a b/report.html", "/a b/out.pdf", false)
	if slices.Contains(args, "--no-sandbox") || args[len(args)-1] != "file:///a%20b/report.html" || !slices.Contains(args, "--host-resolver-rules=MAP * ~NOTFOUND") || !slices.Contains(args, "--no-proxy-server") {
		t.Errorf("%q", args)
	}
	if !slices.Contains(browserArgs("/a", "/a/x", "/a/y", true), "--no-sandbox") {
		t.Error("Chromium refuses to run as root with its sandbox")
	}
}
