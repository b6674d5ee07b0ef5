package study

// Line fits a straight line by least squares.
func Line(x, y []float64) (intercept, slope, slopeError, r2 float64) {
	l := fit(x, y)
	return l.intercept, l.slope, l.slopeError, l.r2
}
