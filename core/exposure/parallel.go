package exposure

import (
	"sync"
	"sync/atomic"
)

// inParallel calls the function that newWorker makes for each index below n,
// on several workers. Results go to fixed places, so that the number of
// workers changes nothing but the time.
func inParallel(n, workers int, progress func(done, total int), newWorker func() func(int)) {
	inChunks(n, 64, workers, progress, newWorker)
}

func inChunks(n, chunk, workers int, progress func(done, total int), newWorker func() func(int)) {
	var next atomic.Int64
	var done int
	var mu sync.Mutex
	work := func() {
		do := newWorker()
		for {
			from := int(next.Add(int64(chunk))) - chunk
			if from >= n {
				return
			}
			to := min(from+chunk, n)
			for i := from; i < to; i++ {
				do(i)
			}
			if progress != nil {
				mu.Lock()
				done += to - from
				progress(done, n)
				mu.Unlock()
			}
		}
	}
	if workers <= 1 {
		work()
		return
	}
	var group sync.WaitGroup
	for range min(workers, (n+chunk-1)/chunk) {
		group.Go(work)
	}
	group.Wait()
}
