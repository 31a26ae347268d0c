package files

import (
	"errors"
	"syscall"
)

// Numbers of winerror.h.
const (
	errorWriteProtect   syscall.Errno = 19
	errorHandleDiskFull syscall.Errno = 39
	errorDiskFull       syscall.Errno = 112
	errorDiskQuota      syscall.Errno = 1295
)

func diskFull(err error) bool {
	return errors.Is(err, errorDiskFull) || errors.Is(err, errorHandleDiskFull) || errors.Is(err, errorDiskQuota)
}

func writeProtected(err error) bool { return errors.Is(err, errorWriteProtect) }

func cannotSyncFolders(error) bool { return false }
