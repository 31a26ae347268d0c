package main

import (
	"context"
	"sync"
	"testing"
	"time"

	"brinefield/internal/app"
)

// Home looks at closed studies while another window opens one: the other
// window must get to write.
func TestALookLeavesTheLock(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	if err := newShelf(dir).Create(ctx, "s", func(*app.StudyFolder) error { return nil }); err != nil {
		t.Fatal(err)
	}
	looker, opener := newShelf(dir), newShelf(dir)
	seen, err := looker.Look(ctx, "s")
	if err != nil {
		t.Fatal(err)
	}
	if seen.ReadOnly {
		t.Errorf("nobody has the study, and a look calls it read-only: %q", seen.Notes)
	}
	writer, err := opener.Open(ctx, "s")
	if err != nil || writer.ReadOnly {
		t.Fatalf("a look keeps others from writing: %v %+v", err, writer)
	}
	if err := seen.Close(); err != nil {
		t.Error(err)
	}
	held, err := looker.Look(ctx, "s")
	if err != nil || !held.ReadOnly || len(held.Notes) == 0 {
		t.Errorf("a look at a study that another window has: %v, %+v", err, held)
	} else if err := held.Close(); err != nil {
		t.Error(err)
	}
	if err := writer.Close(); err != nil {
		t.Error(err)
	}

	stop := make(chan struct{})
	var looks sync.WaitGroup
	looks.Go(func() {
		for {
			select {
			case <-stop:
				return
			case <-time.After(time.Millisecond):
			}
			folder, err := looker.Look(ctx, "s")
			if err != nil {
				t.Error(err)
				return
			}
			if err := folder.Close(); err != nil {
				t.Error(err)
				return
			}
		}
	})
	for range 20 {
		folder, err := opener.Open(ctx, "s")
		if err != nil || folder.ReadOnly {
			t.Errorf("read-only beside one who only looks: %v %+v", err, folder)
		}
		if err == nil {
			if err := folder.Close(); err != nil {
				t.Error(err)
			}
		}
	}
	close(stop)
	looks.Wait()
}
