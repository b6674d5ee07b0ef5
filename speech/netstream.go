package speech

import (
	"math"

	"stepcaller/speech/vector"
)

// netStream runs the network over one sound, a step every netStride frames.
// One goroutine uses it; it allocates nothing after newNetStream.
type netStream struct {
	k     *knowledge
	step  int // steps taken
	frame int // frames of the step at hand

	mels   [3][]float32 // the last frames, oldest first, with two bands of zeros at either end
	a      [3][]float32 // stem a of the last frames, band by band
	b      [3][]float32 // stem b of the last steps
	mid    []float32
	flat   []float32
	pooled []float32
	rings  [][]float32 // of each block, its inputs: dilation*4+1 steps
	state  []float32   // netRing steps of the last layer
	h, y   []float32
	inner  []float32
	logits []float32
	digits []float32 // netRing steps of the digit head
}

func newNetStream(k *knowledge) *netStream {
	width := k.stemD.rows
	s := &netStream{
		k:      k,
		mid:    make([]float32, 10*max(k.stemB1.rows, k.stemC1.rows)),
		flat:   make([]float32, k.stemD.cols),
		state:  make([]float32, netRing*width),
		pooled: make([]float32, 2*width),
		h:      make([]float32, width),
		y:      make([]float32, width),
		inner:  make([]float32, k.hidden.rows),
		logits: make([]float32, k.phrase.rows),
		digits: make([]float32, netRing*k.digit.rows),
	}
	for i := range s.mels {
		s.mels[i] = make([]float32, melBands+4)
		s.a[i] = make([]float32, 20*k.stemA.rows)
		s.b[i] = make([]float32, 10*k.stemB2.rows)
	}
	for _, b := range k.blocks {
		s.rings = append(s.rings, make([]float32, (4*b.dilation+1)*width))
	}
	return s
}

// hear takes the next frame of the front end. Every netStride frames it
// completes a step and returns true, with the chance from 0 to 1 that someone
// near spoke k.delay frames before this one.
func (s *netStream) hear(mel []float32) (activity float32, done bool) {
	s.mels[0], s.mels[1], s.mels[2] = s.mels[1], s.mels[2], s.mels[0]
	copy(s.mels[2][2:], mel[:melBands])
	s.a[0], s.a[1], s.a[2] = s.a[1], s.a[2], s.a[0]
	s.stemA()
	if s.frame++; s.frame < netStride {
		return 0, false
	}
	s.frame = 0
	s.b[0], s.b[1], s.b[2] = s.b[1], s.b[2], s.b[0]
	depthwise(s.mid, &s.k.stemB1, s.a[:], 20)
	pointwise(s.b[2], &s.k.stemB2, s.mid, 10)
	depthwise(s.mid, &s.k.stemC1, s.b[:], 10)
	s.flatten()
	s.k.stemD.times(s.h, s.flat)
	rectify(s.h)
	for i := range s.k.blocks {
		s.block(i)
	}
	width := len(s.h)
	slot := s.step % netRing
	copy(s.state[slot*width:(slot+1)*width], s.h)
	d := s.digits[slot*s.k.digit.rows : (slot+1)*s.k.digit.rows]
	s.k.digit.times(d, s.h)
	softmax(d)
	s.step++
	var z [1]float32
	s.k.activity.times(z[:], s.h)
	return sigmoid(z[0]), true
}

// stemA is the first convolution: three frames, five bands, every second band.
func (s *netStream) stemA() {
	l, n := &s.k.stemA, s.k.stemA.rows
	for band := range 20 {
		out := s.a[2][band*n : (band+1)*n]
		copy(out, l.b)
		for t := range 3 {
			in := s.mels[t][2*band : 2*band+5]
			for f, v := range in {
				vector.AddScaled(out, l.w[(5*t+f)*n:(5*t+f+1)*n], v)
			}
		}
		rectify(out)
	}
}

// depthwise is a 3x3 convolution channel by channel, every second band of in.
func depthwise(out []float32, l *layer, in [][]float32, bands int) {
	n := l.rows
	for band := range bands / 2 {
		o := out[band*n : (band+1)*n]
		copy(o, l.b)
		for t := range 3 {
			for f := range 3 {
				at := 2*band + f - 1
				if at < 0 || at >= bands {
					continue
				}
				vector.AddProduct(o, l.w[(3*t+f)*n:(3*t+f+1)*n], in[t][at*n:(at+1)*n])
			}
		}
	}
}

