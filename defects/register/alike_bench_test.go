package register

import (
	"math/rand/v2"
	"testing"

	"storeyrod/defects"
)

// BenchmarkAlikeAmongAMillion scans a site of a million photos for what is within
// ten bits.
func BenchmarkAlikeAmongAMillion(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	site := &siteAlike{}
	for i := range 1_000_000 {
		site.bits, site.seqs = append(site.bits, rng.Uint64()), append(site.seqs, int64(i+1))
	}
	for b.Loop() {
		site.near(rng.Uint64(), defects.PossiblySame)
	}
}
