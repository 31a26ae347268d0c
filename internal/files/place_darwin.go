package files

import (
	"fmt"
	"syscall"
)

// mntLocal is MNT_LOCAL of sys/mount.h: the file system is stored on this
// machine (from memory; tested nowhere but on a Mac).
const mntLocal = 0x1000

func fileSystemOf(dir string) (name string, remote, cloud bool) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return "", false, false
	}
	text := []byte{}
	for _, c := range st.Fstypename {
		if c == 0 {
			break
		}
		text = append(text, byte(c))
	}
	return string(text), st.Flags&mntLocal == 0, false
}

// FreeSpace is how many bytes this user can still write below dir.
func FreeSpace(dir string) (uint64, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, fmt.Errorf("the free space of %s cannot be found out: %w", dir, err)
	}
	return st.Bavail * uint64(st.Bsize), nil
}
