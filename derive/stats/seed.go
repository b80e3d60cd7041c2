package stats

import (
	"math"
	"math/rand/v2"
)

// seeded is a source of random numbers that the values alone determine, whatever their order: the same data give the same interval
// on every machine and day.
func seeded(series ...[]float64) *rand.Rand {
	var sum, mix uint64
	for _, x := range series {
		for _, v := range x {
			if math.IsNaN(v) {
				continue
			}
			h := math.Float64bits(v+0) * 0x9e3779b97f4a7c15 // v+0 makes -0 and 0 one.
			h ^= h >> 29
			h *= 0xbf58476d1ce4e5b9
			h ^= h >> 32
			sum += h
			mix ^= h
		}
	}
	return rand.New(rand.NewPCG(sum, mix))
}
