//go:build soak && unix

package files

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func init() {
	// Keeps and erases files and writes exports and backups until it is killed,
	// and says after each what is on the disc.
	parts["work on"] = func(args []string) error {
		dir := args[0]
		e, err := OpenErasable(dir, bufio.NewReader(randomly{}), false)
		if err != nil {
			return err
		}
		if err := e.Tidy(ctx); err != nil {
			return err
		}
		for n := 0; ; n++ {
			ref, err := e.Put(ctx, fmt.Appendf(nil, "file %d", n))
			if err != nil {
				return err
			}
			fmt.Println("kept", ref)
			if n%2 == 1 {
				if err := e.Erase(ctx, ref); err != nil {
					return err
				}
				fmt.Println("erased", ref)
			}
			at := winter.Add(time.Duration(n) * time.Second)
			if err := exportOf(dir, fmt.Sprintf("export %d", n), at, nil); err != nil {
				return err
			}
			fmt.Println("exported", at.Format(time.RFC3339))
			name := fmt.Sprintf("%s %d.zip", args[1], n)
			if err := backedUp(dir, name, nil); err != nil {
				return err
			}
			fmt.Println("backed-up", name)
		}
	}
}

type randomly struct{}

func (randomly) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(rand.IntN(256))
	}
	return len(p), nil
}

func TestKilledAtRandomInstants(t *testing.T) {
	dir := t.TempDir()
	kept, erased := map[string]bool{}, map[string]bool{}
	acknowledged := 0
	for run := range 200 {
		c := child(t, "work on", dir, fmt.Sprintf("run %d", run))
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(time.Duration(20+rand.IntN(480))*time.Millisecond, func() { _ = c.Process.Kill() })
		var exported string
		backups := []string{}
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			acknowledged++
			what, which, _ := strings.Cut(lines.Text(), " ")
			switch what {
			case "kept":
				kept[which] = true
			case "erased":
				delete(kept, which)
				erased[which] = true
			case "exported":
				exported = which
			case "backed-up":
				backups = append(backups, which)
			}
		}
		_ = c.Wait()
		refs, err := tidied(dir)
		if err != nil {
			t.Fatalf("run %d: %v", run, err)
		}
		for ref := range kept {
			if !slices.Contains(refs, ref) { // unless its erasure had begun when it was killed
				if _, err := os.Stat(filepath.Join(dir, nameOf(ref)+erasedMark)); err != nil {
					t.Fatalf("run %d: %s was acknowledged and is gone", run, ref)
				}
				delete(kept, ref)
			}
		}
		for ref := range erased {
			if slices.Contains(refs, ref) {
				t.Fatalf("run %d: %s was erased and is back", run, ref)
			}
		}
		if err := SettleExport(dir, winter); err != nil {
			t.Fatalf("run %d: %v", run, err)
		}
		at, err := ExportedAt(dir)
		if err != nil || exported != "" && at.Format(time.RFC3339) < exported {
			t.Fatalf("run %d: exported at %v, %v, and %s was acknowledged", run, at, err, exported)
		}
		d, err := openDisc(dir)
		if err != nil {
			t.Fatal(err)
		}
		if d.has(exportFolder) && !d.untouched(exportFolder) {
			t.Fatalf("run %d: the export is not whole", run)
		}
		d.root.Close()
		found, err := filepath.Glob(filepath.Join(dir, "*.zip"))
		if err != nil || len(found) < len(backups) {
			t.Fatalf("run %d: %v are there, %v; acknowledged were %v", run, found, err, backups)
		}
		for _, file := range found {
			if _, err := ReadBackup(ctx, file); err != nil {
				t.Fatalf("run %d: %v", run, err)
			}
			if err := os.Remove(file); err != nil {
				t.Fatal(err)
			}
		}
		leftOvers, err := filepath.Glob(filepath.Join(dir, ".*"+stagedMark+"*"))
		for _, file := range leftOvers {
			err = os.Remove(file)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("killed 200 times with %d acknowledged steps: %d files kept, %d erased, nothing lost, nothing back, every export and backup whole", acknowledged, len(kept), len(erased))
}
