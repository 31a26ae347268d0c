//go:build unix

package printing

import (
	"os/exec"
	"syscall"
)

// apart puts a program into a process group of its own, which is killed as a whole
// when its context ends: a browser is many processes.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}

// endGroup ends what a program left behind.
func endGroup(cmd *exec.Cmd) { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
