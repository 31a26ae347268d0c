//go:build unix

package files

import (
	"errors"
	"syscall"
)

func diskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

func writeProtected(err error) bool { return errors.Is(err, syscall.EROFS) }

// cannotSyncFolders reports whether err is how a file system says that it does
// not sync folders (some FUSE and network drives).
func cannotSyncFolders(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP)
}
