package sqlite

import (
	"flag"
	"os"
	"testing"
)

// TestMain runs the tests on a disc in memory where there is one: they look at
// what is written, and the thousands of syncs then take no time. Benchmarks
// stay on the real disc.
func TestMain(m *testing.M) {
	if play := os.Getenv(childVariable); play != "" {
		os.Exit(playChild(play))
	}
	flag.Parse()
	bench := flag.Lookup("test.bench").Value.String()
	if os.Getenv("TMPDIR") == "" && bench == "" && inMemory("/dev/shm") {
		os.Setenv("TMPDIR", "/dev/shm")
	}
	os.Exit(m.Run())
}
