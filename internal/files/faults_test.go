//go:build unix

package files

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"brinefield/internal/app"
)

// Every operation that writes is stopped before each of its steps in turn:
// once by an error of the disc, once by SIGKILL in a process of its own. What
// it must leave is said by the operation's check.

type outcome int

const (
	acknowledged outcome = iota // it returned nil
	failed                      // it returned an error: all is as before
	killed                      // all is as before or as after, and nothing between
)

type operation struct {
	prepare func(dir string) error
	run     func(dir string, before func(step, name string) error) error
	check   func(dir string, o outcome) error
	// begun is set where an error leaves the work begun: an erasure is not
	// taken back.
	begun bool
}

var (
	ctx    = context.Background()
	winter = time.Date(2026, 11, 26, 14, 5, 0, 0, time.UTC)
	voice  = []byte("the voice of an invented diver, of Inverin Bay")
	sound  = []byte("a second file that must stay")
)

var operations = map[string]operation{
	"keep a file": {
		prepare: func(dir string) error { return keep(dir, 1, sound, nil) },
		run:     func(dir string, before func(string, string) error) error { return keep(dir, 2, voice, before) },
		check: func(dir string, o outcome) error {
			if o != killed && left(dir, partMark) {
				return errors.New("a part is left")
			}
			refs, err := tidied(dir)
			if err != nil {
				return err
			}
			return either(o, len(refs) == 1 && !holds(dir, voice), len(refs) == 2 && holds(dir, voice))
		},
	},
	"take a file": {
		prepare: func(dir string) error { return keep(dir, 1, sound, nil) },
		run: func(dir string, before func(string, string) error) error {
			e, err := OpenErasable(dir, nil, false)
			if err != nil {
				return err
			}
			defer e.Close()
			e.before = before
			ref, salt := foreign(voice)
			_, err = e.Take(ctx, ref, salt, voice)
			return err
		},
		check: func(dir string, o outcome) error {
			if o != killed && left(dir, partMark) {
				return errors.New("a part is left")
			}
			refs, err := tidied(dir)
			if err != nil {
				return err
			}
			return either(o, len(refs) == 1 && !holds(dir, voice), len(refs) == 2 && holds(dir, voice))
		},
	},
	"erase a file": {
		begun:   true,
		prepare: func(dir string) error { return errors.Join(keep(dir, 1, sound, nil), keep(dir, 2, voice, nil)) },
		run: func(dir string, before func(string, string) error) error {
			e, err := OpenErasable(dir, nil, false)
			if err != nil {
				return err
			}
			defer e.Close()
			e.before = before
			return e.Erase(ctx, reference(2, voice))
		},
		check: func(dir string, o outcome) error {
			refs, err := tidied(dir)
			if err != nil {
				return err
			}
			e, err := OpenErasable(dir, nil, false)
			if err != nil {
				return err
			}
			defer e.Close()
			_, err = e.Get(ctx, reference(2, voice))
			gone := errors.Is(err, app.ErrErased) && !holds(dir, voice) && len(refs) == 1
			return either(o, err == nil && len(refs) == 2 || o != acknowledged && gone, gone)
		},
	},
	"copy the files": {
		begun: true, // into a snapshot that its maker throws away
		prepare: func(dir string) error {
			return errors.Join(keep(dir, 1, sound, nil), keep(dir, 2, voice, nil), os.Mkdir(filepath.Join(dir, "copy"), 0o700))
		},
		run: func(dir string, before func(string, string) error) error {
			e, err := OpenErasable(dir, nil, true)
			if err != nil {
				return err
			}
			defer e.Close()
			e.before = before
			return e.CopyTo(ctx, filepath.Join(dir, "copy"))
		},
		check: func(dir string, o outcome) error {
			if o != acknowledged {
				return nil
			}
			refs, err := tidied(filepath.Join(dir, "copy"))
			return errors.Join(err, either(o, false, len(refs) == 2 && holds(filepath.Join(dir, "copy"), voice)))
		},
	},
	"make a study": {
		prepare: func(dir string) error { return makeStudy(dir, "Killary 2025", nil) },
		run: func(dir string, before func(string, string) error) error {
			return makeStudy(dir, "Killary 2026", before)
		},
		check: func(dir string, o outcome) error {
			if o != killed && left(dir, stagedMark) {
				return errors.New("an unfinished folder is left")
			}
			names, err := Shelf{Dir: dir}.List()
			if err != nil {
				return err
			}
			for _, name := range names {
				if !holds(filepath.Join(dir, name, "guarded.db"), []byte("guarded of "+name)) {
					return fmt.Errorf("%s is not whole", name)
				}
			}
			if _, err := (Shelf{Dir: dir}).Sweep(ctx, time.Now().Add(25*time.Hour)); err != nil || left(dir, stagedMark) {
				return fmt.Errorf("not swept: %w", err)
			}
			return either(o, len(names) == 1, len(names) == 2)
		},
	},
	"export": {
		prepare: func(dir string) error { return exportOf(dir, "old", winter.Add(-time.Hour), nil) },
		run:     func(dir string, before func(string, string) error) error { return exportOf(dir, "new", winter, before) },
		check: func(dir string, o outcome) error {
			if o != failed { // an error leaves nothing to settle
				if err := SettleExport(dir, winter); err != nil {
					return err
				}
			}
			if left(dir, ".export") || left(dir, "kept") {
				return errors.New("something is left beside the export")
			}
			at, err := ExportedAt(dir)
			if err != nil {
				return err
			}
			return either(o, at.Equal(winter.Add(-time.Hour)) && exportIs(dir, "old"), at.Equal(winter) && exportIs(dir, "new"))
		},
	},
	"back up": {
		prepare: func(dir string) error { return backedUp(dir, "first.zip", nil) },
		run:     func(dir string, before func(string, string) error) error { return backedUp(dir, "second.zip", before) },
		check: func(dir string, o outcome) error {
			if o != killed && left(dir, stagedMark) {
				return errors.New("an unfinished backup is left")
			}
			found, err := filepath.Glob(filepath.Join(dir, "*.zip"))
			for _, file := range found {
				if _, fault := ReadBackup(ctx, file); fault != nil {
					err = errors.Join(err, fault)
				}
			}
			return errors.Join(err, either(o, len(found) == 1, len(found) == 2))
		},
	},
	"restore": {
		prepare: func(dir string) error {
			return errors.Join(backedUp(dir, "first.zip", nil), os.Mkdir(filepath.Join(dir, "shelf"), 0o700))
		},
		run: func(dir string, before func(string, string) error) error {
			return Shelf{Dir: filepath.Join(dir, "shelf"), before: before}.NewFolder("Killary", func(into string) error {
				d, err := openDisc(into)
				if err != nil {
					return err
				}
				defer d.root.Close()
				d.before = before
				_, err = d.extract(ctx, filepath.Join(dir, "first.zip"), into)
				return err
			})
		},
		check: func(dir string, o outcome) error {
			into := filepath.Join(dir, "shelf", "Killary")
			_, err := os.Stat(into)
			whole := err == nil && holds(filepath.Join(into, "study.db"), []byte("journal")) && holds(filepath.Join(into, "files", "ab", "x"), voice)
			return either(o, errors.Is(err, fs.ErrNotExist), whole)
		},
	},
}

