package procedures_test

import (
	"fmt"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// BenchmarkSpeakable_length says texts of growing length: the time for a byte stays.
func BenchmarkSpeakable_length(b *testing.B) {
	for _, sort := range []struct{ name, text string }{
		{"prose", "Tighten the 10 M6×1.0 cover bolts to 10 N·m (7 lbf·ft), then 90°. "},
		{"digits", "1234567890"},
		{"signs", "((/-.."},
	} {
		for _, n := range []int{1 << 10, 16 << 10, 256 << 10} {
			text := strings.Repeat(sort.text, n/len(sort.text))
			b.Run(fmt.Sprintf("%s/%d", sort.name, n), func(b *testing.B) {
				b.SetBytes(int64(len(text)))
				for b.Loop() {
					procedures.Speakable(text)
				}
			})
		}
	}
}

// BenchmarkSpeakable makes one sentence ready to speak.
func BenchmarkSpeakable(b *testing.B) {
	for b.Loop() {
		procedures.Speakable("Tighten the 10 M6×1.0 cover bolts to 10 N·m (7 lbf·ft), criss-cross, with a 3/8\" drive.")
	}
}
