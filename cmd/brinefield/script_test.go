package main

import (
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"brinefield": main})
}

// TestCommands runs the commands as their users do: a script is a session.
func TestCommands(t *testing.T) {
	root, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			env.Setenv("TESTDATA", root+"/../../testdata")
			env.Setenv("EXAMPLES", root+"/../../examples")
			return nil
		},
	})
}
