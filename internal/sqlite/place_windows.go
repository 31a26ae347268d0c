package sqlite

import (
	"errors"
	"fmt"
	"syscall"
)

func information(path string) (info syscall.ByHandleFileInformation, err error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return info, err
	}
	const share = syscall.FILE_SHARE_READ | syscall.FILE_SHARE_WRITE | syscall.FILE_SHARE_DELETE
	h, err := syscall.CreateFile(name, 0, share, nil, syscall.OPEN_EXISTING, syscall.FILE_FLAG_BACKUP_SEMANTICS, 0)
	if err != nil {
		return info, err
	}
	err = syscall.GetFileInformationByHandle(h, &info)
	return info, errors.Join(err, syscall.CloseHandle(h))
}

// numberOf is the number of a file in its file system: no other file there has
// it at the same time.
func numberOf(path string) (string, error) {
	info, err := information(path)
	return fmt.Sprintf("%d.%d", info.FileIndexHigh, info.FileIndexLow), err
}

// madeAt is when a file was made. A copy in another folder has its own time.
func madeAt(path string) (string, error) {
	info, err := information(path)
	return fmt.Sprint(info.CreationTime.Nanoseconds()), err
}
