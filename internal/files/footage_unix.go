//go:build unix

package files

import "syscall"

// dontWait opens a pipe that nobody writes to without waiting for one who does.
const dontWait = syscall.O_NONBLOCK
