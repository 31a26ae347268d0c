package inference

import (
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
)

const rowsPerBlock = 2048

// sumBlocks adds up size numbers over n rows: add puts rows [from, to) on top
// of sum. Blocks have fixed borders and their sums are added in order, so the
// result has the same bits on any number of cores.
func sumBlocks(total []float64, n, block int, add func(from, to int, sum []float64)) {
	size := len(total)
	clear(total)
	blocks := (n + block - 1) / block
	if blocks <= 1 {
		add(0, n, total)
		return
	}
	parts := make([]float64, blocks*size)
	run := func(b int) {
		add(b*block, min(n, (b+1)*block), parts[b*size:(b+1)*size])
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(blocks, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for b := int(next.Add(1)) - 1; b < blocks; b = int(next.Add(1)) - 1 {
				run(b)
			}
		})
	}
	wait.Wait()
	for b := range blocks {
		for i := range size {
			total[i] += parts[b*size+i]
		}
	}
}

// A packed sum of k parameters holds the log-likelihood, k first derivatives
// and the upper triangle of the second derivatives, row by row.
func packedSize(k int) int { return 1 + k + k*(k+1)/2 }

// unpack writes the derivatives with respect to the free parameters (indices
// into the k of the sum) and returns the value.
func unpack(sum []float64, k int, free []int, gradient []float64, hessian *mat.SymDense) float64 {
	for i, p := range free {
		gradient[i] = sum[1+p]
		for j := i; j < len(free); j++ {
			hessian.SetSym(i, j, sum[packedIndex(k, p, free[j])])
		}
	}
	return sum[0]
}

// packedIndex is the place of the second derivative by p and q, p ≤ q.
func packedIndex(k, p, q int) int { return 1 + k + p*k - p*(p-1)/2 + q - p }
