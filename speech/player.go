package speech

import (
	"math"
	"sync/atomic"
)

// ReportKind says what became of a sentence.
type ReportKind uint8

// A sentence begins once, then either ends or is cut. One that was cut before
// its turn came is cut without having begun.
const (
	Begun ReportKind = iota
	Ended
	WasCut
)

// Report is the news of one sentence given to [Player.Say].
type Report struct {
	ID   int64
	Kind ReportKind
	At   Samples // output sample: the first of its sound, or the first after it
}

// Player is the [Feed] of everything the program lets be heard: a voice lane,
// which is a queue of sentences, and a tone lane mixed over it.
//
// One goroutine calls Say, Cut, Drop, Tone, Reports, Speaking, SetVolume and Played;
// the audio thread calls Pull. The two never wait for each other.
type Player struct {
	orders  queue[order]
	spoken  []*sentence // said and not yet reported as over, in order
	volume  atomic.Uint64
	tape    *ring[int16]
	audible mixer // the audio thread's own
}

// NewPlayer returns a player with nothing to say, at full volume.
func NewPlayer() *Player {
	p := &Player{tape: newRing[int16](tapeLength)}
	p.orders.init()
	p.SetVolume(1)
	p.audible = mixer{gain: 1, target: 1, low: 1}
	return p
}

// Say appends a sentence, mono at [Rate], to the voice lane. The player keeps
// pcm; the caller does not change it afterwards. id comes back in reports.
func (p *Player) Say(id int64, pcm []int16) {
	s := &sentence{id: id, pcm: pcm, limit: headroom(pcm, voiceCap)}
	p.spoken = append(p.spoken, s)
	p.orders.put(order{say: s})
}

// Cut silences the voice lane at once, with a fade of 3 ms, and drops every
// sentence said so far. What is said after it is played.
func (p *Player) Cut() { p.orders.put(order{cut: true}) }

// Drop lets the sentence that is sounding end, and drops every one behind it
// said so far.
func (p *Player) Drop() { p.orders.put(order{drop: true}) }

// Tone plays pcm, mono at [Rate], over the voice, in place of a tone that is
// still sounding. The player keeps pcm.
func (p *Player) Tone(pcm []int16) {
	p.orders.put(order{tone: &sentence{pcm: pcm, limit: headroom(pcm, toneCap)}})
}

// SetVolume sets the gain of voice and tones, 1 for sound as it was given. The
// change is spread over 20 ms. However high, nothing is played louder than
// -6 dBFS at its peak.
func (p *Player) SetVolume(gain float64) {
	p.volume.Store(math.Float64bits(max(0, gain)))
}

// Speaking reports whether the voice lane still has something to play.
func (p *Player) Speaking() bool {
	for _, s := range p.spoken {
		if s.over.Load() == 0 {
			return true
		}
	}
	return false
}

// Reports tells what became of sentences since the last call, in the order in
// which they were said.
func (p *Player) Reports() []Report {
	var reports []Report
	kept := p.spoken[:0]
	for _, s := range p.spoken {
		// A sentence is over after it began: read in the other order.
		over, begun := s.over.Load(), s.begun.Load()
		if begun != 0 && !s.told {
			s.told = true
			reports = append(reports, Report{s.id, Begun, Samples(begun - 1)})
		}
		if over == 0 {
			kept = append(kept, s)
			continue
		}
		kind := Ended
		if s.cut.Load() {
			kind = WasCut
		}
		reports = append(reports, Report{s.id, kind, Samples(over - 1)})
	}
	clear(p.spoken[len(kept):])
	p.spoken = kept
	return reports
}

// Played fills out with the samples pulled since the last call, in order, as
// the loudspeaker got them: the echo canceller's reference. Where nothing was
// pulled yet it gives silence. When more than 200 ms have gathered it skips to
// the newest 20 ms.
func (p *Player) Played(out []int16) {
	if n := p.tape.len(); n > tapeSlack+len(out) {
		p.tape.skip(n - tapeKept - len(out))
	}
	clear(out[p.tape.read(out):])
}

// Pull implements [Feed].
func (p *Player) Pull(out []int16) {
	for {
		o, ok := p.orders.take()
		if !ok {
			break
		}
		p.audible.obey(o)
	}
	p.audible.mix(out, math.Float64frombits(p.volume.Load()))
	p.tape.write(out)
}
