//go:build !noweb

// Package web holds the built web app. Build tag noweb leaves it out.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Dist is the built web app; without a build it holds no index.html.
func Dist() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		panic(err) // the folder is embedded: cannot happen
	}
	return sub
}
