package procedures_test

import (
	"os"
	"testing"

	"stepcaller/procedures"
)

// BenchmarkLoad reads and checks the largest bundled file.
func BenchmarkLoad(b *testing.B) {
	data, err := os.ReadFile("water-pump.yaml")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if p, mistakes := procedures.Load("water-pump.yaml", data); p == nil {
			b.Fatal(mistakes)
		}
	}
}

// BenchmarkSpeakable makes one sentence ready to speak.
func BenchmarkSpeakable(b *testing.B) {
	for b.Loop() {
		procedures.Speakable("Tighten the 10 M6×1.0 cover bolts to 10 N·m (7 lbf·ft), criss-cross, with a 3/8\" drive.")
	}
}
