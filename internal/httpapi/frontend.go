package httpapi

import (
	"errors"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

// frontEnd serves the built web app: hashed assets for ever, everything else
// asked for again each time; a path without an extension is a page of the app.
func frontEnd(web fs.FS) http.Handler {
	files := http.FileServerFS(web)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, err := fs.Stat(web, "index.html"); errors.Is(err, fs.ErrNotExist) {
			http.Error(w, "This build has no web app inside: run make build.", http.StatusServiceUnavailable)
			return
		}
		if strings.HasPrefix(r.URL.Path, "/api/") {
			http.NotFound(w, r)
			return
		}
		if strings.HasPrefix(r.URL.Path, "/assets/") {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			w.Header().Set("Cache-Control", "no-cache")
			if path.Ext(r.URL.Path) == "" {
				http.ServeFileFS(w, r, web, "index.html")
				return
			}
		}
		if path.Ext(r.URL.Path) == ".webmanifest" { // not every system's table knows it
			w.Header().Set("Content-Type", "application/manifest+json")
		}
		files.ServeHTTP(w, r)
	})
}