// foreign is a reference that another device has made, and its salt.
func foreign(data []byte) (ref string, salt []byte) {
	salt = bytes.Repeat([]byte{9}, saltBytes)
	return refOf(slices.Concat(salt, data)), salt
}

// either says whether a state fits the outcome.
func either(o outcome, before, after bool) error {
	if o == acknowledged && after || o == failed && before || o == killed && (before || after) {
		return nil
	}
	return fmt.Errorf("as before: %t, as after: %t", before, after)
}

func TestEveryStepMayFail(t *testing.T) {
	faults := []struct {
		fault error
		want  error
	}{
		{syscall.ENOSPC, app.ErrNoSpace}, {syscall.EIO, syscall.EIO},
	}
	for name, op := range operations {
		for _, f := range faults {
			t.Run(name+" "+f.fault.Error(), func(t *testing.T) {
				t.Parallel()
				steps := eachStep(t, func(k int) bool {
					dir := t.TempDir()
					if err := op.prepare(dir); err != nil {
						t.Fatal(err)
					}
					var at string
					err := op.run(dir, failAt(k, f.fault, &at))
					o := failed
					if err == nil {
						o = acknowledged // also where only tidying up behind it failed
					} else if !errors.Is(err, f.want) {
						t.Errorf("step %d (%s): %v, want %v", k, at, err, f.want)
					}
					if o == failed && op.begun {
						o = killed
					}
					if fault := op.check(dir, o); fault != nil {
						t.Errorf("step %d (%s), %v: %v", k, at, err, fault)
					}
					return at != ""
				})
				if steps < 3 {
					t.Errorf("only %d steps: the test does not look at the operation", steps)
				}
			})
		}
	}
}

