package vector

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The plain loops are the reference of the wide ones.
func TestWideLoopsAgreeWithPlainOnes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 70).Draw(t, "n")
		numbers := func(name string, n int) []float32 {
			return rapid.SliceOfN(rapid.Float32Range(-2, 2), n, n).Draw(t, name)
		}
		check := func(name string, got, want []float32) {
			for i := range want {
				if math.Abs(float64(got[i]-want[i])) > 1e-5*(1+float64(n)) {
					t.Fatalf("%s: number %d of %d is %v, plainly %v", name, i, n, got[i], want[i])
				}
			}
		}
		w, x, y := numbers("w", 4*n), numbers("x", n), numbers("y", n)
		var got, want [4]float32
		Dot4(&got, w, x, n)
		dot4Plain(&want, w, x, n)
		check("dot4", got[:], want[:])
		a, b := append([]float32(nil), y...), append([]float32(nil), y...)
		AddProduct(a, w[:n], x)
		addProductPlain(b, w[:n], x)
		check("addProduct", a, b)
		AddScaled(a, x, w[0])
		addScaledPlain(b, x, w[0])
		check("addScaled", a, b)
	})
}
