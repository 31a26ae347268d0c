//go:build darwin || linux || freebsd || netbsd || openbsd || dragonfly

package files

import (
	"errors"
	"os"
	"syscall"
)

var errLocked = errors.New("another holds the lock")

// lockWhole takes flock's exclusive lock without waiting. The file is closed
// in programs that this one starts, so they never hold the lock on.
func lockWhole(f *os.File) error {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case errors.Is(err, syscall.EINTR):
		case errors.Is(err, syscall.EWOULDBLOCK):
			return errLocked
		default:
			return err
		}
	}
}

func unlockWhole(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }
