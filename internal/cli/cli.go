// Package cli is the tasks of app as commands: it reads flags, calls one task
// and prints its document or a summary of it. What reaches outside (folders,
// the server, the machine) is handed in by main.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"brinefield/internal/app"
)

// Exit codes that scripts rely on.
const (
	ExitDone     = 0
	ExitFault    = 1 // ours
	ExitBadInput = 2
	ExitDiffers  = 3 // verify found a difference
	ExitStopped  = 130
)

// Outside is what the commands need of the world.
type Outside struct {
	Program app.Program
	In      io.Reader
	Out     io.Writer
	Err     io.Writer
	// ReadFile reads a file, or standard input for "-".
	ReadFile func(path string) ([]byte, error)
	// ReadFolder reads the files of a season folder.
	ReadFolder func(path string) (app.Input, error)
	// WriteFolder writes files into a new or empty folder, all or none; more, which
	// may be nil, adds some one after another, also one folder down.
	WriteFolder func(path string, files app.Input, more func(write func(name string, data []byte) error) error) error
	// Find says on which shelf a study lies that was given as a name (then in
	// the folder of studies: dir, or the usual one) or as a path. An empty study
	// is the shelf alone.
	Find func(dir, study string) (Place, error)
	// Temporary makes a private folder and says how to remove it.
	Temporary func() (dir string, remove func(), err error)
	// Ask puts a question that is answered with yes or no; asked is false where
	// nobody is there to answer.
	Ask func(question string) (yes, asked bool)
	// Serve shows studies in the browser until ctx ends.
	Serve func(ctx context.Context, studies *app.Studies, serve ServeOptions) error
	// Media looks into footage; HashFile is the SHA-256 of a file's bytes.
	Media    app.Media
	HashFile func(ctx context.Context, path string) (string, error)
	// Printer draws and prints dossiers, by the browser named, or the one that is
	// found where none is.
	Printer func(browser string) app.DossierPrinter
	// WriteSecret writes a new file that only this user can read; a file that
	// is there is an error.
	WriteSecret func(path string, data []byte) error
	// IsPackage reports whether a path is a dossier's package, or is meant to be
	// one; OpenPackage opens it.
	IsPackage   func(path string) bool
	OpenPackage func(path string) (*app.Package, io.Closer, error)
	// WriteWhole writes a file, all of it or nothing; FreeToWrite says beforehand
	// whether it may.
	WriteWhole  func(path string, replace bool, write func(io.Writer) error) error
	FreeToWrite func(path string, replace bool) error
	// Sealer encrypts to public keys, and opens with secret ones.
	Sealer app.Sealer
	Clock  func() time.Time
	Random io.Reader
	// Describe is the API description as YAML.
	Describe func(version string) ([]byte, error)
	// Check looks for what this machine lacks, and at the folders of studies and
	// of keys: those named, or the usual ones.
	Check func(dir, keys string) []app.MachineCheck
	// Bar draws progress on a terminal; nil where there is none.
	Bar func(stage string, done, total int)
}

// ServeOptions say how studies are shown.
type ServeOptions struct {
	window
	Start   string // the page to begin with; "" is Home
	Tablets TabletOptions
}

// TabletOptions say whether and how tablets are let in.
type TabletOptions struct {
	// Shelf is that of the studies that tablets may reach; nil: this window
	// never lets any in.
	Shelf app.StudyShelf
	Keys  string   // folder of the authority and the list of devices; "" is the usual one
	Only  []string // the studies that tablets reach; empty: all in which they have a role
	Begin bool     // at once; else when the page asks for it
	tabletPorts
	Install bool // open the page that installs the authority
	Code    app.PairingRequest
}

