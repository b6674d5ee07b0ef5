package speech

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// canceller takes the sound of our own loudspeaker out of the microphone's.
//
// It is a partitioned-block filter in the frequency domain (Soo and Pang, IEEE
// Transactions on ASSP, 1990) whose weights a Kalman filter follows (Enzner and
// Vary, Signal Processing, 2006; Kuech, Mabande and Enzner, ICASSP, 2014). It
// knows how unsure every weight is, and takes what is left over for speech:
// so it learns fast while it knows little, and speech over our voice does not
// spoil it.
type canceller struct {
	fft     *fourier.FFT
	played  [][]complex128 // spectra of the last echoBlocks blocks, a ring
	loud    [][]float64    // their power
	at      int            // the newest
	weights [][]complex128
	unsure  [][]float64 // expected squared error of the weights
	near    []float64   // power of what is left, smoothed, by bin
	turn    int         // partition whose tail is cut next
	sum     []complex128
	err     []complex128
	long    []float64
	last    [Frame]float64
	mic     [Frame]float64
	kept    [Frame]float64
	guess   [Frame]float32 // the echo that was taken away
	micPow  float64        // smoothed energies of the microphone and of what the filter leaves
	keptPow float64
	worse   int // blocks in a row in which the filter made more than it took away
	idle    int // blocks since something was played
	spoken  int // blocks of loud sound played since the beginning

	leak     float64 // share of the echo's estimate that is left
	held     float64 // the same, slow to fall
	leakErr  float64
	leakEcho float64
	cross    float64
	auto     float64
	rest     [echoHistory]float64 // energy left, by block
	mics     [echoHistory]float64 // energy of the microphone
	plays    [echoHistory]float64 // energy played
	coupled  coupling
	echo     [echoHistory]float64 // energy of the echo's estimate
	expected [echoHistory]float64 // energy that the echo may have left
	mosts    [echoHistory]float64 // the most energy that it can have
	blocks   int
}

const (
	echoBlocks  = 48 // 480 ms of delay and room
	echoHistory = 320
	echoStays   = 0.9995          // a block; by how much the room stays as it is
	echoUnsure  = 0.05            // of every weight at first
	echoIdle    = echoBlocks + 60 // blocks after which nothing can come back
	echoLoud    = 1e-5            // energy of a block that counts as played: -50 dBFS
	echoLearns  = 150             // blocks of loud sound before which nothing is heard over our voice
	echoSettles = 500             // blocks of loud sound after which the bands tell our voice from others
	echoHolds   = 0.997           // a block; the leak falls no faster: 1.3 dB a second
	leastLeak   = 0.02            // a filter is never trusted to leave less
)

func newCanceller() *canceller {
	bins := Frame + 1
	c := &canceller{
		fft: fourier.NewFFT(2 * Frame), near: make([]float64, bins), sum: make([]complex128, bins),
		err: make([]complex128, bins), long: make([]float64, 2*Frame), idle: echoIdle, leak: 1, held: 1,
	}
	for range echoBlocks {
		c.played = append(c.played, make([]complex128, bins))
		c.loud = append(c.loud, make([]float64, bins))
		c.weights = append(c.weights, make([]complex128, bins))
		c.unsure = append(c.unsure, make([]float64, bins))
	}
	c.doubt()
	return c
}

// playing reports whether something of what was played may still be heard.
func (c *canceller) playing() bool { return c.idle < echoIdle }

