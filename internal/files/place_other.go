//go:build !linux && !darwin && !windows

package files

import (
	"errors"
	"fmt"
)

// fileSystemOf says nothing: the program is not tested on other systems.
func fileSystemOf(string) (name string, remote, cloud bool) { return "", false, false }

// FreeSpace cannot be told on this system.
func FreeSpace(dir string) (uint64, error) {
	return 0, fmt.Errorf("the free space of %s cannot be found out: %w", dir, errors.ErrUnsupported)
}