// The steps of writing inside a study say that it is read-only.
func TestAReadOnlyStudySaysSo(t *testing.T) {
	if err := inStudy("writing", "bay", syscall.EDQUOT); !errors.Is(err, app.ErrNoSpace) {
		t.Errorf("a used up quota: %v, want the disc full", err)
	}
	if err := elsewhere("writing", syscall.EROFS); errors.Is(err, app.ErrReadOnly) || !strings.Contains(err.Error(), "write-protected; choose a folder") {
		t.Errorf("a disc that is not the study's: %v", err)
	}
	for _, name := range []string{"keep a file", "erase a file", "export"} {
		for _, fault := range []error{syscall.EROFS, syscall.EACCES, syscall.EPERM} {
			dir := t.TempDir()
			if err := operations[name].prepare(dir); err != nil {
				t.Fatal(err)
			}
			var at string
			err := operations[name].run(dir, failAt(1, fault, &at))
			var readOnly *ReadOnlyError
			if !errors.Is(err, app.ErrReadOnly) || !errors.As(err, &readOnly) || readOnly.Path != dir {
				t.Errorf("%s, %v: %v", name, fault, err)
			}
		}
	}
}

func init() {
	parts["die in"] = func(args []string) error {
		k, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		n := 0
		err = operations[args[0]].run(args[1], func(string, string) error {
			if n++; n == k {
				return errors.Join(syscall.Kill(os.Getpid(), syscall.SIGKILL), errors.New("it lives on"))
			}
			return nil
		})
		return err
	}
}

func TestEveryStepMayBeTheLast(t *testing.T) {
	for name, op := range operations {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			steps := eachStep(t, func(k int) bool {
				dir := t.TempDir()
				if err := op.prepare(dir); err != nil {
					t.Fatal(err)
				}
				c := child(t, "die in", name, dir, strconv.Itoa(k))
				said, err := c.CombinedOutput()
				status, _ := c.ProcessState.Sys().(syscall.WaitStatus)
				o := acknowledged
				switch {
				case status.Signaled() && status.Signal() == syscall.SIGKILL:
					o = killed
				case err != nil:
					t.Fatalf("step %d: %v: %s", k, err, said)
				}
				if fault := op.check(dir, o); fault != nil {
					t.Errorf("killed before step %d: %v", k, fault)
				}
				// The same work must go through afterwards, if it was not done.
				if name != "restore" && name != "back up" && name != "make a study" && name != "copy the files" {
					if err := op.run(dir, nil); err != nil && !strings.Contains(err.Error(), "random numbers repeat") {
						t.Errorf("killed before step %d, then again: %v", k, err)
					}
				}
				return o == killed
			})
			if steps < 3 {
				t.Errorf("only %d steps: the test does not look at the operation", steps)
			}
			t.Logf("%s: killed before each of %d steps", name, steps)
		})
	}
}

// eachStep counts k up until the operation no longer reaches step k.
func eachStep(t *testing.T, try func(k int) bool) int {
	t.Helper()
	for k := 1; k < 200; k++ {
		if !try(k) {
			return k - 1
		}
		if t.Failed() {
			break
		}
	}
	return 200
}