// clean fills out, full scale 1, with mic less the echo of played. played may
// be short or nil: silence.
func (c *canceller) clean(out []float32, mic, played []int16) {
	var energy float64
	for i := range c.long[:Frame] {
		c.long[i] = c.last[i]
		v := 0.0
		if i < len(played) {
			v = float64(played[i]) / 32768
		}
		c.long[Frame+i], c.last[i] = v, v
		energy += v * v
	}
	energy /= Frame
	if energy > 0 {
		c.idle = 0
	} else {
		c.idle = min(c.idle+1, echoIdle)
	}
	if energy > echoLoud {
		c.spoken++
	}
	c.blocks++
	clear(c.guess[:])
	slot := c.blocks % echoHistory
	c.plays[slot], c.mics[slot] = energy, 0
	for i, v := range mic[:Frame] {
		c.mic[i] = float64(v) / 32768
		c.mics[slot] += c.mic[i] * c.mic[i] / Frame
	}
	if !c.playing() {
		for i, v := range c.mic {
			out[i] = float32(v)
		}
		c.rest[slot], c.echo[slot], c.expected[slot], c.mosts[slot] = 0, 0, 0, 0
		return
	}
	c.at = (c.at + 1) % echoBlocks
	x, pow := c.played[c.at], c.loud[c.at]
	c.fft.Coefficients(x, c.long)
	for i, v := range x {
		pow[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	most := c.most()
	heard := c.filter()
	c.adapt()
	c.compare()
	c.learnLeak(slot, min(heard, most), most)
	const little = 0.03 // 15 dB below: taking it away would cost more than it gives
	if c.keptPow > c.micPow || most < little*c.micPow {
		for i, v := range c.mic {
			out[i] = float32(v)
		}
		return
	}
	for i, v := range c.kept {
		out[i] = float32(v)
		c.guess[i] = float32(c.mic[i] - v)
	}
}

// doubt makes every weight as unsure as at first.
func (c *canceller) doubt() {
	const spread, least, most = 8, 0.0005, 0.2 // partitions that hold most of the echo
	unsure := echoUnsure
	if b := c.coupled.bound(); !math.IsInf(b, 1) {
		unsure = min(most, max(least, b/spread))
	}
	for _, p := range c.unsure {
		for i := range p {
			p[i] = unsure
		}
	}
}

// filter fills kept with the microphone less the echo, and returns the echo's
// energy.
func (c *canceller) filter() (energy float64) {
	clear(c.sum)
	for k, wk := range c.weights {
		x := c.played[(c.at-k+echoBlocks)%echoBlocks][:len(c.sum)]
		wk = wk[:len(c.sum)]
		for i := range c.sum {
			c.sum[i] += wk[i] * x[i]
		}
	}
	c.fft.Sequence(c.long, c.sum)
	for i := range c.kept {
		y := c.long[Frame+i] / (2 * Frame)
		c.kept[i] = c.mic[i] - y
		energy += y * y
	}
	return energy / Frame
}

// compare notices a filter that adds to the sound, and starts it again.
func (c *canceller) compare() {
	const smooth = 0.12
	follow := func(p *float64, x *[Frame]float64) {
		var e float64
		for _, v := range x {
			e += v * v
		}
		*p += smooth * (e/Frame - *p)
	}
	follow(&c.micPow, &c.mic)
	follow(&c.keptPow, &c.kept)
	if c.keptPow > 1.5*c.micPow {
		c.worse++
	} else {
		c.worse = 0
	}
	if c.worse >= 8 {
		for _, wk := range c.weights {
			clear(wk)
		}
		c.doubt()
		c.worse = 0
	}
}

// adapt moves the weights along what was left, each as far as it is unsure
// beside the sound that is not echo.
func (c *canceller) adapt() {
	clear(c.long[:Frame])
	copy(c.long[Frame:], c.kept[:])
	c.fft.Coefficients(c.err, c.long)
	var gain, rest [Frame + 1]float64
	for k, p := range c.unsure {
		pow := c.loud[(c.at-k+echoBlocks)%echoBlocks][:len(gain)]
		p = p[:len(gain)]
		for i := range gain {
			gain[i] += p[i] * pow[i]
		}
	}
	const smooth, half = 0.3, 0.5 // half of a spectrum is the block's own
	for i, e := range c.err {
		c.near[i] += smooth * (real(e)*real(e) + imag(e)*imag(e) - c.near[i])
		g := 1 / (half*gain[i] + c.near[i] + 1e-6)
		gain[i] = g
		rest[i] = half * g
	}
	const keeps = echoStays * echoStays
	for k, wk := range c.weights {
		slot := (c.at - k + echoBlocks) % echoBlocks
		x, pow, p := c.played[slot][:len(c.err)], c.loud[slot][:len(c.err)], c.unsure[k][:len(c.err)]
		wk = wk[:len(c.err)]
		for i, e := range c.err {
			g := p[i] * gain[i]
			w := wk[i] + complex(g*(real(x[i])*real(e)+imag(x[i])*imag(e)), g*(real(x[i])*imag(e)-imag(x[i])*real(e)))
			wk[i] = w
			p[i] = keeps*p[i]*(1-rest[i]*p[i]*pow[i]) + (1-keeps)*(real(w)*real(w)+imag(w)*imag(w))
		}
	}
	for range 3 { // a filter longer than its partition would wrap around
		wk := c.weights[c.turn]
		c.fft.Sequence(c.long, wk)
		for i := range c.long[:Frame] {
			c.long[i] /= 2 * Frame
		}
		clear(c.long[Frame:])
		c.fft.Coefficients(wk, c.long)
		c.turn = (c.turn + 1) % echoBlocks
	}
}

// learnLeak follows how much of the echo is left over, by how far the energy
// left rises and falls with the echo's (Valin, IEEE Transactions on Audio,
// Speech and Language Processing, 2007). Speech near the microphone does not
// follow the echo.
func (c *canceller) learnLeak(slot int, echo, most float64) {
	var left float64
	for _, v := range c.kept {
		left += v * v
	}
	left /= Frame
	const slow, mean = 0.006, 0.1
	de, dy := left-c.leakErr, echo-c.leakEcho
	c.leakErr += mean * de
	c.leakEcho += mean * dy
	c.cross += slow * (de*dy - c.cross)
	c.auto += slow * (dy*dy - c.auto)
	if c.auto > 1e-14 {
		c.leak = min(1, max(leastLeak, c.cross/c.auto))
	}
	if echo > echoLoud/10 || c.leak > c.held {
		c.held = max(c.leak, c.held*echoHolds)
	}
	c.rest[slot], c.echo[slot], c.expected[slot], c.mosts[slot] = left, echo, c.held*echo, most
	if c.spoken < echoLearns {
		c.echo[slot], c.expected[slot] = most, min(left, most)
	}
}

// explains reports whether what is left of the sound from from (samples from
// now on, so 0 or less) for length is no more than our own voice may have left
// beside noise of the energy floor.
func (c *canceller) explains(from, length Samples, floor float64) bool {
	const margin, tail = 4, 0.8 // 6 dB; the room smears the echo's envelope
	if !c.playing() {
		return false
	}
	var rest, expected float64
	c.each(from, length, func(slot int) {
		rest += max(0, c.rest[slot]-floor)
		most, fade := 0.0, 1.0
		for d := range 8 {
			most = max(most, fade*c.expected[(slot+echoHistory-d)%echoHistory])
			fade *= tail
		}
		expected += most
	})
	return rest <= margin*expected
}

// residue reports whether a whole utterance may be what our own voice left: it
// is weak beside the echo that was taken away.
func (c *canceller) residue(from, length Samples, floor float64) bool {
	if !c.playing() {
		return false
	}
	var rest, echo float64
	c.each(from, length, func(slot int) {
		rest += max(0, c.rest[slot]-floor)
		echo += c.echo[slot]
	})
	return rest < max(0.16, 4*c.held)*echo
}

// present reports whether our own voice makes up a part of an utterance that
// counts: with a headset it does not, and then talk over it is plain talk. What
// our own voice left of itself is always weaker than the echo taken away.
func (c *canceller) present(from, length Samples) bool {
	const share = 0.1 // of the utterance's energy: 10 dB below
	if !c.playing() {
		return false
	}
	var rest, echo float64
	c.each(from, length, func(slot int) {
		rest += c.rest[slot]
		echo += max(c.echo[slot], c.mosts[slot])
	})
	return echo > share*rest
}

// each calls f with the slot of every block from from (samples from now on) for
// length.
func (c *canceller) each(from, length Samples, f func(slot int)) {
	first := c.blocks + 1 + int(from/Frame)
	for b := max(first, c.blocks-echoHistory+9, 1); b < min(first+int(length/Frame), c.blocks+1); b++ {
		f(b % echoHistory)
	}
}

// unsettled reports whether too little was played yet to know the echo.
func (c *canceller) unsettled() bool { return c.spoken < echoSettles }