// pointwise applies the matrix to every band, and rectifies.
func pointwise(out []float32, l *layer, in []float32, bands int) {
	for band := range bands {
		o := out[band*l.rows : (band+1)*l.rows]
		l.times(o, in[band*l.cols:(band+1)*l.cols])
		rectify(o)
	}
}

// flatten is the second matrix of the stem, with its five bands laid out
// channel by channel as training has them.
func (s *netStream) flatten() {
	l := &s.k.stemC2
	var o [256]float32
	for band := range 5 {
		l.times(o[:l.rows], s.mid[band*l.cols:(band+1)*l.cols])
		for c, v := range o[:l.rows] {
			s.flat[c*5+band] = max(v, 0)
		}
	}
}

// block adds a residual step to s.h.
func (s *netStream) block(i int) {
	b, ring, n := &s.k.blocks[i], s.rings[i], len(s.h)
	steps := len(ring) / n
	copy(ring[s.step%steps*n:][:n], s.h)
	copy(s.y, b.depth.b)
	for tap := range 5 {
		at := s.step - (4-tap)*b.dilation
		if at < 0 {
			continue
		}
		vector.AddProduct(s.y, b.depth.w[tap*n:(tap+1)*n], ring[at%steps*n:][:n])
	}
	out := s.pooled[:n] // free until an utterance is judged
	b.point.times(out, s.y)
	for c, v := range out {
		if v > 0 {
			s.h[c] += v
		}
	}
}

// judge pools the steps from first up to the last one taken and returns the
// chance of every class, valid until the next call. Steps older than netRing
// are left out.
func (s *netStream) judge(first, last int) []float32 {
	n := len(s.h)
	last = min(last, s.step)
	first = max(first, last-netRing, s.step-netRing, 0)
	mean, top := s.pooled[:n], s.pooled[n:]
	clear(mean)
	for c := range top {
		top[c] = 0 // the last layer is never negative
	}
	for t := first; t < last; t++ {
		for c, v := range s.state[t%netRing*n:][:n] {
			mean[c] += v
			top[c] = max(top[c], v)
		}
	}
	if last > first {
		for c := range mean {
			mean[c] /= float32(last - first)
		}
	}
	s.k.hidden.times(s.inner, s.pooled)
	rectify(s.inner)
	s.k.phrase.times(s.logits, s.inner)
	softmax(s.logits)
	return s.logits
}

// digit is a number read by the digit head.
type digit struct {
	class int // in knowledge.digits
	last  int // the step that it was last seen in
	score float64
}

// readDigits reads the numbers from step first up to last into out, the best
// class of every step with repeats and blanks taken away (Graves and others,
// ICML, 2006), and returns how many and the lowest score among them.
func (s *netStream) readDigits(out []digit, first, last int) (n int, least float64) {
	rows := s.k.digit.rows
	before := 0
	least = 1
	for t := max(first, last-netRing, s.step-netRing, 0); t < min(last, s.step) && n < len(out); t++ {
		p := s.digits[t%netRing*rows:][:rows]
		best := 0
		for i, v := range p {
			if v > p[best] {
				best = i
			}
		}
		if best != 0 {
			if best != before {
				out[n] = digit{class: best}
				n++
			}
			d := &out[n-1]
			d.last, d.score = t, max(d.score, float64(p[best]))
		}
		before = best
	}
	for _, d := range out[:n] {
		least = min(least, d.score)
	}
	return n, least
}

func rectify(x []float32) {
	for i, v := range x {
		x[i] = max(v, 0)
	}
}

func sigmoid(x float32) float32 { return float32(1 / (1 + math.Exp(-float64(x)))) }

func softmax(x []float32) {
	top := x[0]
	for _, v := range x {
		top = max(top, v)
	}
	var sum float64
	for i, v := range x {
		e := math.Exp(float64(v - top))
		x[i] = float32(e)
		sum += e
	}
	for i := range x {
		x[i] = float32(float64(x[i]) / sum)
	}
}

// reset brings the network back to the start of a stream.
func (s *netStream) reset() {
	s.step, s.frame = 0, 0
	for i := range s.mels {
		clear(s.mels[i])
		clear(s.a[i])
		clear(s.b[i])
	}
	for _, r := range s.rings {
		clear(r)
	}
}
