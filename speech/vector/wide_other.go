//go:build !amd64

package vector

func dot4(out *[4]float32, w, x []float32, n int) { dot4Plain(out, w, x, n) }

func addProduct(y, a, b []float32) { addProductPlain(y, a, b) }

func addScaled(y, a []float32, k float32) { addScaledPlain(y, a, k) }