// grammar is the command line.
type grammar struct {
	Demo       demoCommand       `cmd:"" help:"Show the demo study: an invented season of catsharks and thornback rays."`
	Open       openCommand       `cmd:"" help:"Show your studies, one of them, or a season folder in the browser."`
	Serve      serveCommand      `cmd:"" help:"Show your studies in the browser, and let tablets on the boat's net log into them over HTTPS."`
	Import     importCommand     `cmd:"" help:"Import a season folder into a study, a new one or corrections to one that is there, or a log that a tablet saved."`
	Export     exportCommand     `cmd:"" help:"Write a study as a plain season folder."`
	Backup     backupCommand     `cmd:"" help:"Write a backup of a study into one file."`
	Restore    restoreCommand    `cmd:"" help:"Make a new study of a backup."`
	Dossier    dossierCommand    `cmd:"" help:"Make the package that is handed over: report, figures, open data. Or work one out again, or compare two."`
	Verify     verifyCommand     `cmd:"" help:"Check that a study is what its journal says, a schedule what its seal says, or a package what its checksums, tables and seal say: that nothing was changed or lost."`
	Erase      eraseCommand      `cmd:"" help:"Erase a person's name, a photo or a voice note from a study."`
	Analyse    analyseCommand    `cmd:"" help:"Work out, from a study or a season folder, the field that every animal met, preference and thresholds."`
	Infer      inferCommand      `cmd:"" help:"Estimate preference and thresholds from a table of intervals."`
	Water      waterCommand      `cmd:"" help:"Convert salinity to conductivity, or back (PSS-78)."`
	Field      fieldCommand      `cmd:"" help:"Compute the electric field of electrodes at given points."`
	Range      rangeCommand      `cmd:"" help:"Compute how far the field of a setting reaches, by threshold."`
	Rig        rigCommand        `cmd:"" help:"Work out what a rig delivers: currents and their tolerances, faults, battery, parts."`
	Background backgroundCommand `cmd:"" help:"Work out what else makes a field at the site: moving water, divers, cameras, metal, leaks."`
	Schedule   scheduleCommand   `cmd:"" help:"Draw and seal which pair is active in which trial; open what is sealed."`
	Footage    footageCommand    `cmd:"" help:"Work with recordings: look into clips, make small copies of them, and turn pixels into places under water."`
	Doctor     doctorCommand     `cmd:"" help:"Check this machine: what is missing and how to get it."`
	Openapi    openapiCommand    `cmd:"" hidden:"" help:"Print the description of the API."`
	Version    versionCommand    `cmd:"" help:"Print version, commit and platform."`
}

// Run runs one command line and returns the exit code.
func Run(ctx context.Context, args []string, out Outside) int {
	var g grammar
	exit := -1
	parser, err := kong.New(&g,
		kong.Name("brinefield"),
		kong.Description("Brinefield turns a season of observations of the electric sense into findings: the field that every animal met, whether animals prefer the live pair, and from which field they turn. It works offline."),
		kong.Vars{"sections": strings.Join(app.Sections, ", ")},
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, FlagsLast: true}),
		kong.Writers(out.Out, out.Err),
		kong.Exit(func(code int) { exit = code }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(&out),
	)
	if err != nil {
		fmt.Fprintln(out.Err, "brinefield:", err)
		return ExitFault
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parser.Parse(args)
	if exit >= 0 { // help was asked for and printed
		return exit
	}
	if err != nil {
		fmt.Fprintf(out.Err, "brinefield: %v\nRun brinefield --help, or brinefield COMMAND --help.\n", err)
		return ExitBadInput
	}
	return report(out.Err, parsed.Run())
}

// report prints an error for people, one line a problem, and names its exit.
func report(w io.Writer, err error) int {
	var faults *app.FaultsError
	var usage *UsageError
	var differs *DifferenceError
	var spec *app.SpecError
	var media *app.MediaError
	switch {
	case err == nil:
		return ExitDone
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(w, "brinefield: stopped")
		return ExitStopped
	case errors.As(err, &differs):
		fmt.Fprintln(w, "brinefield:", err)
		return ExitDiffers
	case errors.As(err, &faults):
		fmt.Fprintln(w, err)
		return ExitBadInput
	case errors.As(err, &spec):
		fmt.Fprintln(w, err)
		return ExitBadInput
	case errors.As(err, &media):
		fmt.Fprintln(w, "brinefield:", media)
		return ExitBadInput
	case errors.As(err, &usage):
		fmt.Fprintln(w, "brinefield:", err)
		return ExitBadInput
	}
	fmt.Fprintln(w, "brinefield:", err)
	return ExitFault
}

// UsageError is a mistake of the caller: a missing file, an impossible value.
type UsageError struct{ Err error }

func (e *UsageError) Error() string { return e.Err.Error() }

// Unwrap gives the cause.
func (e *UsageError) Unwrap() error { return e.Err }

func badInput(err error) error {
	if err == nil {
		return nil
	}
	return &UsageError{err}
}
