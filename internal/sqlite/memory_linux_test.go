package sqlite

import (
	"os"
	"syscall"
)

const tmpfs = 0x01021994 // statfs(2): TMPFS_MAGIC

func inMemory(dir string) bool {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil || int64(fs.Type) != tmpfs {
		return false
	}
	f, err := os.CreateTemp(dir, "try-*")
	if err != nil {
		return false
	}
	_ = f.Close()
	return os.Remove(f.Name()) == nil
}
