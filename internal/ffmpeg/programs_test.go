//go:build unix

package ffmpeg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"brinefield/internal/app"
)

// pretend makes a folder with programs that are shell scripts: what real ones do
// only when something is wrong.
func pretend(t *testing.T, scripts map[string]string) *Media {
	t.Helper()
	dir := t.TempDir()
	for name, script := range scripts {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+script+"\n"), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	return New(dir)
}

// answers is a script that tells its version and has libx264, and else does more.
func answers(name, version, more string) string {
	return `case "$*" in *-version) echo "` + name + ` version ` + version + ` Copyright (c)"; exit;; *-encoders) echo " V....D libx264 x"; exit;; esac` + "\n" + more
}

func TestWhatIsSaidWithoutFfmpeg(t *testing.T) {
	none := New("")
	got := none.Tools(t.Context())
	if got.Found || got.Version != "" || !strings.Contains(got.Why, "ffmpeg and ffprobe are not installed") || !strings.Contains(got.Why, "brinefield footage locate") || !strings.Contains(got.Remedy, "ffmpeg") {
		t.Errorf("%+v", got)
	}
	if runtime.GOOS == "linux" && !strings.Contains(got.Remedy, "common practice: sudo apt install ffmpeg") {
		t.Errorf("remedy %q", got.Remedy)
	}
	path := put(t, "clip.mp4", []byte("\x00\x00\x00\x10ftypisom\x00\x00\x00\x00"))
	for _, err := range []error{
		func() error { _, err := none.Probe(t.Context(), path); return err }(),
		none.Proxy(t.Context(), path, path+".copy", &app.Probed{PTS: []int64{0}, TimeBase: [2]int64{1, 1}}, nil),
	} {
		var known *app.MediaError
		if !errors.As(err, &known) || !strings.Contains(known.Wrong, "not installed") || !strings.Contains(known.Right, "ffmpeg") {
			t.Errorf("%v", err)
		}
	}
	one := pretend(t, map[string]string{"ffmpeg": answers("ffmpeg", "6.1", "")}).Tools(t.Context())
	if one.Found || !strings.Contains(one.Why, "ffprobe is not installed") {
		t.Errorf("%+v", one)
	}
}

func TestVersions(t *testing.T) {
	for _, c := range []struct {
		version string
		found   bool
		flag    string
	}{
		{"4.4.2-0ubuntu0.22.04.1", false, ""},
		{"3.0", false, ""},
		{"n4.3", false, ""},
		{"5.0.1", true, "-vsync"},
		{"5.1.9-0+deb12u1", true, "-fps_mode"},
		{"n7.1", true, "-fps_mode"},
		{"8.0", true, "-fps_mode"},
		{"N-112345-gabcdef", true, "-fps_mode"},
		{"2024-05-01-git-99999999999999999999", true, "-fps_mode"},
	} {
		m := pretend(t, map[string]string{"ffmpeg": answers("ffmpeg", c.version, ""), "ffprobe": answers("ffprobe", c.version, "")})
		got := m.look(t.Context())
		if got.Found != c.found || got.Version != c.version {
			t.Errorf("%s: %+v", c.version, got.MediaTools)
		}
		if c.found && got.passthrough[0] != c.flag {
			t.Errorf("%s: %v", c.version, got.passthrough)
		}
		if !c.found && !strings.Contains(got.Why, "version "+c.version+"; 5.0 or newer is needed") {
			t.Errorf("%s: %q", c.version, got.Why)
		}
	}
	mute := pretend(t, map[string]string{"ffmpeg": "exit 3", "ffprobe": "echo hello"}).Tools(t.Context())
	if mute.Found || !strings.Contains(mute.Why, "does not run") {
		t.Errorf("%+v", mute)
	}
	plain := pretend(t, map[string]string{
		"ffprobe": answers("ffprobe", "5.1", ""),
		"ffmpeg":  `case "$*" in *-version) echo "ffmpeg version 5.1 x";; *) echo " V..... mpeg4 MPEG-4";; esac`,
	})
	got := plain.Tools(t.Context())
	if !got.Found || !strings.Contains(got.Why, "libx264") || got.Remedy == "" {
		t.Errorf("%+v", got)
	}
	path := put(t, "clip.mp4", []byte("\x00\x00\x00\x10ftypisom\x00\x00\x00\x00"))
	err := plain.Proxy(t.Context(), path, path+".copy", &app.Probed{PTS: []int64{0}, TimeBase: [2]int64{1, 1}}, nil)
	if err == nil || !strings.Contains(err.Error(), "no encoder libx264") {
		t.Errorf("%v", err)
	}
}