func failAt(k int, fault error, at *string) func(step, name string) error {
	n := 0
	return func(step, name string) error {
		if n++; n != k {
			return nil
		}
		*at = step + " " + name
		return &fs.PathError{Op: step, Path: name, Err: fault}
	}
}

func keep(dir string, chance byte, data []byte, before func(step, name string) error) error {
	e, err := OpenErasable(dir, bytes.NewReader(bytes.Repeat([]byte{chance}, saltBytes)), false)
	if err != nil {
		return err
	}
	defer e.Close()
	e.before = before
	ref, err := e.Put(ctx, data)
	if err == nil && ref != reference(chance, data) {
		err = fmt.Errorf("the reference is %s", ref)
	}
	return err
}

func reference(chance byte, data []byte) string {
	return hashOf(append(bytes.Repeat([]byte{chance}, saltBytes), data...))
}

// tidied opens a store as after a crash, and lists what is in it and whole.
func tidied(dir string) ([]string, error) {
	e, err := OpenErasable(dir, nil, false)
	if err != nil {
		return nil, err
	}
	defer e.Close()
	if err := e.Tidy(ctx); err != nil {
		return nil, err
	}
	if left(dir, partMark) {
		return nil, errors.New("a part is left after tidying up")
	}
	wrong, err := e.Check(ctx, nil)
	if len(wrong) > 0 {
		return nil, errors.New(strings.Join(wrong, "; "))
	}
	if err != nil {
		return nil, err
	}
	return e.Refs(ctx)
}

func makeStudy(dir, name string, before func(step, name string) error) error {
	return Shelf{Dir: dir, before: before}.NewFolder(name, func(dir string) error {
		return errors.Join(
			os.WriteFile(filepath.Join(dir, studyFile), []byte("journal"), 0o600),
			os.WriteFile(filepath.Join(dir, "guarded.db"), []byte("guarded of "+name), 0o600),
			os.Mkdir(filepath.Join(dir, "files"), 0o700))
	})
}

func exportOf(dir, what string, at time.Time, before func(step, name string) error) error {
	d, err := openDisc(dir)
	if err != nil {
		return err
	}
	defer d.root.Close()
	d.before = before
	_, err = d.writeExport(ctx, dir, map[string][]byte{"study.toml": []byte(what), "passes.csv": []byte("pass," + what), what + ".csv": nil}, at)
	return err
}

func exportIs(dir, what string) bool {
	entries, err := os.ReadDir(filepath.Join(dir, exportFolder))
	names := []string{}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	want := []string{"exported", what + ".csv", "passes.csv", "study.toml"}
	slices.Sort(want)
	return err == nil && slices.Equal(names, want) && holds(filepath.Join(dir, exportFolder, "passes.csv"), []byte("pass,"+what))
}

func backedUp(dir, name string, before func(step, name string) error) error {
	from := filepath.Join(dir, "snapshot")
	if err := os.MkdirAll(filepath.Join(from, "files", "ab"), 0o700); err != nil {
		return err
	}
	err := errors.Join(
		os.WriteFile(filepath.Join(from, studyFile), bytes.Repeat([]byte("journal "), 10_000), 0o600),
		os.WriteFile(filepath.Join(from, "files", "ab", "x"), voice, 0o600))
	if err != nil {
		return err
	}
	d, err := openDisc(dir)
	if err != nil {
		return err
	}
	defer d.root.Close()
	d.before = before
	_, err = d.writeBackup(ctx, filepath.Join(dir, name), from, BackupInfo{Study: "Killary", MadeAt: winter})
	return err
}

// left reports whether any name below dir holds a text.
func left(dir, text string) bool {
	found := false
	_ = filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		found = found || err == nil && path != dir && strings.Contains(filepath.Base(path), text)
		return nil
	})
	return found
}

// holds reports whether any file below dir holds data.
func holds(dir string, data []byte) bool {
	found := false
	_ = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() {
			content, err := os.ReadFile(path)
			found = found || err == nil && bytes.Contains(content, data)
		}
		return nil
	})
	return found
}
