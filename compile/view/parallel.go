package view

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel calls f for 0 … n-1 on all processors. Calls with the same worker number
// (0 … workers()-1) come one after another, so each worker may keep buffers of its own.
// Results must not depend on which worker does what.
func parallel(n int, f func(worker, i int)) {
	w := min(workers(), n)
	if w <= 1 {
		for i := range n {
			f(0, i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for worker := range w {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(worker, i)
			}
		})
	}
	wg.Wait()
}

func workers() int { return runtime.GOMAXPROCS(0) }
