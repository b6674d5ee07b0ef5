package demoshop

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
)

// hand speaks to the bay as the technician who stands in it, and lets time pass.
type hand struct {
	config   Config
	shop     *Shop
	bay      *narrator.Bay
	now      narrator.Moment
	limit    narrator.Moment // nothing happens after it; zero for no limit
	stopped  bool            // the limit is reached
	finished []*narrator.Job // in order
	notes    map[string]int  // spoken so far, by job
	later    []narrator.Typed
	crash    bool // the program will be down for a while in the next job
	heard    narrator.Moment
	fault    error
}

func newHand(c Config) *hand {
	return &hand{config: c, shop: &Shop{}, bay: narrator.NewBay(Settings()), notes: map[string]int{}}
}

// clock is the time of the day in the shop.
func (h *hand) clock() time.Time { return h.now.Time().In(h.config.Until.Location()) }

// take has the narrator decide, and ends every sentence a moment later.
func (h *hand) take(in narrator.Input) {
	if h.fault != nil || h.stopped {
		return
	}
	o := narrator.Decide(h.bay, in)
	if h.fault = h.bay.Apply(o); h.fault != nil {
		return
	}
	h.shop.Events = append(h.shop.Events, o.Events...)
	for _, s := range o.Sentences {
		if h.fault = h.bay.Apply(narrator.Decide(h.bay, narrator.Spoken{Sentence: s.ID, At: h.now.Add(2 * narrator.Second)})); h.fault != nil {
			return
		}
	}
}

// pass lets time go by, and what falls due in it fall due. Nothing happens past the limit.
func (h *hand) pass(to narrator.Moment) {
	for due := h.bay.Due(); due != 0 && due < to && h.fault == nil && !h.past(due); due = h.bay.Due() {
		h.now = max(h.now, due)
		h.take(narrator.Tick{At: h.now})
		if h.bay.Due() == due {
			h.fault = fmt.Errorf("at %v: what is due stays due", due.Time())
		}
	}
	if !h.past(to) {
		h.now = max(h.now, to)
	}
}

// past reports whether a moment is past the limit, and stops there.
func (h *hand) past(m narrator.Moment) bool {
	if h.limit != 0 && m.Add(2*narrator.Second) > h.limit {
		h.now, h.stopped = h.limit, true
	}
	return h.stopped
}

// say speaks a word after some seconds.
func (h *hand) say(after float64, word string) {
	h.pass(h.now.Add(narrator.Span(after * float64(narrator.Second))))
	if h.stopped {
		return
	}
	h.take(narrator.Heard{Word: word, From: h.now, To: h.now.Add(narrator.Second / 2), At: h.now.Add(3 * narrator.Second / 4), Score: 0.93, Sure: true})
	h.now = h.now.Add(narrator.Second)
	h.heard = h.now
}

// morning is when work goes on after a night.
func (h *hand) morning(minutes float64) narrator.Moment {
	c := h.clock()
	for day := 1; ; day++ {
		next := time.Date(c.Year(), c.Month(), c.Day()+day, 8, 0, 0, 0, c.Location())
		if next.Weekday() != time.Saturday && next.Weekday() != time.Sunday {
			return narrator.MomentOf(next).Add(narrator.Minutes(minutes))
		}
	}
}

// note speaks a note that was begun, or says nothing into it.
func (h *hand) note(text string) {
	begun := h.now.Add(narrator.Second / 2)
	if text == "" {
		h.pass(begun.Add(8 * narrator.Second))
		h.take(narrator.NoteEnded{At: h.now, From: begun})
		return
	}
	pcm := h.voice(text)
	h.pass(begun.Add(narrator.Span(len(pcm)) + 3*narrator.Second))
	if h.stopped {
		return
	}
	job := h.bay.Active
	h.notes[job]++
	memo := Memo{Job: job, File: fmt.Sprintf("memos/%s-%d.wav", job, h.notes[job]), PCM: pcm}
	h.shop.Memos = append(h.shop.Memos, memo)
	h.take(narrator.NoteEnded{At: h.now, From: begun, Length: narrator.Span(len(pcm)), File: memo.File})
}

// voice makes the sound of a note: spoken, or a hum that rises and falls as speech does.
func (h *hand) voice(text string) []int16 {
	if h.config.Speak != nil {
		if pcm, err := h.config.Speak(text); err == nil && len(pcm) > 0 {
			return pcm
		}
	}
	words := len(strings.Fields(text))
	pcm := make([]int16, words*narrator.Rate/3)
	for i := range pcm {
		t := float64(i) / narrator.Rate
		swell := math.Pow(math.Sin(math.Pi*3*t), 2)
		pcm[i] = int16(4000 * swell * (math.Sin(2*math.Pi*140*t) + 0.5*math.Sin(2*math.Pi*420*t) + 0.2*math.Sin(2*math.Pi*1260*t)))
	}
	return pcm
}

// write puts what was typed in the evening before into the record.
func (h *hand) write() {
	for _, in := range h.later {
		i := slices.IndexFunc(h.finished, func(j *narrator.Job) bool { return j.ID == in.About() })
		if i < 0 {
			continue
		}
		job := h.finished[i]
		h.bay.Jobs[job.ID] = job
		switch in := in.(type) {
		case narrator.Correct:
			in.At = h.now
			h.take(in)
		case narrator.Annotate:
			in.At = h.now
			h.take(in)
		}
		delete(h.bay.Jobs, job.ID)
	}
	h.later = nil
}

// holdFor holds the job that is under way.
func (h *hand) holdFor(reason string) {
	h.stopped = false
	if q := h.bay.Dialogue.Question; q.Kind != narrator.NoQuestion {
		h.pass(h.now.Add(2 * narrator.Minute)) // nobody answers it
	}
	h.say(2, "hold the job")
	h.say(3, reason)
}

// spread is a factor about 1, log-normal as times of work are.
func spread(r *rand.Rand, sigma float64) float64 { return math.Exp(sigma * r.NormFloat64()) }
