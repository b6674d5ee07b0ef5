package speech_test

import (
	"math"
	"testing"
	"time"

	"stepcaller/speech"
)

const patience = 30 * time.Second

func chirp() []int16 {
	pcm := make([]int16, speech.Rate/10)
	for i := range pcm {
		s := float64(i) / speech.Rate
		edge := math.Sin(math.Pi * float64(i) / float64(len(pcm)))
		pcm[i] = int16(12000 * edge * math.Sin(2*math.Pi*(500*s+12500*s*s)))
	}
	return pcm
}

func chirps(places ...int) []int16 {
	c := chirp()
	pcm := make([]int16, places[len(places)-1]+2*len(c))
	for _, p := range places {
		copy(pcm[p:], c)
	}
	return pcm
}

func findChirps(pcm []int16) (places []int) {
	c := chirp()
	var own float64
	for _, v := range c {
		own += float64(v) * float64(v)
	}
	best, at := 0.0, 0
	var energy float64
	for i := range pcm {
		energy += float64(pcm[i]) * float64(pcm[i])
		from := i - len(c) + 1
		if from < 0 {
			continue
		}
		if best > 0 && from > at+len(c) {
			places = append(places, at)
			best = 0
		}
		if energy > own/100 {
			var sum float64
			for k, v := range c {
				sum += float64(v) * float64(pcm[from+k])
			}
			if r := sum / math.Sqrt(own*energy); r > 0.8 && r > best {
				best, at = r, from
			}
		}
		energy -= float64(pcm[from]) * float64(pcm[from])
	}
	if best > 0 {
		places = append(places, at)
	}
	return places
}

func hear(t *testing.T, s speech.Source, n int) (places []int, missing int, pcm []int16) {
	t.Helper()
	limit := time.Now().Add(patience)
	for read := 0; ; read++ {
		b, err := s.Read()
		if err != nil {
			t.Fatal(err)
		}
		if int(b.At) != len(pcm) || len(b.PCM) != speech.Frame {
			t.Fatalf("a block of %d at %d after %d samples", len(b.PCM), b.At, len(pcm))
		}
		pcm = append(pcm, b.PCM...)
		missing += b.Missing
		if read%25 == 24 {
			if places = findChirps(pcm); len(places) >= n && places[n-1]+3200 <= len(pcm) {
				return places, missing, pcm
			}
			if time.Now().After(limit) {
				t.Fatalf("%d of %d chirps heard in %v", len(places), n, patience)
			}
		}
	}
}

func near(t *testing.T, what string, got, want, by int) {
	t.Helper()
	t.Logf("%s: %d, %d samples off", what, got, got-want)
	if got < want-by || got > want+by {
		t.Errorf("%s: %d, want %d to within %d", what, got, want, by)
	}
}

func eachRate(t *testing.T, f func(t *testing.T, c speech.DeviceConfig)) {
	for name, rate := range map[string]int{"16 kHz": 0, "48 kHz": 48000} {
		t.Run(name, func(t *testing.T) { f(t, speech.DeviceConfig{Rate: rate}) })
	}
}

type offset struct {
	speech.Source
	by speech.Samples
}

func (o *offset) Read() (speech.Block, error) {
	b, err := o.Source.Read()
	b.At -= o.by
	return b, err
}
