package speech

// endpointer finds utterances: stretches of speech between pauses. It knows
// nothing of words. Its times are sample positions of the source.
type endpointer struct {
	before, after Samples // quiet that a command needs on either side
	longest       Samples // speech longer than this is no command

	speaking bool
	told     bool    // that this speech is too long to be a command
	offered  bool    // as a number, ahead of its time
	alone    bool    // quiet lay before it
	from     Samples // first sample of the speech at hand
	last     Samples // first sample after its last
	previous Samples // the same of the speech before; far in the past at first
}

// shortest is the speech that counts; less is a click.
const shortest = 4 * Frame

// grace is how long a sound that the network has not judged yet may put off
// the end of an utterance.
const grace = 10 * Frame

// utterance is what the endpointer found.
type utterance struct {
	from, to Samples
	alone    bool // quiet before it, and not too long
	over     bool // false: it goes on, and is already too long to be a command
	early    bool // its end is not settled: only a number may be read from it yet
}

func newEndpointer(before, after, longest Samples) *endpointer {
	return &endpointer{before: before, after: after, longest: longest, previous: -1 << 40}
}

// step takes one step of the network: whether the netStride frames that begin
// at sample at were speech, whether there is sound after them that is not yet
// judged, and the samples read so far. early is the pause after which a number
// is worth reading, 0 for never.
func (e *endpointer) step(at Samples, speech, sound bool, now, early Samples) (u utterance, found bool) {
	if speech {
		if !e.speaking {
			gap := e.before
			if early > 0 {
				gap = min(gap, early)
			}
			e.speaking, e.told, e.from = true, false, at
			e.alone = at-e.previous >= gap
		}
		e.last = at + netStride*Frame
		e.offered = false
		if !e.told && now-e.from > e.longest {
			e.told = true
			return utterance{from: e.from, to: now}, true
		}
		return utterance{}, false
	}
	if !e.speaking {
		return utterance{}, false
	}
	pause := now - e.last
	if pause < e.after || sound && pause < e.after+grace {
		if early > 0 && pause >= early && !sound && !e.offered && !e.told && e.last-e.from >= shortest {
			e.offered = true
			return utterance{from: e.from, to: e.last, alone: e.alone, over: true, early: true}, true
		}
		return utterance{}, false
	}
	e.speaking = false
	if e.last-e.from < shortest {
		return utterance{}, false
	}
	e.previous = e.last
	return utterance{from: e.from, to: e.last, alone: e.alone && !e.told && e.last-e.from <= e.longest, over: true}, true
}

// settle ends the utterance at hand: it was read early.
func (e *endpointer) settle() {
	e.speaking = false
	e.previous = e.last
}
