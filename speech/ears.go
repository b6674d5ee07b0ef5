package speech

import (
	"math"
	"slices"
	"time"
)

// Heard is what the ears decided about one utterance.
type Heard struct {
	Label    string  // trained phrase, "" for speech that is no command
	From, To Samples // first sample of its speech, first after its last
	At       Samples // samples read when it was decided
	Score    float64 // 0..1
	Sure     bool    // at or above the act threshold; false: ask first
	Nearest  string  // the live phrase most like it, whatever its score; "" where none was weighed
}

// EarsConfig says how careful the ears are. Scores are chances from 0 to 1
// that the network gives a phrase.
type EarsConfig struct {
	Before    time.Duration // quiet that a command needs before it
	After     time.Duration // quiet that it needs after it; it is decided when this has passed
	NumberGap time.Duration // quiet between two spoken numbers, while numbers are live
	Longest   time.Duration // speech longer than this is no command; at most 2.4 s

	Act     float64  // from this score a phrase is obeyed in quiet
	Noisy   float64  // Act where noise is as loud as the speech; in less noise it lies between the two
	Ask     float64  // from this score it is worth asking; below it is other speech
	Doubt   float64  // by how much a score may fall short of being obeyed and still be asked about
	Careful float64  // Act for the phrases in Grave
	Rest    float64  // weight of the chance that it is none of them: below 1 makes the ears bolder
	Grave   []string // phrases that undo or end something

	TalkLasts time.Duration // steady talk for this long (the radio, a telephone) makes the ears harder to convince
	TalkOver  time.Duration // quiet that ends it
	TalkAct   float64       // Act while there is steady talk, and at least this for Grave
	TalkRise  float64       // dB that speech must stand above the talk

	OverVoice      float64       // from this score a phrase said over our own voice is obeyed; below it is not even asked about
	OverShort      time.Duration // a shorter one needs OverShortVoice: scraps of our own voice are short
	OverShortVoice float64
	OverClear      float64 // share of its sound, 0..1, that our own voice must not explain

	Margin float64 // dB that speech must stand above the noise floor
	Seed   uint64  // of the dither; not 0
}

// DefaultEarsConfig is what the thresholds were measured with: see
// speech/training/MODEL.md.
func DefaultEarsConfig() EarsConfig {
	return EarsConfig{
		Before:         300 * time.Millisecond,
		After:          170 * time.Millisecond,
		NumberGap:      120 * time.Millisecond,
		Longest:        2400 * time.Millisecond,
		Act:            0.35,
		Noisy:          0.65,
		Ask:            0.25,
		Doubt:          0.3,
		Careful:        0.75,
		Rest:           0.12,
		Grave:          []string{"finish job", "undo that", "leaving it for tonight", "other job"},
		TalkLasts:      10 * time.Second,
		TalkOver:       3 * time.Second,
		TalkAct:        0.93,
		TalkRise:       5,
		OverVoice:      0.85,
		OverShort:      350 * time.Millisecond,
		OverShortVoice: 0.95,
		OverClear:      0.4,
		Margin:         5,
		Seed:           1,
	}
}

// Ears turn sound into decisions: which phrase was spoken, alone and between
// pauses, by someone near. They are told what the loudspeaker plays and do not
// hear it. One goroutine uses them; Hear allocates nothing.
type Ears struct {
	cfg  EarsConfig
	k    *knowledge // in use: trained, or a tuning of it
	live []bool     // by class
	acts []float64
	nums bool // a number is live

	trained *knowledge
	tuning  *Tuning // nil for none

	echo    *canceller
	residue *residue
	near    listener
	own     listener // hears what is played, to know our own words
	mine    int      // steps of near before own began

	levels  meter
	gauge   gauge
	ends    *endpointer
	started bool
	zero    Samples // At of the first block
	read    Samples // samples read since zero
	active  bool    // the activity head, with hysteresis
	talk    talkWatch
	clean   [Frame]float32
	played  [Frame]float32
	heard   []Heard
}

// listener is a front end with the network behind it.
type listener struct {
	mel   *mel
	net   *netStream
	bands [melBands]float32
}

func (l *listener) hear(pcm []float32) (float32, bool) {
	l.mel.frame(pcm, l.bands[:])
	return l.net.hear(l.bands[:])
}

// hearOver is hear with what our own voice left taken out.
func (l *listener) hearOver(r *residue, pcm, guess []float32, playing bool) (float32, bool) {
	var sums [melBands]float64
	l.mel.energies(pcm, &sums)
	r.take(&sums, guess, playing)
	l.mel.levels(&sums, l.bands[:])
	return l.net.hear(l.bands[:])
}

// NewEars returns ears that obey every command and reason, and no number, until
// Live says otherwise.
func NewEars(cfg EarsConfig) (*Ears, error) {
	k, err := trained()
	if err != nil {
		return nil, err
	}
	e := &Ears{
		cfg: cfg, k: k, trained: k, live: make([]bool, len(k.classes)), acts: cfg.thresholds(k.classes),
		echo:    newCanceller(),
		residue: newResidue(),
		near:    listener{mel: newMel(cfg.Seed), net: newNetStream(k)},
		own:     listener{mel: newMel(cfg.Seed + 1), net: newNetStream(k)},
		ends:    newEndpointer(SamplesIn(cfg.Before), SamplesIn(cfg.After), SamplesIn(cfg.Longest)),
		gauge:   gauge{limits: DefaultReceptionLimits(), floor: silence},
		talk:    talkWatch{lasts: SamplesIn(cfg.TalkLasts), over: SamplesIn(cfg.TalkOver)},
	}
	var all []string
	for _, c := range k.classes[:k.labels] {
		if !k.isNumber(c) {
			all = append(all, c)
		}
	}
	e.Live(all)
	return e, nil
}

