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
	os.Exit(m.Run())
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
