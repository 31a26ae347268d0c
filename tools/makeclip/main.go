// Makeclip renders a small clip whose truth is known, for a test or a try:
//
//	go run ./tools/makeclip KIND OUT.mp4
//
// and writes the truth beside it, as OUT.truth.json. It needs ffmpeg.
package main

import (
	"fmt"
	"os"
	"strings"

	"brinefield/internal/cliptest"
)

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintf(os.Stderr, "usage: makeclip KIND OUT.mp4, with a KIND of %s\n", strings.Join(cliptest.Kinds, ", "))
		os.Exit(2)
	}
	files, _, err := cliptest.Make(os.Args[1], os.Args[2])
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Println(strings.Join(files, "\n"))
}
