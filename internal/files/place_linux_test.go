package files

import (
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The kernel's own header, where it is installed (linux-libc-dev).
func TestMagicNumbersAreTheKernels(t *testing.T) {
	header, err := os.ReadFile("/usr/include/linux/magic.h")
	if err != nil {
		t.Skip("the kernel's header linux/magic.h is not installed: ", err)
	}
	names := map[string]string{
		"NFS": "nfs", "SMB": "smb", "CIFS": "cifs", "SMB2": "smb2", "NCP": "ncpfs", "AFS": "afs", "CODA": "coda", "CEPH": "ceph", "V9FS": "9p", "FUSE": "fuse",
		"OCFS2": "ocfs2", "TMPFS": "tmpfs", "RAMFS": "ramfs", "MSDOS": "msdos", "EXFAT": "exfat", "EXT4": "ext4", "XFS": "xfs", "BTRFS": "btrfs", "F2FS": "f2fs", "OVERLAYFS": "overlay",
		"BCACHEFS": "bcachefs",
	}
	checked := 0
	for _, m := range regexp.MustCompile(`(?m)^#define\s+(\w+?)(?:_SUPER|_FS)?_MAGIC(?:_NUMBER)?\s+(?:\(__u32\))?(0x[0-9a-fA-F]+)`).FindAllStringSubmatch(string(header), -1) {
		want, ok := names[m[1]]
		if !ok {
			continue
		}
		magic, err := strconv.ParseUint(m[2], 0, 32)
		if err != nil {
			t.Fatal(err)
		}
		checked++
		if got := fileSystemMagic[uint32(magic)]; got != want {
			t.Errorf("%s is %s, here %q", m[1], m[2], got)
		}
	}
	if checked < 15 {
		t.Errorf("only %d numbers of the header were compared", checked)
	}
}

// What stat(1) of coreutils says of this machine's own places.
func TestFileSystemsOfThisMachine(t *testing.T) {
	for _, dir := range []string{t.TempDir(), "/dev/shm", "/proc", "/"} {
		out, err := exec.Command("stat", "-f", "-c", "%t", dir).Output()
		if err != nil {
			t.Skip("stat of coreutils cannot be run: ", err)
		}
		magic, err := strconv.ParseUint(strings.TrimSpace(string(out)), 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		name, _, _ := fileSystemOf(dir)
		want, known := fileSystemMagic[uint32(magic)]
		// A name that says more, such as "fuse.sshfs" for "fuse", is as good.
		if known && name != want && !strings.HasPrefix(name, want) && !(want == "ext4" && strings.HasPrefix(name, "ext")) && !(want == "msdos" && name == "vfat") {
			t.Errorf("%s: %q, and stat says %s (%s)", dir, name, out, want)
		}
		if name == "" {
			t.Errorf("%s: nothing was found out", dir)
		}
	}
}

// Lines as proc(5) describes them.
func TestMountTable(t *testing.T) {
	const table = `21 1 254:0 / / rw,relatime - ext4 /dev/vda rw
30 21 0:30 / /media/aoife/bay\040drive rw shared:5 master:1 - fuse.sshfs aoife@boat: rw
31 21 0:31 / /media rw - tmpfs tmpfs rw
32 21 0:32 / /over rw - ext4 /dev/vdb rw
33 32 0:33 / /over rw - nfs4 boat:/studies rw
not a line
34 21 0:34 / /cut -
`
	for path, want := range map[string]string{
		"/": "ext4", "/srv/a": "ext4", "/media": "tmpfs", "/media/a": "tmpfs", "/mediator": "ext4", "/media/aoife/bay drive/studies": "fuse.sshfs", "/media/aoife/bay": "tmpfs", "/over/a": "nfs4", "/cut/a": "ext4",
	} {
		if got := mountedAt(table, path); got != want {
			t.Errorf("%s lies on %q, want %q", path, got, want)
		}
	}
	if got := mountedAt("", "/"); got != "" {
		t.Errorf("an empty table: %q", got)
	}
}

func FuzzMountTable(f *testing.F) {
	f.Add(`30 21 0:30 / /a\040b rw - fuse.sshfs x rw`, "/a b/c")
	f.Add(`30 21 0:30 / /\0 rw - `, "")
	f.Fuzz(func(_ *testing.T, table, path string) { mountedAt(table, path) })
}

// df of coreutils counts the same blocks.
func TestFreeSpaceAgreesWithDf(t *testing.T) {
	dir := t.TempDir()
	out, err := exec.Command("df", "--output=avail", "-B1", dir).Output()
	if err != nil {
		t.Skip("df of coreutils cannot be run: ", err)
	}
	fields := strings.Fields(string(out))
	want, err := strconv.ParseFloat(fields[len(fields)-1], 64)
	if err != nil {
		t.Fatal(err)
	}
	got, err := FreeSpace(dir)
	// Others write to the disc meanwhile: 1 GB or a tenth, whichever is more.
	if diff := float64(got) - want; err != nil || diff > max(1e9, want/10) || -diff > max(1e9, want/10) {
		t.Errorf("%d bytes, %v; df says %.0f", got, err, want)
	}
	if _, err := FreeSpace(dir + "/nowhere"); err == nil {
		t.Error("a folder that is not there has free space")
	}
}