// What is installed while this program runs is seen at the next question.
func TestProgramsThatComeLater(t *testing.T) {
	m := pretend(t, nil)
	if m.Tools(t.Context()).Found {
		t.Fatal("found in an empty folder")
	}
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if err := os.WriteFile(filepath.Join(m.path[0], name), []byte("#!/bin/sh\n"+answers(name, "5.1", "")), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	if got := m.Tools(t.Context()); !got.Found {
		t.Errorf("%+v", got)
	}
}

func shell(t *testing.T, lim limits, script string) (string, error) {
	t.Helper()
	var out strings.Builder
	err := run(t.Context(), "/bin/sh", []string{"-c", script}, lim, keep(&out))
	return out.String(), err
}

func TestProgramsHaveLimits(t *testing.T) {
	fine := limits{total: time.Minute, stall: time.Minute, memory: 1 << 30, out: 1 << 20, file: 1 << 20}
	for _, c := range []struct {
		name   string
		change func(*limits)
		script string
		want   error
	}{
		{"time in all", func(l *limits) { l.total = 100 * time.Millisecond }, "while :; do echo x; sleep 0.02; done", errTooLong},
		{"silence", func(l *limits) { l.stall = 100 * time.Millisecond }, "echo x; exec sleep 60", errStalled},
		{"output", func(l *limits) { l.out = 1000 }, "while :; do echo xxxxxxxxxxxxxxxxxxxx; done", errTooMuch},
		{"children", func(l *limits) { l.total = 100 * time.Millisecond }, "sleep 61 & sleep 62 & wait", errTooLong},
	} {
		lim := fine
		c.change(&lim)
		began := time.Now()
		_, err := shell(t, lim, c.script)
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
		if took := time.Since(began); took > 20*time.Second {
			t.Errorf("%s: ended after %v", c.name, took)
		}
	}
	got, err := shell(t, fine, `env; cat; echo "end $(ps -o pgid= -p $$ 2>/dev/null | tr -d ' ') $$"`)
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Fields(got[strings.LastIndex(got, "end"):])
	if len(words) == 3 && words[1] != words[2] {
		t.Errorf("not a process group of its own: %q", words)
	}
	for line := range strings.Lines(got) { // what a shell sets by itself
		if !strings.HasPrefix(line, "PWD=") && !strings.HasPrefix(line, "SHLVL=") && !strings.HasPrefix(line, "_=") && !strings.HasPrefix(line, "OLDPWD=") && !strings.HasPrefix(line, "end") {
			t.Errorf("in the environment: %q", line)
		}
	}
	if _, err := shell(t, fine, "echo because >&2; exit 4"); err == nil || err.Error() != "sh: because" {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if err := run(ctx, "/bin/sh", []string{"-c", "sleep 60"}, fine, keep(io.Discard)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestMemoryAndFilesAreBounded(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux lets one program bound another")
	}
	// The bounds are set while the program starts: give them a moment.
	got, err := shell(t, limits{total: time.Minute, stall: time.Minute, memory: 3 << 30, out: 1 << 20, file: 5 << 20}, "sleep 0.3; ulimit -v; ulimit -c; ulimit -f")
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Fields(got)
	if len(words) != 3 || words[0] != strconv.Itoa(3<<20) || words[1] != "0" { // KiB
		t.Errorf("limits %q", words)
	}
	if blocks, err := strconv.Atoi(words[2]); err != nil || blocks != 5<<20/512 && blocks != 5<<20/1024 {
		t.Errorf("size of files %q", words[2])
	}
}

// No child is left when a run has ended, however it did: all were in its group.
func TestNobodyIsLeft(t *testing.T) {
	note := filepath.Join(t.TempDir(), "pid")
	_, err := shell(t, limits{total: 300 * time.Millisecond, stall: time.Minute, memory: 1 << 30, out: 1 << 20, file: 1 << 20}, fmt.Sprintf("sleep 63 & echo $! > '%s'; wait", note))
	if !errors.Is(err, errTooLong) {
		t.Fatal(err)
	}
	text, err := os.ReadFile(note)
	if err != nil {
		t.Skip("it was ended before it began a child")
	}
	pid, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	for range 100 {
		if syscall.Kill(pid, 0) != nil || zombie(pid) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("process %d is still there", pid)
}

func zombie(pid int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	return err == nil && strings.Contains(string(stat), ") Z ")
}

func TestPipesDevicesAndFilesThatGo(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "clip.mp4")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	wrongly(t, pipe, "is a pipe, a socket or a device")
	wrongly(t, os.DevNull, "is a pipe, a socket or a device")
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("after %v", took)
	}

	// Another program removes the file after its first bytes were looked at.
	gone := put(t, "clip.mp4", []byte("\x00\x00\x00\x10ftypisom\x00\x00\x00\x00"))
	m := pretend(t, map[string]string{
		"ffmpeg":  answers("ffmpeg", "5.1", ""),
		"ffprobe": answers("ffprobe", "5.1", "/bin/rm -f '"+gone+"'; echo 'file:x: No such file or directory' >&2; exit 1"),
	})
	if _, err := m.Probe(t.Context(), gone); err == nil || err.Error() != "clip.mp4: is not there; look whether it was moved or renamed, or the card or drive is out" {
		t.Errorf("%v", err)
	}
	if os.Getuid() != 0 {
		locked := put(t, "clip.mp4", []byte("\x00\x00\x00\x10ftypisom"))
		if err := os.Chmod(locked, 0); err != nil {
			t.Fatal(err)
		}
		wrongly(t, locked, "may not be read by you")
	}
}

// What ffprobe may say of a broken or hostile file, each in words of ours.
func TestComplaintsInWords(t *testing.T) {
	for script, words := range map[string]string{
		"echo '[aac @ 0x1] Codec (ralf) not on whitelist' >&2; exit 1":                                               "coded as ralf, which is not taken",
		"echo 'Cannot allocate memory' >&2; exit 1":                                                                  "more memory than it may",
		"echo 'packet|stream_index=0|pts=tomorrow'":                                                                  "cannot be read as MP4",
		"echo '[mov @ 0x5] contradiction' >&2; echo 'file:/a: Invalid data found when processing input' >&2; exit 1": "(ffmpeg: contradiction)",
		"kill -SEGV $$": "cannot be read as MP4",
		"echo 'stream|index=0|codec_name=h264|width=4|height=4|time_base=1/0'":                                                                                                                                                     "does not say how its picture is coded",
		"echo 'stream|index=0|codec_name=h264|width=4|height=4|time_base=1/9'":                                                                                                                                                     "holds no whole frame",
		"echo 'stream|index=0|codec_name=h264|width=20000|height=4|time_base=1/9'":                                                                                                                                                 "20000 × 4 pixels",
		"echo 'packet|stream_index=0|pts=1|flags=K_'; echo 'packet|stream_index=0|pts=9223372036854775807|flags=K_'; echo 'stream|index=0|codec_name=h264|width=4|height=4|time_base=1/9'":                                         "impossible times",
		`echo 'packet|stream_index=0|pts=1|flags=K_'; printf '%s\n' 'stream|index=0|codec_name=h264|width=4|height=4|time_base=1/9|displaymatrix=\n00000000: 46341 46341 0\n00000001: -46341 46341 0\n00000002: 0 0 1073741824\n'`: "turned by 45°",
		"i=0; while [ $i -lt 40 ]; do echo \"packet|stream_index=0|pts=$((i % 20 * 100))|flags=K_\"; i=$((i+1)); done; echo 'stream|index=0|codec_name=h264|width=4|height=4|time_base=1/100'":                                     "jump back by",
	} {
		m := pretend(t, map[string]string{"ffmpeg": answers("ffmpeg", "5.1", ""), "ffprobe": answers("ffprobe", "5.1", script)})
		_, err := m.Probe(t.Context(), put(t, "clip.mp4", []byte("\x00\x00\x00\x10ftypisom\x00\x00\x00\x00")))
		var known *app.MediaError
		if !errors.As(err, &known) || !strings.Contains(err.Error(), words) {
			t.Errorf("%s:\n%v, want %q", script, err, words)
		}
	}
}
