package exposure

import (
	"errors"
	"sync/atomic"
	"testing"
)

func TestCrewDoesEveryPieceOnce(t *testing.T) {
	for _, workers := range []int{0, 1, 3, 100} {
		counts := make([]int, 1000)
		last := 0
		c := crew{workers: workers, progress: func(done, total int) { last = done }}
		if err := c.inParallel(len(counts), 64, func() func(int) { return func(i int) { counts[i]++ } }); err != nil || last != len(counts) {
			t.Errorf("%d workers: %v, told of %d", workers, err, last)
		}
		for i, n := range counts {
			if n != 1 {
				t.Fatalf("%d workers: piece %d was done %d times", workers, i, n)
			}
		}
	}
}

func TestCrewStopsWhenAsked(t *testing.T) {
	var done atomic.Int64
	c := crew{workers: 2, stop: func() bool { return done.Load() >= 10 }}
	err := c.inParallel(100000, 1, func() func(int) { return func(int) { done.Add(1) } })
	if !errors.Is(err, ErrStopped) || done.Load() > 20 {
		t.Errorf("%v after %d pieces, want it stopped soon after 10", err, done.Load())
	}
}

func TestPanicOfAWorkerReachesTheCaller(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("the panic got lost")
		}
	}()
	_ = crew{workers: 2}.inParallel(10, 1, func() func(int) { return func(i int) { panic(i) } })
}
