package speech_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/speech"
)

func TestSamplesAndDurationsConvert(t *testing.T) {
	check := func(d time.Duration, want speech.Samples) {
		t.Helper()
		if got := speech.SamplesIn(d); got != want {
			t.Errorf("%v is %d samples, want %d", d, got, want)
		}
	}
	check(time.Second, 16000)
	check(10*time.Millisecond, speech.Frame)
	check(62500*time.Nanosecond, 1)
	check(31250*time.Nanosecond, 1)
	check(31249*time.Nanosecond, 0)
	check(-31250*time.Nanosecond, -1)
	check(8*time.Hour, 8*3600*16000)
	rapid.Check(t, func(t *rapid.T) {
		s := speech.Samples(rapid.Int64Range(-1<<45, 1<<45).Draw(t, "samples"))
		if back := speech.SamplesIn(s.Duration()); back != s {
			t.Fatalf("%d samples come back as %d", s, back)
		}
	})
}
