package main

import (
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"brinefield/internal/files"
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
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": status, "sql": runSQL, "cutshort": cutShort, "hold": hold, "release": release, "tabletlog": tabletLog,
		},
	})
}

// status CODE COMMAND... runs a command that must end with the code.
func status(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != want {
		ts.Fatalf("%v; want exit %d", err, want)
	}
}

// sql DATABASE STATEMENT changes a database behind the program's back.
func runSQL(ts *testscript.TestScript, _ bool, args []string) {
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	_, err = db.Exec(args[1])
	ts.Check(errors.Join(err, db.Close()))
}

// cutshort FILE BYTES leaves the beginning of a file.
func cutShort(ts *testscript.TestScript, _ bool, args []string) {
	size, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), size))
}

// hold STUDY takes the lock of a study as another window does, until release.
func hold(ts *testscript.TestScript, _ bool, args []string) {
	lock, err := files.Acquire(ts.MkAbs(args[0]), files.ThisWindow("Brinefield (test)", time.Now()))
	ts.Check(err)
	held[ts] = lock
	ts.Defer(func() { release(ts, false, nil) })
}

var held = map[*testscript.TestScript]*files.Lock{}

func release(ts *testscript.TestScript, _ bool, _ []string) {
	if lock := held[ts]; lock != nil {
		ts.Check(lock.Release())
		delete(held, ts)
	}
}
