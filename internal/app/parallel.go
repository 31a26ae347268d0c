package app

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
)

// inParallel runs task(0) … task(n−1) on all cores. Each task writes only to
// its own place, so the outcome does not depend on the number of cores. A
// panic of a task ends in the caller's goroutine, where main can report it.
func inParallel(n int, task func(i int)) {
	var wait sync.WaitGroup
	next := make(chan int)
	failures := make([]error, n)
	guarded := func(i int) {
		defer func() {
			if p := recover(); p != nil {
				failures[i] = fmt.Errorf("%v\n%s", p, debug.Stack())
			}
		}()
		task(i)
	}
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := range next {
				guarded(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
	for _, err := range failures {
		if err != nil {
			panic(err)
		}
	}
}
