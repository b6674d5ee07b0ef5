package demoshop

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// work is one job being done.
type work struct {
	*hand
	plan
	draw   *rand.Rand
	id     string
	visit  int             // arrivals so far
	ends   narrator.Moment // when the current step will be done
	todo   []deed          // in the step, in order
	waits  float64         // minutes that the pause will last
	lunch  bool            // there was one
	helper int             // the step at which somebody joins in; 0 for none
	asked  narrator.Moment // when the customer was asked last
	why    string          // the job will stand still
	text   string          // of the next spoken note

	planned  int             // arrivals that were planned for
	measured narrator.Moment // when the ears told last how well they hear
	slips    []narrator.Correct
	remarks  []narrator.Annotate
}

// deed is something that is said or happens in the middle of a step.
type deed struct {
	at narrator.Moment
	do func()
}

// do does a job from its start to its end, or to the limit.
func (h *hand) do(p plan) error {
	h.write()
	w := &work{hand: h, plan: p, draw: rand.New(rand.NewPCG(h.config.Seed, p.seed)), id: h.id()}
	if w.draw.Float64() < 0.07 && p.technician != learner && len(p.procedure.Steps) > 12 {
		w.helper = 3 + w.draw.IntN(6)
	}
	w.lunch = h.clock().Hour() >= 12
	number := h.number()
	h.shop.Started++
	h.take(narrator.Start{At: h.now, Job: w.id, Procedure: "bundled/" + p.procedure.ID + ".yaml", Text: p.procedure.Text(), Order: number,
		Odometer: w.odometer(), Technician: technicians[p.technician], JobKind: p.kind, Earlier: p.earlier})
	w.enter("complaint", p.talk.complaint)
	w.measure()
	for turns := 0; h.fault == nil && !h.stopped && h.bay.Jobs[w.id].Open(); turns++ {
		if turns > 5000 {
			return fmt.Errorf("job %s of %s goes on for ever at step %d, asked %q", w.id, p.procedure.ID, h.bay.Jobs[w.id].Step+1, h.bay.Dialogue.Question.Text)
		}
		w.turn()
	}
	if h.fault != nil || h.stopped {
		return h.fault
	}
	h.now = h.now.Add(narrator.Minute)
	w.enter("cause", p.talk.cause)
	w.enter("correction", p.talk.correction)
	job := h.bay.Jobs[w.id]
	h.finished = append(h.finished, job)
	delete(h.bay.Jobs, w.id)
	w.thinkBack(job)
	return h.fault
}

func (w *work) enter(field, value string) {
	if value != "" {
		w.take(narrator.Enter{At: w.now, Job: w.id, Field: field, Value: value})
	}
}

func (w *work) odometer() string {
	if strings.Contains(w.procedure.Machine, "compressor") || strings.Contains(w.procedure.Machine, "generator") {
		return fmt.Sprintf("%d h", 400+w.draw.IntN(3000))
	}
	return fmt.Sprintf("%d km", 1000*(18+w.draw.IntN(190))+w.draw.IntN(1000))
}

// measure has the ears tell how well they hear.
func (w *work) measure() {
	floor := -58 + 14*w.draw.Float64()
	in := narrator.Reception{At: w.now, Verdict: narrator.HearsWell, Floor: math.Round(10*floor) / 10, Speech: -24, SNR: math.Round(10*(-24-floor)) / 10}
	if w.draw.Float64() < 0.04 {
		in.Verdict, in.Cause, in.Floor, in.SNR = narrator.HearsPoorly, narrator.CauseNoise, -31, 7
	}
	w.take(in)
}

// turn does the next thing.
func (w *work) turn() {
	job := w.bay.Jobs[w.id]
	if len(job.Arrivals) != w.visit {
		w.visit = len(job.Arrivals)
		w.begin(job)
	}
	_, walking := w.bay.Turn()
	switch q := w.bay.Dialogue.Question; {
	case w.bay.Dialogue.Recording:
		w.note(w.remark())
	case q.Kind != narrator.NoQuestion:
		w.answer(q)
	case job.Wants() != "":
		w.say(4+10*w.draw.Float64(), string(job.Wants()))
	case job.Held() != nil:
		w.pause(job)
	case walking:
		w.say(9+14*w.draw.Float64()*w.pace, "next")
	case len(w.todo) > 0:
		next := w.todo[0]
		w.todo = w.todo[1:]
		w.pass(next.at)
		if !w.stopped {
			next.do()
		}
	case w.asked != 0 && (w.now.Since(w.asked) > 12*narrator.Minute || job.Step == len(job.Procedure.Steps)-1) && slices.Contains(w.bay.Live(), "approval"):
		w.say(3, "approval")
	default:
		w.finishStep(job)
	}
}

