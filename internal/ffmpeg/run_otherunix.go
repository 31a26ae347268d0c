//go:build unix && !linux

package ffmpeg

import "syscall"

// dieWithUs: this system does not end a program with the one that began it. It ends
// when it next tells of its progress, as nobody listens.
func dieWithUs(*syscall.SysProcAttr) {}

// confine: this system has no limits that one program can set for another.
func confine(int, limits) {}
