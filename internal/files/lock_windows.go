package files

import (
	"errors"
	"os"
	"syscall"
	"unsafe"
)

var (
	errLocked = errors.New("another holds the lock")

	kernel32         = syscall.NewLazyDLL("kernel32.dll")
	procLockFileEx   = kernel32.NewProc("LockFileEx")
	procUnlockFileEx = kernel32.NewProc("UnlockFileEx")
)

const (
	lockfileFailImmediately = 1
	lockfileExclusiveLock   = 2

	errorLockViolation syscall.Errno = 33
	errorIOPending     syscall.Errno = 997
)

// lockedRange is one byte far behind the text: a locked byte could not be read
// by the second window, which wants to know who holds the lock.
func lockedRange() *syscall.Overlapped { return &syscall.Overlapped{OffsetHigh: 1} }

func lockWhole(f *os.File) error {
	ok, _, err := procLockFileEx.Call(f.Fd(), lockfileFailImmediately|lockfileExclusiveLock, 0, 1, 0, uintptr(unsafe.Pointer(lockedRange())))
	switch {
	case ok != 0:
		return nil
	case errors.Is(err, errorLockViolation) || errors.Is(err, errorIOPending):
		return errLocked
	}
	return err
}

func unlockWhole(f *os.File) error {
	if ok, _, err := procUnlockFileEx.Call(f.Fd(), 0, 1, 0, uintptr(unsafe.Pointer(lockedRange()))); ok == 0 {
		return err
	}
	return nil
}
