package exposure

import (
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

// ErrStopped is the error of a computation whose Stop said so.
var ErrStopped = errors.New("the computation was stopped")

// crew is how a piece of work is shared out.
type crew struct {
	workers  int                   // at once; 0 means one
	progress func(done, total int) // may be nil
	stop     func() bool           // may be nil; asked between chunks
}

// inParallel calls the function that newWorker makes for each index below n.
// Results go to fixed places, so that the number of workers changes nothing
// but the time. The error is [ErrStopped]; a panic of a worker ends in the
// caller's goroutine, where the program can report it.
func (c crew) inParallel(n, chunk int, newWorker func() func(int)) error {
	var next atomic.Int64
	var stopped atomic.Bool
	var mu sync.Mutex
	var done int
	var failure error
	work := func() {
		defer func() {
			if p := recover(); p != nil {
				mu.Lock()
				defer mu.Unlock()
				failure = fmt.Errorf("%v\n%s", p, debug.Stack())
				stopped.Store(true)
			}
		}()
		do := newWorker()
		for {
			from := int(next.Add(int64(chunk))) - chunk
			if from >= n || stopped.Load() {
				return
			}
			if c.stop != nil && c.stop() {
				stopped.Store(true)
				return
			}
			to := min(from+chunk, n)
			for i := from; i < to; i++ {
				do(i)
			}
			if c.progress != nil {
				mu.Lock()
				done += to - from
				c.progress(done, n)
				mu.Unlock()
			}
		}
	}
	var group sync.WaitGroup
	for range max(1, min(c.workers, (n+chunk-1)/chunk)) {
		group.Go(work)
	}
	group.Wait()
	switch {
	case failure != nil:
		panic(failure)
	case stopped.Load():
		return ErrStopped
	}
	return nil
}

// passesAtOnce is how many passes a worker takes at a time.
const passesAtOnce = 64
