// Package vector has the inner loops of the network. Where the processor has
// AVX2 and FMA they run eight numbers at a time; the plain loops in this file
// are their twins and serve every other machine. The two differ by rounding
// alone. It is a package of its own because assembly and cgo do not share one.
package vector

// Dot4 fills out with the products of x with four rows of w, each of n numbers;
// x has no more.
func Dot4(out *[4]float32, w, x []float32, n int) { dot4(out, w, x, n) }

// AddProduct adds a times b to y, number by number; a and b are no shorter.
func AddProduct(y, a, b []float32) { addProduct(y, a, b) }

// AddScaled adds k times a to y; a is no shorter.
func AddScaled(y, a []float32, k float32) { addScaled(y, a, k) }

// dot4Plain fills out with the products of x with four rows of w, each n apart.
func dot4Plain(out *[4]float32, w, x []float32, n int) {
	w0, w1, w2, w3 := w[:n][:len(x)], w[n : 2*n][:len(x)], w[2*n : 3*n][:len(x)], w[3*n : 4*n][:len(x)]
	var a, b, c, d float32
	for i, v := range x {
		a += w0[i] * v
		b += w1[i] * v
		c += w2[i] * v
		d += w3[i] * v
	}
	*out = [4]float32{a, b, c, d}
}

// addProductPlain adds a times b to y, number by number.
func addProductPlain(y, a, b []float32) {
	a, b = a[:len(y)], b[:len(y)]
	for i := range y {
		y[i] += a[i] * b[i]
	}
}

// addScaledPlain adds k times a to y.
func addScaledPlain(y, a []float32, k float32) {
	a = a[:len(y)]
	for i := range y {
		y[i] += a[i] * k
	}
}
