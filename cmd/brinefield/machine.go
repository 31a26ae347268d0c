package main

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"runtime"
	"time"

	"golang.org/x/term"

	"github.com/schollz/progressbar/v3"

	"brinefield/internal/app"
	"brinefield/internal/httpapi"
	"brinefield/web"
)

// checkMachine looks for what the program needs here.
func checkMachine() []app.MachineCheck {
	return []app.MachineCheck{checkProgram(), checkWeb(), checkPort(), checkBrowser(), checkZones(), checkTemp()}
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
