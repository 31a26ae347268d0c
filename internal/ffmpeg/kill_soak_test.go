//go:build soak && unix

package ffmpeg

import (
	"math/rand/v2"
	"testing"
	"time"
)

// 100 kills at moments from a fixed seed, over the time that two copies take.
func TestSoakKilledWhileItCopies(t *testing.T) {
	const kills, seed = 100, 20261129
	chance := rand.New(rand.NewPCG(seed, 0))
	path := clip(t, "variable.mp4")
	whole := 0
	for range kills {
		whole += killWhileCopying(t, path, time.Duration(chance.IntN(1200))*time.Millisecond)
	}
	t.Logf("%d kills while clips were copied (seed %d): %d copies had their name by then, all whole", kills, seed, whole)
}
