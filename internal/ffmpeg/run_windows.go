package ffmpeg

import (
	"os/exec"
	"syscall"
)

const belowNormalPriority = 0x4000 // BELOW_NORMAL_PRIORITY_CLASS of CreateProcess

// apart starts a program without a window, behind what the user waits for. It
// begins no others, so that ending it ends all.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{HideWindow: true, CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP | belowNormalPriority}
}

// restrain: limits of memory would need a job object, which package syscall does
// not have. Time, output and the programs' own limit on one block hold here too.
func restrain(int, limits) {}
