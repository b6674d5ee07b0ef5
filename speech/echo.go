package speech

import "gonum.org/v1/gonum/dsp/fourier"

// canceller takes the sound of our own loudspeaker out of the microphone's.
//
// It is a partitioned-block frequency-domain adaptive filter (Soo and Pang,
// IEEE Transactions on ASSP, 1990) with two filters: one that always adapts,
// and one that is heard, which takes the other's weights only when they have
// proved better (Ochiai, Araseki and Ogihara, IEEE Transactions on
// Communications, 1977). So speech over our voice does not spoil it.
type canceller struct {
	fft     *fourier.FFT
	played  [][]complex128 // spectra of the last echoBlocks blocks, a ring
	loud    [][]float64    // their power
	at      int            // the newest
	power   []float64      // over the ring, by bin
	hears   [][]complex128 // the filter that is heard
	adapts  [][]complex128
	turn    int // partition whose tail is cut next
	sum     []complex128
	err     []complex128
	long    []float64
	last    [Frame]float64
	mic     [Frame]float64
	kept    [Frame]float64
	tried   [Frame]float64
	micPow  float64 // smoothed energies of the microphone and of what the filters leave
	keptPow float64
	tryPow  float64
	better  int // blocks in a row in which the adapting filter was better
	worse   int
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
	blocks   int
}

const (
	echoBlocks  = 48 // 480 ms of delay and room
	echoHistory = 320
	echoStep    = 0.7
	echoIdle    = echoBlocks + 60 // blocks after which nothing can come back
	echoLoud    = 1e-5            // energy of a block that counts as played: -50 dBFS
	echoLearns  = 150             // blocks of loud sound before which nothing is heard over our voice
	echoHolds   = 0.997           // a block; the leak falls no faster: 1.3 dB a second
	leastLeak   = 0.02            // a filter is never trusted to leave less
)

func newCanceller() *canceller {
	bins := Frame + 1
	c := &canceller{
		fft: fourier.NewFFT(2 * Frame), power: make([]float64, bins), sum: make([]complex128, bins),
		err: make([]complex128, bins), long: make([]float64, 2*Frame), idle: echoIdle, leak: 1, held: 1,
	}
	for range echoBlocks {
		c.played = append(c.played, make([]complex128, bins))
		c.loud = append(c.loud, make([]float64, bins))
		c.hears = append(c.hears, make([]complex128, bins))
		c.adapts = append(c.adapts, make([]complex128, bins))
	}
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
		c.rest[slot], c.echo[slot], c.expected[slot] = 0, 0, 0
		return
	}
	c.at = (c.at + 1) % echoBlocks
	x, pow := c.played[c.at], c.loud[c.at]
	c.fft.Coefficients(x, c.long)
	for i, v := range x {
		p := real(v)*real(v) + imag(v)*imag(v)
		c.power[i] = max(0, c.power[i]+p-pow[i])
		pow[i] = p
	}
	most := c.most()
	heard := c.filter(c.hears, &c.kept)
	c.filter(c.adapts, &c.tried)
	c.compare()
	c.adapt()
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
	}
}

// filter fills left with the microphone less the echo as w has it, and returns
// the echo's energy.
func (c *canceller) filter(w [][]complex128, left *[Frame]float64) (energy float64) {
	clear(c.sum)
	for k, wk := range w {
		x := c.played[(c.at-k+echoBlocks)%echoBlocks][:len(c.sum)]
		wk = wk[:len(c.sum)]
		for i := range c.sum {
			c.sum[i] += wk[i] * x[i]
		}
	}
	c.fft.Sequence(c.long, c.sum)
	for i := range left {
		y := c.long[Frame+i] / (2 * Frame)
		left[i] = c.mic[i] - y
		energy += y * y
	}
	return energy / Frame
}

// compare lets the adapting filter be heard once it is better, and brings it
// back when it has run away.
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
	follow(&c.tryPow, &c.tried)
	if c.tryPow < 0.85*c.keptPow && c.tryPow < 0.7*c.micPow {
		c.better++
	} else {
		c.better = 0
	}
	if c.tryPow > 2*c.keptPow || c.tryPow > 2*c.micPow {
		c.worse++
	} else {
		c.worse = 0
	}
	if c.better >= 4 {
		for k := range c.hears {
			copy(c.hears[k], c.adapts[k])
		}
		c.keptPow, c.better = c.tryPow, 0
	}
	if c.worse >= 8 {
		for k := range c.hears {
			copy(c.adapts[k], c.hears[k])
		}
		c.tryPow, c.worse = c.keptPow, 0
	}
}

// adapt moves the adapting filter along the error it left.
func (c *canceller) adapt() {
	clear(c.long[:Frame])
	copy(c.long[Frame:], c.tried[:])
	c.fft.Coefficients(c.err, c.long)
	for i := range c.err {
		c.err[i] *= complex(echoStep/(c.power[i]+0.02), 0)
	}
	for k, wk := range c.adapts {
		x := c.played[(c.at-k+echoBlocks)%echoBlocks][:len(c.err)]
		wk = wk[:len(c.err)]
		for i, e := range c.err {
			wk[i] += complex(real(x[i])*real(e)+imag(x[i])*imag(e), real(x[i])*imag(e)-imag(x[i])*real(e))
		}
	}
	for range 4 { // a filter longer than its partition would wrap around
		wk := c.adapts[c.turn]
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
	c.rest[slot], c.echo[slot], c.expected[slot] = left, echo, c.held*echo
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
		echo += c.echo[slot]
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
