package study

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ILO is how many readings a time study needs in all for 95 % confidence and a margin of error of ±margin, such as 0.1, of the mean:
// n = (2/margin·√(n′Σx² − (Σx)²) / Σx)², rounded up (International Labour Office, Introduction to Work Study). It is 0 for fewer than two
// readings.
func ILO(readings []float64, margin float64) int {
	n := float64(len(readings))
	var sum, squares float64
	for _, x := range readings {
		sum += x
		squares += x * x
	}
	if n < 2 || sum <= 0 || margin <= 0 {
		return 0
	}
	root := 2 / margin * math.Sqrt(max(0, n*squares-sum*sum)) / sum
	return up(root * root)
}

// Niebel is how many readings a time study needs in all, by Student's t for the readings at hand: n = (t·s/(k·mean))², rounded up, for a
// confidence such as 0.95 and a margin k of the mean (Niebel, Methods, Standards and Work Design). It is 0 for fewer than two readings.
func Niebel(mean, deviation float64, readings int, confidence, margin float64) int {
	if readings < 2 || mean <= 0 || margin <= 0 {
		return 0
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(readings - 1)}.Quantile((1 + confidence) / 2)
	root := t * deviation / (margin * mean)
	return up(root * root)
}

// up rounds up; what a sum of squares is off by in its last digits does not cost a reading.
func up(n float64) int { return int(math.Ceil(n - 1e-9)) }
