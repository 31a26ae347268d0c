package files

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// A test that needs a second process starts this test binary again: the
// variable names the part to play and its arguments.
const childVariable = "BRINEFIELD_TEST_CHILD"

var parts = map[string]func(args []string) error{}

func TestMain(m *testing.M) {
	if play := os.Getenv(childVariable); play != "" {
		words := strings.Split(play, "\n")
		if err := parts[words[0]](words[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		os.Exit(0)
	}
	// What is tested is the order of steps and what each leaves; on a disc in
	// memory the thousands of syncs take no time.
	if memory := "/dev/shm"; os.Getenv("TMPDIR") == "" && inMemory(memory) {
		os.Setenv("TMPDIR", memory)
	}
	os.Exit(m.Run())
}

func inMemory(dir string) bool {
	name, _, _ := fileSystemOf(dir)
	return name == "tmpfs" && Writable(dir) == nil
}

func child(t *testing.T, part string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childVariable+"="+strings.Join(append([]string{part}, args...), "\n"))
	return c
}
