// Brinefield turns a season of observations of the electric sense into
// findings. This is main only: it joins the parts, runs, and shuts down.
package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"syscall"
	"time"
	_ "time/tzdata" // time zones on machines that have none

	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/ffmpeg"
	"brinefield/internal/files"
	"brinefield/internal/httpapi"
	"brinefield/internal/printing"
	"brinefield/internal/sealing"
)

const platform = runtime.GOOS + "/" + runtime.GOARCH

// Set by the linker in make build.
var (
	version = "dev"
	commit  = "unknown"
)

func main() { os.Exit(run()) }

func run() (code int) {
	defer func() {
		if p := recover(); p != nil {
			code = reportPanic(p)
		}
	}()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return cli.Run(ctx, os.Args[1:], outside())
}

func outside() cli.Outside {
	bar := progressBar(os.Stderr)
	shelves := &finder{}
	return cli.Outside{
		Program: program(),
		In:      os.Stdin, Out: os.Stdout, Err: os.Stderr,
		ReadFile:    func(path string) ([]byte, error) { return files.ReadFile(path, os.Stdin) },
		ReadFolder:  func(path string) (app.Input, error) { return files.ReadSeason(path) },
		WriteFolder: writeFolder,
		Find:        shelves.find,
		Temporary:   temporary,
		Ask:         ask,
		Serve:       serve,
		Media:       ffmpeg.System(),
		HashFile:    files.HashFile,
		Printer:     func(browser string) app.DossierPrinter { return printing.New(printing.Options{BrowserPath: browser}) },
		WriteSecret: files.WriteSecret,
		IsPackage:   files.IsPackage,
		OpenPackage: func(path string) (*app.Package, io.Closer, error) { return files.OpenPackage(path, app.UsualLimits) },
		WriteWhole:  files.WriteWhole,
		FreeToWrite: files.FreeToWrite,
		Sealer:      sealing.Sealer{},
		Clock:       time.Now,
		Random:      rand.Reader,
		Describe:    httpapi.Description,
		Check:       checkMachine,
		Bar:         bar,
	}
}

func writeFolder(path string, in app.Input, more func(write func(name string, data []byte) error) error) error {
	return files.WriteSeason(path, in, more)
}

// reportPanic says that the fault is ours and where the report lies.
func reportPanic(p any) int {
	text := fmt.Sprintf("brinefield %s (%s) on %s/%s\n\n%v\n\n%s", version, commit, runtime.GOOS, runtime.GOARCH, p, debug.Stack())
	fmt.Fprintln(os.Stderr, "brinefield: this is a fault of the program, not of your data.")
	f, err := os.CreateTemp("", "brinefield-report-*.txt")
	if err != nil {
		fmt.Fprintln(os.Stderr, text)
		return cli.ExitFault
	}
	defer f.Close()
	if _, err := io.WriteString(f, text); err == nil {
		fmt.Fprintln(os.Stderr, "A report that holds no data of yours beyond the message lies in", f.Name())
	}
	return cli.ExitFault
}
