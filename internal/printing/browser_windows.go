package printing

import (
	"os/exec"
	"strconv"
	"syscall"
)

// apart starts a program without a window. When its context ends, all that it
// began ends with it.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{HideWindow: true, CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
	cmd.Cancel = func() error {
		_ = exec.Command("taskkill", "/T", "/F", "/PID", strconv.Itoa(cmd.Process.Pid)).Run()
		return cmd.Process.Kill()
	}
}

// endGroup: a browser that has printed takes its own processes with it.
func endGroup(*exec.Cmd) {}
