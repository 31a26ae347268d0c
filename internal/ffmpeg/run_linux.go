package ffmpeg

import (
	"syscall"
	"unsafe"
)

// dieWithUs has the system kill the program when this one ends, however it does.
func dieWithUs(attr *syscall.SysProcAttr) { attr.Pdeathsig = syscall.SIGKILL }

// Numbers of getrlimit(2) that package syscall does not name on every architecture.
const (
	rlimitFileSize = 1
	rlimitCore     = 4
	rlimitMemory   = 9 // address space
)

// confine bounds the memory of a program that has just begun, the size of files
// that it writes, and forbids it to leave its memory behind when it crashes.
func confine(pid int, lim limits) {
	for what, most := range map[uintptr]uint64{rlimitMemory: lim.memory, rlimitFileSize: lim.file, rlimitCore: 0} {
		limit := syscall.Rlimit{Cur: most, Max: most}
		// An error means that it has ended already, or runs under a lower limit.
		_, _, _ = syscall.RawSyscall6(syscall.SYS_PRLIMIT64, uintptr(pid), what, uintptr(unsafe.Pointer(&limit)), 0, 0, 0)
	}
}