// thresholds are the scores from which the classes are obeyed.
func (c EarsConfig) thresholds(classes []string) []float64 {
	acts := make([]float64, len(classes))
	for i, class := range classes {
		acts[i] = c.Act
		if slices.Contains(c.Grave, class) {
			acts[i] = c.Careful
		}
	}
	return acts
}

// Labels are the phrases the ears were trained to know, in the order of
// training, and then the words of a tuning.
func (e *Ears) Labels() []string { return slices.Clone(e.k.classes[:e.k.labels]) }

// Live limits what may be obeyed to labels; any other phrase is speech that is
// no command. It holds for everything decided after it. Labels that were never
// trained are returned.
func (e *Ears) Live(labels []string) (unknown []string) {
	clear(e.live)
	e.nums = false
	for _, l := range labels {
		i := slices.Index(e.k.classes[:e.k.labels], l)
		if i < 0 {
			unknown = append(unknown, l)
			continue
		}
		e.live[i] = true
		e.nums = e.nums || e.k.isNumber(l)
	}
	return unknown
}

func (k *knowledge) isNumber(label string) bool { return slices.Contains(k.digits[1:], label) }

// Level is the noise floor and the level of the speech last heard, in dBFS
// (10 log10 of the mean square). Before any speech its level is -90.
func (e *Ears) Level() (floor, speech float64) { return e.levels.floor, e.levels.speech }

// Hear takes the next block, and the Frame samples that went to the
// loudspeaker during it (nil: none). Blocks follow each other. It returns what
// was decided with this block, valid until the next call: most often nothing.
//
// Speech that is too long for a command is told twice: as soon as it is too
// long, with To at the samples read, and when it ends.
func (e *Ears) Hear(b Block, played []int16) []Heard {
	e.heard = e.heard[:0]
	if !e.started {
		e.started, e.zero = true, b.At
	}
	e.echo.clean(e.clean[:], b.PCM, played)
	e.read += Frame
	e.gauge.hear(b)
	e.levels.take(e.clean[:])
	e.listenToSelf(played)
	activity, done := e.near.hearOver(e.residue, e.clean[:], e.echo.guess[:], e.echo.playing())
	if done {
		e.step(float64(activity))
	}
	return e.heard
}

// listenToSelf runs the recogniser over what is played, while it is.
func (e *Ears) listenToSelf(played []int16) {
	if !e.echo.playing() {
		e.mine = -1
		return
	}
	if e.mine < 0 && e.near.net.frame == 0 {
		e.mine = e.near.net.step
		e.own.mel.reset()
		e.own.net.reset()
	}
	if e.mine < 0 {
		return
	}
	for i := range e.played {
		e.played[i] = 0
		if i < len(played) {
			e.played[i] = float32(played[i]) / 32768
		}
	}
	e.own.hear(e.played[:])
}

// step judges the frames that the activity head has just made up its mind
// about.
func (e *Ears) step(activity float64) {
	const length = netStride * Frame
	at := e.read - Samples(e.k.delay)*Frame - Frame
	if at < 0 {
		return
	}
	level := e.levels.between(at, at+length)
	if e.active {
		e.active = activity >= 0.35
	} else {
		e.active = activity >= 0.5
	}
	busy := e.talk.step(at, e.active)
	edge := e.levels.floor + e.cfg.Margin
	if busy {
		edge = max(edge, e.levels.crowd+e.cfg.TalkRise)
	}
	if e.echo.playing() {
		edge += 5
	}
	floor := math.Pow(10, e.levels.floor/10)
	if e.ends.speaking { // weak sounds within a word
		edge -= 8
	}
	sounds := e.active || e.ends.speaking && activity >= 0.08 && level >= e.levels.floor+15
	speech := sounds && level >= edge && !e.explained(at, at+length, floor)
	e.levels.judge(level, speech, sounds)
	sound := e.levels.between(at+length, e.read) >= max(edge, e.levels.floor+0.5*(e.levels.speech-e.levels.floor)) && !e.explained(at+length, e.read, floor)
	var early Samples
	if e.nums {
		early = SamplesIn(e.cfg.NumberGap)
	}
	if u, found := e.ends.step(at, speech, sound, e.read, early); found {
		e.decide(u, busy)
		e.gaugeWord(u, busy)
	}
	e.gauge.step(e.levels.floor, length, e.echo.playing())
}

// explained reports whether the sound from sample from to to is no more than
// our own voice may have left, beside noise of the energy floor.
func (e *Ears) explained(from, to Samples, floor float64) bool {
	const free = 0.5
	return e.echo.explains(from-e.read, to-from, floor) && (e.echo.unsettled() || e.residue.share(int((e.read-from)/Frame), int((e.read-to)/Frame)) < free)
}

// talkWatch notices steady talk.
type talkWatch struct {
	lasts, over Samples
	share       float64 // of the time spoken lately, 0..1
	quiet       Samples
	busy        bool
}

// step takes whether the network heard talk, near or far, and reports whether
// there is steady talk.
func (t *talkWatch) step(_ Samples, talk bool) bool {
	const length = netStride * Frame
	v := 0.0
	if talk {
		v, t.quiet = 1, 0
	} else {
		t.quiet += length
	}
	// The share rises along an exponential that passes one half of steady
	// talk's usual share, 0.8, when it has lasted as long as lasts.
	t.share += (v - t.share) * float64(length) / (float64(t.lasts) / 0.98)
	switch {
	case t.quiet >= t.over:
		t.busy, t.share = false, 0
	case t.share >= 0.5:
		t.busy = true
	}
	return t.busy
}
