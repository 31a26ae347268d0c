//go:build noweb

package web

import (
	"embed"
	"io/fs"
)

// Dist is empty in a build without the web app.
func Dist() fs.FS { return embed.FS{} }
