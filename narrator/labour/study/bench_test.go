package study_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"stepcaller/narrator/labour/study"
)

// BenchmarkCoverage prints how often the next time lies in the 80 % interval, by how many times it stands on and how they
// are distributed: near 0.8 is honest.
func BenchmarkCoverage(b *testing.B) {
	shapes := []struct {
		name string
		draw func(*rand.Rand) float64
	}{
		{"lognormal", func(r *rand.Rand) float64 { return math.Exp(0.25 * r.NormFloat64()) }},
		{"exponential on a floor", func(r *rand.Rand) float64 { return 1 + 0.5*r.ExpFloat64() }},
		{"one in ten takes three times as long", func(r *rand.Rand) float64 {
			x := math.Exp(0.15 * r.NormFloat64())
			if r.IntN(10) == 0 {
				x *= 3
			}
			return x
		}},
	}
	for _, s := range shapes {
		for _, n := range []int{3, 5, 8, 9, 20, 60} {
			b.Run(fmt.Sprintf("%s/%d", s.name, n), func(b *testing.B) {
				r := rand.New(rand.NewPCG(1, uint64(n)))
				in, width, trials := 0, 0.0, 0
				for b.Loop() {
					groups := make([][]float64, 8)
					for g := range groups {
						for range n {
							groups[g] = append(groups[g], s.draw(r))
						}
					}
					prior := study.Pool(groups[1:])
					i, _ := study.Next(groups[0], 0.8, prior)
					if x := s.draw(r); i.Low <= x && x <= i.High {
						in++
					}
					width += i.High - i.Low
					trials++
				}
				b.ReportMetric(float64(in)/float64(trials), "covered")
				b.ReportMetric(width/float64(trials), "width")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}
