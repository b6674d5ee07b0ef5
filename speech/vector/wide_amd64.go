package vector

import "golang.org/x/sys/cpu"

// wide says whether the processor has what wide_amd64.s is written for.
var wide = cpu.X86.HasAVX2 && cpu.X86.HasFMA

// The three take n numbers, a multiple of 8, and check nothing.

//go:noescape
func dot4Wide(out *[4]float32, w, x *float32, row, n int)

//go:noescape
func addProductWide(y, a, b *float32, n int)

//go:noescape
func addScaledWide(y, a *float32, k float32, n int)

func dot4(out *[4]float32, w, x []float32, n int) {
	m := len(x) &^ 7
	if !wide || m == 0 {
		dot4Plain(out, w, x, n)
		return
	}
	_ = w[4*n-1]
	dot4Wide(out, &w[0], &x[0], n, m)
	for i := m; i < len(x); i++ {
		for r := range out {
			out[r] += w[r*n+i] * x[i]
		}
	}
}

func addProduct(y, a, b []float32) {
	m := len(y) &^ 7
	if wide && m > 0 {
		_, _ = a[m-1], b[m-1]
		addProductWide(&y[0], &a[0], &b[0], m)
		y, a, b = y[m:], a[m:], b[m:]
	}
	addProductPlain(y, a, b)
}

func addScaled(y, a []float32, k float32) {
	m := len(y) &^ 7
	if wide && m > 0 {
		_ = a[m-1]
		addScaledWide(&y[0], &a[0], k, m)
		y, a = y[m:], a[m:]
	}
	addScaledPlain(y, a, k)
}
