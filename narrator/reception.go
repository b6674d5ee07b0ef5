package narrator

import "slices"

// Verdict says whether what the microphone gives will do.
type Verdict string

// The verdicts. The names are stored.
const (
	NotYetHeard Verdict = ""
	HearsWell   Verdict = "good"
	HearsPoorly Verdict = "poor" // words will be missed before long
	IsDeaf      Verdict = "deaf" // many words are missed, or all
)

// The causes of a verdict that is not good. The names are stored.
const (
	CauseNoise   = "noise"   // the noise is too near the speech
	CauseWeak    = "weak"    // the speech hardly reaches the microphone
	CauseClipped = "clipped" // the speech drives the microphone out of its range
	CauseSilent  = "silent"  // the microphone gives no sound
)

// Reception says how well the ears hear. It comes when the verdict changes, and every few seconds, so that what could not
// be said or noted can be made up for. It does not come while somebody speaks.
type Reception struct {
	At      Moment
	Verdict Verdict
	Cause   string  // "" when all is well
	Floor   float64 // of the noise, dBFS
	Speech  float64 // of what was said last, dBFS; 0 when nothing was
	SNR     float64 // dB; 0 without Speech
	Clipped float64 // share of the speech that is out of the microphone's range, 0..1
}

func (Reception) input() {}

// A warning is not repeated sooner than warnAgain, unless hearing was good for recovered in between. While nothing changes, a
// reception is noted every noteReception, and once a step.
const (
	warnAgain     = 10 * 60 * Second
	recovered     = 60 * Second
	noteReception = 10 * 60 * Second
)

// warning is what was said about a bad reception.
type warning struct {
	text string
	at   Moment
	over bool // the reception was another since
}

// receive notes how well the ears hear, while a job is worked on, and warns.
func (d *decision) receive(in Reception) {
	if in.Verdict != HearsWell {
		d.next.goodSince = 0
	} else if d.next.goodSince == 0 {
		d.next.goodSince = in.At
	}
	text := d.words.reception(in.Verdict, in.Cause)
	var warned []warning
	for _, w := range d.next.warned {
		w.over = w.over || w.text != text
		if d.next.goodSince == 0 || in.At.Since(d.next.goodSince) < recovered {
			warned = append(warned, w)
		}
	}
	d.next.warned = warned
	j := d.job()
	if j == nil || !j.Open() || j.Held() != nil {
		return
	}
	if j.wantsReception(in) {
		d.record(j.ID, in.At, Hearing, Detail{Verdict: in.Verdict, Cause: in.Cause, Floor: in.Floor, Speech: in.Speech, SNR: in.SNR,
			Clipped: in.Clipped})
	}
	if text == "" || !d.bay.Listening || d.next.Recording || d.next.Question.Kind != NoQuestion || d.next.Ended < d.next.Sentences {
		return
	}
	if slices.ContainsFunc(warned, func(w warning) bool { return w.text == text && (!w.over || in.At.Since(w.at) < warnAgain) }) {
		return
	}
	d.next.warned = append(slices.DeleteFunc(warned, func(w warning) bool { return w.text == text }), warning{text: text, at: in.At})
	d.say(text)
}

// reception warns of a bad reception; "" when it will do.
func (w wording) reception(v Verdict, cause string) string {
	switch {
	case v != HearsPoorly && v != IsDeaf:
		return ""
	case cause == CauseClipped:
		return w.F(replyClipped)
	case cause == CauseSilent:
		return w.F(replyNoSound)
	}
	return w.F(replyHardToHear)
}

// wantsReception reports whether a reception is worth noting: it differs from the one noted last, or a step was finished or
// a long time passed since.
func (j *Job) wantsReception(in Reception) bool {
	arrived := 0
	for i := len(j.log) - 1; i >= 0; i-- {
		switch e := j.log[i]; e.Kind {
		case Arrived:
			arrived++
		case Hearing:
			return e.Verdict != in.Verdict || e.Cause != in.Cause || arrived > 0 || in.At.Since(e.At) >= noteReception
		}
	}
	return in.Verdict != NotYetHeard || arrived > 1 || in.At.Since(j.Start) >= noteReception
}

// Receptions lists how well the ears heard in the job, in order.
func (j *Job) Receptions() []Reception {
	var all []Reception
	for _, e := range j.log {
		if e.Kind == Hearing {
			all = append(all, Reception{At: e.At, Verdict: e.Verdict, Cause: e.Cause, Floor: e.Floor, Speech: e.Speech, SNR: e.SNR,
				Clipped: e.Clipped})
		}
	}
	return all
}
