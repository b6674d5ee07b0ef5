package speech

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// impression is what the network makes of one utterance: the input of its
// phrase layer.
type impression struct {
	take    int  // of the takes given
	noisy   bool // noise was added
	part    bool // half of the take, or the take backwards: speech of the same voice, and not what was to be said
	feature []float32
}

// hearing is a condition that takes are heard in.
type hearing struct {
	snr      float64 // dB; clean for no noise
	speed    float64
	reversed bool
}

const clean = 99.0

// studied are the conditions that a technician's takes are heard in: as they
// were said, a little faster and slower, through noise, and once backwards.
// chatted are those for the bundled chatter.
var (
	studied = []hearing{{clean, 1, false}, {clean, 0.94, false}, {16, 1.06, false}, {10, 0.97, false}, {6, 1, false}, {5, 1.03, false}, {3, 1, false}, {16, 1, true}}
	chatted = []hearing{{clean, 1, false}, {6, 1, false}}
)

// study hears every take in all hearings. It uses every processor, for a
// fiftieth of the sound's length in all.
func study(k *knowledge, takes []Take, in []hearing, seed uint64) []impression {
	parts := make([][]impression, len(in))
	var all sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, h := range in {
		all.Go(func() {
			free <- struct{}{}
			defer func() { <-free }()
			parts[i] = hearAgain(k, takes, h, seed+uint64(i))
		})
	}
	all.Wait()
	return slices.Concat(parts...)
}

// hearAgain lines the takes up over noise, in an order of its own, and has the
// front end and the network hear them as the ears do.
func hearAgain(k *knowledge, takes []Take, h hearing, seed uint64) (out []impression) {
	const (
		lead, between = Rate, Rate / 4
		level         = -25.0
		before, after = 5 * Frame, 21 * Frame // that the ears take with an utterance: see Ears.decide
		length        = netStride * Frame
	)
	r := rand.New(rand.NewPCG(seed, 9))
	noise := newDin(seed)
	ears := listener{mel: newMel(seed + 1), net: newNetStream(k)}
	var frame [Frame]float32
	filled, under := 0, 0.0
	give := func(v float64) {
		if h.snr < clean {
			v += under * noise.sample()
		}
		frame[filled] = float32(math.Round(max(-32768, min(32767, v*32768))) / 32768)
		if filled++; filled == Frame {
			filled = 0
			ears.hear(frame[:])
		}
	}
	judge := func(take int, part bool, from, until int) {
		ears.net.judge(from/length, until/length)
		out = append(out, impression{take: take, noisy: h.snr < clean, part: part, feature: slices.Clone(ears.net.inner)})
	}
	for i, take := range r.Perm(len(takes)) {
		t := takes[take].paced(h.speed)
		if h.reversed {
			t = t.backwards()
		}
		loud := level + 8*r.Float64() - 4
		gain := math.Pow(10, (loud-t.Level())/20)
		under = math.Pow(10, (loud-h.snr)/20)
		rest := math.Pow(10, max(-75, loud-t.Level()+t.Floor())/20) // the take's own quiet, in place of none
		quiet := between
		if i == 0 {
			quiet = lead
		}
		for range quiet {
			give(rest * r.NormFloat64())
		}
		begin := ears.net.step*length + ears.net.frame*Frame + filled
		from := begin + int(t.From) - before - r.IntN(2*Frame)
		until := begin + int(t.To) + after + r.IntN(4*Frame)
		at := begin
		for _, v := range t.PCM {
			give(gain * float64(v) / 32768)
			at++
		}
		for ; at < until+length; at++ {
			give(rest * r.NormFloat64())
		}
		judge(take, h.reversed, from, until)
		if middle := begin + int(t.From+t.To)/2; h.snr > 12 && !h.reversed {
			judge(take, true, from, middle)
			judge(take, true, middle, until)
		}
	}
	return out
}

// backwards is the take from its end to its beginning.
func (t Take) backwards() Take {
	pcm := slices.Clone(t.PCM)
	slices.Reverse(pcm)
	n := Samples(len(pcm))
	return Take{Label: t.Label, PCM: pcm, From: n - t.To, To: n - t.From}
}

// paced is the take said faster, above 1, or slower, with its pitch: somebody
// else of a slightly other size.
func (t Take) paced(speed float64) Take {
	if speed == 1 {
		return t
	}
	to := newResampler(int(math.Round(Rate*speed)), Rate)
	in := make([]float64, len(t.PCM))
	for i, v := range t.PCM {
		in[i] = float64(v)
	}
	pcm := toInt16(nil, to.push(in))
	pcm = toInt16(pcm, to.flush())
	scale := func(s Samples) Samples { return min(Samples(len(pcm)), Samples(float64(s)/speed)) }
	return Take{Label: t.Label, PCM: pcm, From: scale(t.From), To: scale(t.To)}
}

// quantile is the value below which a share q of x lies. It sorts a copy.
func quantile(x []float64, q float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, int(q*float64(len(s))))]
}
