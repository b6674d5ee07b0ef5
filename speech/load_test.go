package speech

import "testing"

// BenchmarkLoad is the time to decode the weights, once in the life of a
// process, and to make ears from them.
func BenchmarkLoad(b *testing.B) {
	b.Run("weights", func(b *testing.B) {
		for b.Loop() {
			if _, err := readKnowledge(weights); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("ears", func(b *testing.B) {
		for b.Loop() {
			if _, err := NewEars(DefaultEarsConfig()); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("reset", func(b *testing.B) {
		e, err := NewEars(DefaultEarsConfig())
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			e.Reset()
		}
	})
}