// pause waits, and goes on.
func (w *work) pause(job *narrator.Job) {
	held := job.Held()
	if job.Procedure.Steps[job.Step].Drives && held.Reason == "road test" {
		w.pass(w.ends)
		w.say(1, "next")
		return
	}
	switch {
	case held.Reason == "end of shift":
		w.pass(w.morning(8 * w.draw.Float64()))
	case w.waits > 0:
		w.pass(w.now.Add(narrator.Minutes(w.waits)))
	default:
		w.pass(w.now.Add(narrator.Minutes(12 * spread(w.draw, 0.6))))
	}
	w.waits = 0
	if slices.Contains(w.bay.Live(), "approval") {
		w.say(1, "approval")
		return
	}
	lasted := w.now.Since(held.From)
	w.ends = w.ends.Add(lasted)
	for i := range w.todo {
		w.todo[i].at = w.todo[i].at.Add(lasted)
	}
	w.say(2, "carry on")
}

// finishStep waits for the step to be done, and goes to the next one, to lunch or home.
func (w *work) finishStep(job *narrator.Job) {
	w.pass(w.ends)
	if w.stopped {
		return
	}
	clock := w.clock()
	minute := 60*clock.Hour() + clock.Minute()
	switch left := len(job.Procedure.Steps) - job.Step; {
	case w.steady:
		w.next(job)
	case !w.lunch && minute >= 12*60 && minute < 13*60+30 && left > 3:
		w.lunch = true
		rest := 28 + 9*w.draw.Float64()
		if w.draw.Float64() < 0.2 { // forgotten to say; the next word comes after it
			w.forgot(rest)
			return
		}
		w.why, w.waits = "break", rest
		w.say(2, "hold the job")
	case minute >= 16*60+50 && left > 5:
		w.lunch = false
		w.say(2, "leaving it for tonight")
	default:
		w.next(job)
	}
}

// next says the step is done; behind the last one, that the job is.
func (w *work) next(job *narrator.Job) {
	step := job.Step
	w.say(0, "next")
	after := w.bay.Jobs[w.id]
	if w.stopped || w.bay.Dialogue.Question.Kind != narrator.NoQuestion || after.Step != step || len(after.Arrivals) != w.visit {
		return
	}
	if step == len(job.Procedure.Steps)-1 || w.isLast(after) {
		w.say(4, "finish job")
	}
}

// isLast reports whether no step that is to be done follows.
func (w *work) isLast(job *narrator.Job) bool {
	for i := job.Step + 1; i < len(job.Procedure.Steps); i++ {
		if job.Gate(i) != narrator.GateShut {
			return false
		}
	}
	return true
}

// answer answers a question.
func (w *work) answer(q narrator.Question) {
	yes := func(chance float64) string {
		if w.draw.Float64() < chance {
			return "yes"
		}
		return "no"
	}
	soon := 3 + 2*w.draw.Float64()
	switch q.Kind {
	case narrator.AskChoice:
		c, _ := w.procedure.Choice(q.Choice)
		chance := 0.6
		if c.Approval {
			chance = 0.17
		}
		w.say(8+12*w.draw.Float64(), yes(chance))
	case narrator.AskMeasure:
		w.say(12+18*w.draw.Float64(), w.figure(q))
		w.pass(w.now.Add(3 * narrator.Second))
	case narrator.AskNoteIt:
		w.say(soon, yes(0.75))
	case narrator.AskCustomer:
		w.say(soon, yes(0.85))
		w.asked = w.now
	case narrator.AskApproval:
		w.waits = 18 * spread(w.draw, 0.7)
		w.say(soon, yes(0.4))
	case narrator.AskRuling:
		w.say(soon, yes(0.68))
	case narrator.AskByWhom:
		w.say(soon, []string{"one", "one", "one", "two", "three"}[w.draw.IntN(5)])
	case narrator.AskReason:
		w.say(soon, w.reason())
	case narrator.AskWorked:
		if w.draw.Float64() < 0.15 { // nobody answers
			w.pass(w.now.Add(narrator.Minute))
			return
		}
		w.say(soon, "yes")
	case narrator.AskTools:
		w.say(15+20*w.draw.Float64(), "tools back")
	case narrator.AskWalk:
		w.say(soon, yes(0.7))
	case narrator.AskWhoJoins, narrator.AskWhoLeaves:
		w.say(soon, digits(strconv.Itoa(max(1, slices.Index(q.Choices, w.other(q))+1))))
	case narrator.AskSince:
		w.say(soon, "last word")
	default:
		w.say(soon, "yes")
	}
}

// other is who helps.
func (w *work) other(q narrator.Question) string {
	for _, name := range q.Choices {
		if name != technicians[w.technician] {
			return name
		}
	}
	return ""
}

// figure is a reading in words, mostly inside its limits.
func (w *work) figure(q narrator.Question) string {
	job := w.bay.Jobs[w.id]
	var of *procedures.Reading
	n := q.Slot
	for i := range job.Procedure.Steps[job.Step].Readings {
		r := &job.Procedure.Steps[job.Step].Readings[i]
		places := max(1, len(r.Positions))
		if n < places {
			of = r
			break
		}
		n -= places
	}
	if of == nil {
		return "no"
	}
	return digits(inLimits(w.draw, of))
}
