package files

import (
	"fmt"
	"path/filepath"
	"strings"
	"syscall"
	"unsafe"
)

var (
	procGetDriveType         = kernel32.NewProc("GetDriveTypeW")
	procGetVolumeInformation = kernel32.NewProc("GetVolumeInformationW")
	procGetDiskFreeSpaceEx   = kernel32.NewProc("GetDiskFreeSpaceExW")
)

// Numbers of fileapi.h and winnt.h.
const (
	driveRemote  = 4
	driveRAMDisk = 6

	attributeOffline            = 0x1000
	attributeRecallOnOpen       = 0x40000
	attributePinned             = 0x80000
	attributeUnpinned           = 0x100000
	attributeRecallOnDataAccess = 0x400000
	cloudAttributes             = attributeOffline | attributeRecallOnOpen | attributePinned | attributeUnpinned | attributeRecallOnDataAccess
)

func fileSystemOf(dir string) (name string, remote, cloud bool) {
	volume := filepath.VolumeName(dir)
	remote = strings.HasPrefix(volume, `\\`) && !strings.HasPrefix(volume, `\\?\`) && !strings.HasPrefix(volume, `\\.\`) || strings.HasPrefix(strings.ToUpper(volume), `\\?\UNC\`)
	if path, err := syscall.UTF16PtrFromString(dir); err == nil {
		attributes, err := syscall.GetFileAttributes(path)
		cloud = err == nil && attributes&cloudAttributes != 0
	}
	top, err := syscall.UTF16PtrFromString(volume + `\`)
	if err != nil {
		return "", remote, cloud
	}
	drive, _, _ := procGetDriveType.Call(uintptr(unsafe.Pointer(top)))
	remote = remote || drive == driveRemote
	text := make([]uint16, syscall.MAX_PATH+1)
	ok, _, _ := procGetVolumeInformation.Call(uintptr(unsafe.Pointer(top)), 0, 0, 0, 0, 0, uintptr(unsafe.Pointer(&text[0])), uintptr(len(text)))
	switch {
	case drive == driveRAMDisk:
		name = "ramdisk"
	case ok != 0:
		name = syscall.UTF16ToString(text)
	}
	return name, remote, cloud
}

// FreeSpace is how many bytes this user can still write below dir.
func FreeSpace(dir string) (uint64, error) {
	path, err := syscall.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if ok, _, err := procGetDiskFreeSpaceEx.Call(uintptr(unsafe.Pointer(path)), uintptr(unsafe.Pointer(&free)), 0, 0); ok == 0 {
		return 0, fmt.Errorf("the free space of %s cannot be found out: %w", dir, err)
	}
	return free, nil
}
