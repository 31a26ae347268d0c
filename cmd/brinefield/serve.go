package main

import (
	"context"
	"errors"
	"fmt"
	"html"
	"os"
	"os/exec"
	"runtime"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/files"
	"brinefield/internal/httpapi"
	"brinefield/web"
)

// exportLook is how often a window looks whether a plain export is due.
const exportLook = 10 * time.Minute

// pages gives the server what app knows of a name: a study, or a season folder.
type pages struct{ *app.Studies }

// Study finds one by its name.
func (p pages) Study(ctx context.Context, name string) (httpapi.Study, error) {
	if o, ok := p.Season(name); ok {
		return app.Loose(o), nil
	}
	return p.Studies.Study(ctx, name)
}

// Stimulus answers what the page Stimulus asks.
func (p pages) Stimulus() httpapi.Stimulus { return p.Studies.Stimulus() }

// serve shows studies in the browser until ctx ends.
func serve(ctx context.Context, studies *app.Studies, opt cli.ServeOptions) (ended error) {
	listener, err := httpapi.Listen(opt.Port)
	if err != nil {
		return &cli.UsageError{Err: err}
	}
	sessions := httpapi.NewSessions()
	sessions.Start = opt.Start
	address := "http://" + listener.Addr().String()
	entry := address + "/enter?token=" + sessions.Token()
	config := httpapi.Config{Studies: pages{studies}, Web: web.Dist(), Hosts: httpapi.Hosts(listener), Session: sessions, Version: "1"}
	tablets, err := newGate(studies, config, opt.Tablets)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	if tablets != nil {
		config.Tablets = tablets
		defer func() { ended = errors.Join(ended, tablets.Close()) }()
		if err := beginTablets(ctx, tablets, opt.Tablets); err != nil {
			return errors.Join(err, listener.Close())
		}
	}
	handler := httpapi.New(config)
	if opt.NoBrowser {
		fmt.Fprintf(os.Stdout, "Open this address in a browser on this machine (it works once):\n%s\nStop with Ctrl-C.\n", entry)
	} else {
		remove, err := openBrowser(entry)
		if err != nil {
			fmt.Fprintf(os.Stdout, "The browser could not be opened (%v). Open this address yourself (it works once):\n%s\n", err, entry)
		} else {
			defer remove()
			fmt.Fprintf(os.Stdout, "Brinefield is open in your browser at %s. Stop with Ctrl-C.\n", address)
		}
	}
	go exportNightly(ctx, studies)
	return httpapi.Serve(ctx, listener, handler)
}

// exportNightly writes plain exports while the window is open: what is due is
// due at night too.
func exportNightly(ctx context.Context, studies *app.Studies) {
	ticker := time.NewTicker(exportLook)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
			studies.ExportDue(ctx)
		}
	}
}

// openBrowser opens a private page that leads to the address, so that the
// token in it does not stand among the arguments of a process.
func openBrowser(address string) (remove func(), err error) {
	page := `<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><meta http-equiv="refresh" content="0; url=` +
		html.EscapeString(address) + `"><title>Brinefield</title><p><a href="` + html.EscapeString(address) + `">Open Brinefield</a>`
	path, remove, err := files.PrivatePage(page)
	if err != nil {
		return nil, err
	}
	name, args := browserCommand(path)
	if err := exec.Command(name, args...).Start(); err != nil {
		remove()
		return nil, err
	}
	return remove, nil
}

func browserCommand(path string) (string, []string) {
	switch runtime.GOOS {
	case "windows":
		return "rundll32", []string{"url.dll,FileProtocolHandler", path}
	case "darwin":
		return "open", []string{path}
	}
	return "xdg-open", []string{path}
}
