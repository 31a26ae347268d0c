package files

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// fileSystemMagic names the file systems by the number that statfs gives.
// Source: linux/magic.h (a test reads it where it is installed) and, for those
// that it does not list, their own kernel sources, from memory.
var fileSystemMagic = map[uint32]string{
	0x6969: "nfs", 0x517b: "smb", 0xff534d42: "cifs", 0xfe534d42: "smb2", 0x564c: "ncpfs", 0x5346414f: "afs", 0x6b414653: "afs",
	0x73757245: "coda", 0x00c36400: "ceph", 0x01021997: "9p", 0x65735546: "fuse", 0x0bd00bd0: "lustre", 0x47504653: "gpfs",
	0x786f4256: "vboxsf", 0xbacbacbc: "vmhgfs", 0x7461636f: "ocfs2", 0x01161970: "gfs2",
	0x01021994: "tmpfs", 0x858458f6: "ramfs", 0x4d44: "msdos", 0x2011bab0: "exfat",
	0xef53: "ext4", 0x58465342: "xfs", 0x9123683e: "btrfs", 0xf2f52010: "f2fs", 0x794c7630: "overlay", 0x7366746e: "ntfs3", 0x2fc12fc1: "zfs", 0xca451a4e: "bcachefs",
}

// fileSystemOf names the file system under a folder. The kernel's table of
// mounts says more than statfs (which program stands behind FUSE); statfs
// speaks where the table cannot be read.
func fileSystemOf(dir string) (name string, remote, cloud bool) {
	if table, err := os.ReadFile("/proc/thread-self/mountinfo"); err == nil {
		if name := mountedAt(string(table), dir); name != "" {
			return name, false, false
		}
	}
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return "", false, false
	}
	magic := uint32(st.Type)
	if name, ok := fileSystemMagic[magic]; ok {
		return name, false, false
	}
	return fmt.Sprintf("0x%x", magic), false, false
}

// mountedAt finds in a table of mounts (proc(5), mountinfo) the type of the
// file system that holds an absolute path; "" where there is none. Of several
// mounts over the same folder the last counts.
func mountedAt(table, path string) string {
	best, found := -1, ""
	for line := range strings.Lines(table) {
		before, after, ok := strings.Cut(line, " - ")
		fields, rest := strings.Fields(before), strings.Fields(after)
		if !ok || len(fields) < 5 || len(rest) < 1 {
			continue
		}
		at := unescaped(fields[4])
		if path != at && !strings.HasPrefix(path, strings.TrimSuffix(at, "/")+"/") {
			continue
		}
		if len(at) >= best {
			best, found = len(at), rest[0]
		}
	}
	return found
}

// unescaped turns \040 and the like back into the characters that they stand for.
func unescaped(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' && i+3 < len(s) {
			if n, err := strconv.ParseUint(s[i+1:i+4], 8, 8); err == nil {
				b.WriteByte(byte(n))
				i += 3
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

// FreeSpace is how many bytes this user can still write below dir.
func FreeSpace(dir string) (uint64, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, fmt.Errorf("the free space of %s cannot be found out: %w", dir, err)
	}
	block := st.Frsize // the unit of the counts; old kernels leave it 0
	if block <= 0 {
		block = int64(st.Bsize)
	}
	return st.Bavail * uint64(block), nil
}
