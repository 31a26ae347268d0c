//go:build linux || darwin

package sqlite

import (
	"fmt"
	"os"
	"syscall"
)

// numberOf is the number of a file in its file system: no other file there has
// it at the same time.
func numberOf(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "", fmt.Errorf("%s: the system does not number its files", path)
	}
	return fmt.Sprint(stat.Ino), nil
}

// madeAt is when a file that is never changed was made: the time of its last
// change of any kind, which a copy cannot take over.
func madeAt(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "", fmt.Errorf("%s: the system does not say when its files changed", path)
	}
	return fmt.Sprint(changed(stat).Nano()), nil
}
