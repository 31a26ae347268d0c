package main

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"golang.org/x/term"

	"github.com/schollz/progressbar/v3"

	"brinefield/internal/app"
	"brinefield/internal/ffmpeg"
	"brinefield/internal/files"
	"brinefield/internal/httpapi"
	"brinefield/web"
)

// checkMachine looks for what the program needs here.
func checkMachine(studies, keys string) []app.MachineCheck {
	checks := []app.MachineCheck{checkProgram(), checkWeb(), checkPort(), checkBrowser(), checkZones(), checkTemp(), checkMedia(ffmpeg.System())}
	return append(append(checks, checkShelf(studies)...), checkKeys(keys)...)
}

// checkShelf looks at the folder of studies: whether it can be written, where
// it lies, how much room there is. It is made with the first study.
func checkShelf(flag string) []app.MachineCheck {
	const what = "folder of studies"
	dir, err := shelfFolder(flag)
	if err != nil {
		return []app.MachineCheck{{What: what, Found: err.Error(), Remedy: "Name a folder with --studies DIR or in " + studiesVariable + "."}}
	}
	near := nearest(dir)
	found := shortPath(dir)
	if near != dir {
		found += " (it is made with the first study)"
	}
	notes, readOnly, err := files.LookAtStudy(near, false)
	if err == nil {
		err = readOnly
	}
	if err != nil {
		return []app.MachineCheck{{What: what, Found: err.Error(), Remedy: "Name a folder that you can write to with --studies DIR or in " + studiesVariable + "."}}
	}
	checks := []app.MachineCheck{{What: what, OK: true, Found: found + ", can be written" + freeText(near)}}
	for _, note := range notes {
		checks = append(checks, app.MachineCheck{What: "place of the studies", Found: note, Remedy: "Keep studies on this computer's own disc, and back them up with brinefield backup."})
	}
	return checks
}

func freeText(dir string) string {
	free, err := files.FreeSpace(dir)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(", %.1f GB free", float64(free)/1e9)
}

// nearest is the folder itself or the nearest above it that is there.
func nearest(dir string) string {
	for {
		if _, err := os.Stat(dir); err == nil || filepath.Dir(dir) == dir {
			return dir
		}
		dir = filepath.Dir(dir)
	}
}

func checkProgram() app.MachineCheck {
	return app.MachineCheck{What: "program", OK: true, Found: fmt.Sprintf("version %s, commit %s, %s/%s, %d cores", version, commit, runtime.GOOS, runtime.GOARCH, runtime.NumCPU())}
}

func checkWeb() app.MachineCheck {
	if _, err := fs.Stat(web.Dist(), "index.html"); err != nil {
		return app.MachineCheck{What: "web app inside the program", Found: "missing", Remedy: "Build the program with: make build"}
	}
	return app.MachineCheck{What: "web app inside the program", OK: true, Found: "there"}
}

func checkPort() app.MachineCheck {
	l, err := httpapi.Listen(0)
	if err != nil {
		return app.MachineCheck{What: "a port on this machine", Found: err.Error(), Remedy: "Allow programs to listen on 127.0.0.1."}
	}
	defer l.Close()
	return app.MachineCheck{What: "a port on this machine", OK: true, Found: "can be opened on 127.0.0.1"}
}

func checkBrowser() app.MachineCheck {
	name, _ := browserCommand("")
	if path, err := exec.LookPath(name); err == nil {
		return app.MachineCheck{What: "opening a browser", OK: true, Found: path}
	}
	remedy := "Use --no-browser and open the printed address yourself."
	if runtime.GOOS == "linux" {
		remedy += " Or: sudo apt-get install xdg-utils"
	}
	return app.MachineCheck{What: "opening a browser", Found: name + " is not there", Remedy: remedy}
}

func checkZones() app.MachineCheck {
	if _, err := time.LoadLocation("Europe/Dublin"); err != nil {
		return app.MachineCheck{What: "time zones", Found: err.Error(), Remedy: "Build the program with: make build"}
	}
	return app.MachineCheck{What: "time zones", OK: true, Found: "known"}
}

func checkTemp() app.MachineCheck {
	dir, err := os.MkdirTemp("", "brinefield-")
	if err != nil {
		return app.MachineCheck{What: "temporary folder", Found: err.Error(), Remedy: "Free some space, or set TMPDIR to a folder that can be written to."}
	}
	defer os.Remove(dir)
	return app.MachineCheck{What: "temporary folder", OK: true, Found: os.TempDir()}
}

// checkMedia looks for the programs that read footage.
func checkMedia(media app.Media) app.MachineCheck {
	const what = "footage (ffmpeg and ffprobe)"
	t := media.Tools(context.Background())
	switch {
	case !t.Found:
		return app.MachineCheck{What: what, Found: t.Why, Remedy: t.Remedy}
	case t.Why != "":
		return app.MachineCheck{What: what, Found: "version " + t.Version + "; " + t.Why, Remedy: t.Remedy}
	}
	return app.MachineCheck{What: what, OK: true, Found: "version " + t.Version}
}

// progressBar shows long work on a terminal, and nothing in a pipe.
func progressBar(w *os.File) func(stage string, done, total int) {
	if !term.IsTerminal(int(w.Fd())) {
		return nil
	}
	var bar *progressbar.ProgressBar
	current := ""
	return func(stage string, done, total int) {
		if stage != current {
			current = stage
			bar = progressbar.NewOptions(max(total, 1), progressbar.OptionSetWriter(w), progressbar.OptionSetDescription(stage), progressbar.OptionClearOnFinish(), progressbar.OptionSetWidth(30), progressbar.OptionThrottle(100*time.Millisecond))
		}
		bar.ChangeMax(max(total, 1))
		_ = bar.Set(done)
	}
}
