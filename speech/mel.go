package speech

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The front end: what the network is given for every [Frame]. The training
// (speech/training/mix.py) computes the same numbers.
const (
	melBands  = 40
	melWindow = 400 // 25 ms
	melFFT    = 512
	melLowest = 60.0   // Hz
	melTop    = 7600.0 // Hz
	melMemory = 150    // frames that the running mean remembers
	melFloor  = 1e-6   // energy added before the logarithm
	melScale  = 0.4
)

// mel turns sound into frames of log-mel energy from which each band's running
// mean is taken away, so that neither level nor the colour of a microphone
// counts. One goroutine uses it; it allocates nothing after newMel.
type mel struct {
	fft      *fourier.FFT
	window   [melWindow]float64
	bank     [melBands]triangle
	past     [melWindow]float64
	padded   [melFFT]float64
	spectrum [melFFT/2 + 1]complex128
	power    [melFFT/2 + 1]float64
	mean     [melBands]float64
	seen     int
	dither   uint64 // state of the noise that keeps digital silence from being endless; 0 for none
}

// triangle is one band: weights of the bins from first on.
type triangle struct {
	first   int
	weights []float64
}

// newMel returns a front end at the start of a stream. Dither is seeded with
// seed; 0 leaves it out.
func newMel(seed uint64) *mel {
	m := &mel{fft: fourier.NewFFT(melFFT), dither: seed, bank: melBank()}
	for i := range m.window {
		m.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/(melWindow-1))
	}
	return m
}

// melBank has melBands triangles of equal width on the mel scale,
// 2595 log10(1 + f/700) (O'Shaughnessy, Speech Communication, 1987).
func melBank() (bank [melBands]triangle) {
	toMel := func(f float64) float64 { return 2595 * math.Log10(1+f/700) }
	edge := func(i int) float64 {
		m := toMel(melLowest) + (toMel(melTop)-toMel(melLowest))*float64(i)/(melBands+1)
		return 700 * (math.Pow(10, m/2595) - 1)
	}
	for b := range bank {
		low, mid, high := edge(b), edge(b+1), edge(b+2)
		for k := range melFFT/2 + 1 {
			f := float64(k) * Rate / melFFT
			w := min((f-low)/(mid-low), (high-f)/(high-mid))
			if w <= 0 {
				continue
			}
			if bank[b].weights == nil {
				bank[b].first = k
			}
			bank[b].weights = append(bank[b].weights, w)
		}
	}
	return bank
}

// frame takes the next Frame samples, full scale 1, and fills out with
// melBands values.
func (m *mel) frame(pcm []float32, out []float32) {
	var sums [melBands]float64
	m.energies(pcm, &sums)
	m.levels(&sums, out)
}

// energies takes the next Frame samples and fills sums with the energy of each
// band.
func (m *mel) energies(pcm []float32, sums *[melBands]float64) {
	copy(m.past[:], m.past[Frame:])
	fresh := m.past[melWindow-Frame:]
	for i, v := range pcm[:Frame] {
		fresh[i] = float64(v) + m.noise()
	}
	for i, v := range m.past {
		m.padded[i] = v * m.window[i]
	}
	m.fft.Coefficients(m.spectrum[:], m.padded[:])
	for i, c := range m.spectrum {
		m.power[i] = real(c)*real(c) + imag(c)*imag(c)
	}
	for b := range m.bank {
		t := &m.bank[b]
		sum := 0.0
		for i, w := range t.weights {
			sum += w * m.power[t.first+i]
		}
		sums[b] = sum
	}
}

// levels fills out with the logarithms of the energies less their running
// means.
func (m *mel) levels(sums *[melBands]float64, out []float32) {
	m.seen = min(m.seen+1, melMemory)
	step := 1 / float64(m.seen)
	for b, sum := range sums {
		e := math.Log(sum + melFloor)
		m.mean[b] += (e - m.mean[b]) * step
		out[b] = float32((e - m.mean[b]) * melScale)
	}
}

// noise is the next sample of dither: evenly spread over one step of 16-bit
// sound, from a xorshift generator (Marsaglia, Journal of Statistical
// Software, 2003).
func (m *mel) noise() float64 {
	if m.dither == 0 {
		return 0
	}
	m.dither ^= m.dither << 13
	m.dither ^= m.dither >> 7
	m.dither ^= m.dither << 17
	return (float64(m.dither>>11)/(1<<53) - 0.5) / 32768
}

// reset brings the front end back to the start of a stream.
func (m *mel) reset() {
	clear(m.past[:])
	clear(m.mean[:])
	m.seen = 0
}
