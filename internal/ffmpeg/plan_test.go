package ffmpeg

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/footage"
	"brinefield/internal/app"
)

// Exact fractions (math/big) are the outside reference.
func TestTimesOfACopyAreThoseOfTheFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &app.Probed{
			TimeBase: [2]int64{rapid.Int64Range(1, 5000).Draw(t, "num"), rapid.SampledFrom([]int64{1, 25, 1000, 90000, 1_000_000_000}).Draw(t, "den")},
			PTS:      []int64{rapid.Int64Range(-1<<40, 1<<40).Draw(t, "first")},
		}
		for _, d := range rapid.SliceOfN(rapid.Int64Range(1, 1<<33), 0, 20).Draw(t, "intervals") {
			p.PTS = append(p.PTS, p.PTS[len(p.PTS)-1]+d)
		}
		if (footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}).Check() != nil {
			t.Skip("no clip lasts so long")
		}
		plan := planTimes(p)
		if plan.exact != (plan.perSecond == p.TimeBase[1]) && p.TimeBase[1] != proxyUnits {
			t.Fatalf("counts in 1/%d s", plan.perSecond)
		}
		first := min(p.PTS[0], 0)
		for i, at := range p.PTS {
			want := new(big.Rat).SetFrac(new(big.Int).Mul(big.NewInt(at-first), big.NewInt(p.TimeBase[0])), big.NewInt(p.TimeBase[1]))
			got := new(big.Rat).SetFrac64(plan.want[i], plan.perSecond)
			late := new(big.Rat).Sub(want, got)
			if plan.exact {
				if late.Sign() != 0 {
					t.Fatalf("frame %d: %v s, want %v", i, got, want)
				}
			} else if late.Sign() < 0 || late.Cmp(big.NewRat(1, proxyUnits)) >= 0 {
				t.Fatalf("frame %d: %v s, want %v rounded down to 1/%d s", i, got, want, proxyUnits)
			}
			if plan.exact && i > 0 && plan.want[i]-plan.want[i-1] > longestUnits {
				t.Fatalf("frame %d lasts longer than an MP4 can hold", i-1)
			}
		}
	})
}
