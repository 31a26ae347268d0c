package conduction

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel runs f for 0 ≤ k < n in chunks on all cores and returns the error
// of the smallest k that fails, with its index.
func parallel(n int, f func(k int) error) error {
	const chunk = 512
	return parallelEach((n+chunk-1)/chunk, func(c int) error {
		for k := c * chunk; k < min(n, (c+1)*chunk); k++ {
			if err := f(k); err != nil {
				return fmt.Errorf("point %d: %w", k, err)
			}
		}
		return nil
	})
}

// parallelEach runs f for 0 ≤ c < n, one at a time on each core, and returns
// the error of the smallest c that fails. What f(c) stores must depend on c
// alone.
func parallelEach(n int, f func(c int) error) error {
	errs := make([]error, n)
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for c := range n {
			errs[c] = f(c)
		}
	} else {
		var next atomic.Int64
		var wg sync.WaitGroup
		for range workers {
			wg.Go(func() {
				for c := int(next.Add(1)) - 1; c < n; c = int(next.Add(1)) - 1 {
					errs[c] = f(c)
				}
			})
		}
		wg.Wait()
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
