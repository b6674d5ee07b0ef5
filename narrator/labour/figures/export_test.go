package figures

import "stepcaller/narrator/labour/study"

// UpperWithout is the end that a time among sorted ones is held against.
func UpperWithout(sorted []float64, minutes float64, prior study.Prior) float64 {
	return upperWithout(sorted, minutes, prior)
}
