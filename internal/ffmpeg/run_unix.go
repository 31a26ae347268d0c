//go:build unix

package ffmpeg

import (
	"os/exec"
	"syscall"
)

// lowered is by how much the programs step back behind what the user waits for.
const lowered = 10

// apart puts a program into a process group of its own and has the whole group
// killed when its context ends.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	dieWithUs(cmd.SysProcAttr)
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}

func restrain(pid int, lim limits) {
	_ = syscall.Setpriority(syscall.PRIO_PROCESS, pid, lowered) // a courtesy: it works without
	confine(pid, lim)
}
