package files

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
)

// HashFile is the SHA-256 of a file's bytes as hexadecimal digits. It reads in
// pieces, so that a file of any length takes no memory, and stops with ctx.
func HashFile(ctx context.Context, path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.CopyBuffer(sum, whileWanted{ctx, f}, make([]byte, 1<<20)); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// whileWanted reads until its context ends.
type whileWanted struct {
	ctx  context.Context
	from io.Reader
}

func (w whileWanted) Read(b []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.from.Read(b)
}
