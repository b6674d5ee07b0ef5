package demoshop

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// begin plans the step that has just been come to: how long it takes, and what happens in it.
func (w *work) begin(job *narrator.Job) {
	if n := len(job.Arrivals); n < w.planned {
		w.planned, w.ends, w.todo = n, w.now.Add(narrator.Minute/2), nil // a step taken back
		return
	}
	w.planned = len(job.Arrivals)
	step, begun := &job.Procedure.Steps[job.Step], w.now
	minutes := max(0.25, w.minutes(job))
	back := job.Arrivals[len(job.Arrivals)-1].Back
	if back {
		minutes = 0.3 + 0.2*minutes
	}
	w.todo = nil
	at := func(share float64, do func()) {
		w.todo = append(w.todo, deed{begun.Add(narrator.Minutes(share * minutes)), do})
	}
	if !back && !step.Drives && !w.steady {
		minutes *= w.incident(step, minutes, at)
		w.asides(at)
	}
	if len(step.Torque) > 0 && w.draw.Float64() < 0.9 {
		at(0.4, func() { w.say(0, "torque") })
	}
	if w.helper > 0 && w.helper == job.Step && !back {
		at(0.2, func() { w.say(0, "joining in") })
	}
	if w.helper > 0 && job.Step >= w.helper+4 && len(job.Present()) > 1 {
		at(0.1, func() { w.say(0, "stepping out") })
	}
	w.ends = begun.Add(narrator.Minutes(minutes))
	for _, t := range job.Timers {
		left := t.End().Since(begun)
		switch {
		case !slices.Contains(step.Await, t.Name) || left < 0 || w.draw.Float64() > 0.92:
		case left > 12*narrator.Minute && !w.steady: // time enough to help elsewhere
			at(0.1, func() {
				w.why, w.waits = "helping", left.Seconds()/60
				w.say(0, "hold the job")
			})
		default:
			w.ends = max(w.ends, t.End().Add(narrator.Span(20*w.draw.Float64()*float64(narrator.Second))))
		}
	}
	slices.SortStableFunc(w.todo, func(a, b deed) int { return cmp.Compare(a.at, b.at) })
	if w.now.Since(w.measured) > 12*narrator.Minute {
		w.measured = w.now
		w.measure()
	}
}

// minutes is how long the current step takes this technician this time: the file's minutes, off by what the file has wrong, times the
// technician's practice, the job's difficulty and chance.
func (w *work) minutes(job *narrator.Job) float64 {
	expected, _ := job.Procedure.ExpectedMinutes(job.Step)
	sum := fnv.New64a()
	fmt.Fprint(sum, job.Procedure.ID, job.Step)
	wrong := spread(rand.New(rand.NewPCG(w.config.Seed, sum.Sum64())), 0.2)
	practice := [...]float64{0.94, 1.0, 1.06, 1.0}[w.technician]
	if w.technician == learner {
		practice = max(0.97, 1.85*math.Pow(float64(w.run), math.Log2(0.86)))
	}
	if len(job.Present()) > 1 {
		practice *= 0.66
	}
	return expected * wrong * practice * w.pace * spread(w.draw, 0.24)
}

// incident has something come between now and then, and returns by what the step's time grows.
func (w *work) incident(step *procedures.Step, minutes float64, at func(share float64, do func())) float64 {
	stand := func(reason string, minutes float64) {
		at(0.6, func() {
			w.why, w.waits = reason, minutes
			w.say(0, "hold the job")
		})
	}
	roll := w.draw.Float64()
	rusted := (len(step.Off) > 0 || len(step.Loosen) > 0) && minutes > 1
	switch {
	case roll < 0.034 && !rusted:
	case roll < 0.030:
		w.tell(at, "The bolt is rusted in. Heat and penetrating oil, then it came.", "rusted bolt: heat and penetrating oil")
		return 2.2 + 2.6*w.draw.Float64()
	case roll < 0.034:
		w.tell(at, "A bolt is sheared off. Drilled it out and cut a new thread.", "bolt sheared off, drilled out")
		return 4 + 3*w.draw.Float64()
	case roll < 0.042:
		stand("parts", 26*spread(w.draw, 0.8))
	case roll < 0.050:
		stand("phone", 5*spread(w.draw, 0.5))
	case roll < 0.056:
		stand("customer", 8*spread(w.draw, 0.5))
	case roll < 0.060:
		stand("helping", 14*spread(w.draw, 0.5))
	case roll < 0.064:
		stand("lift busy", 12*spread(w.draw, 0.5))
	case roll < 0.067:
		stand("tool busy", 7*spread(w.draw, 0.5))
	case roll < 0.073: // called away, told afterwards
		away := narrator.Minutes(9 * spread(w.draw, 0.5))
		at(0.5, func() {
			w.pass(w.now.Add(away))
			w.ends = w.ends.Add(away)
			w.why = "customer"
			w.say(0, "i was away")
		})
	case roll < 0.079:
		at(0.7, func() {
			w.text = pick(w.draw, besides)
			w.say(0, "also found")
		})
	case roll < 0.083: // called away for long, and nobody said so
		away := narrator.Minutes(3.2 * minutes)
		at(0.5, func() {
			w.pass(w.now.Add(away))
			w.ends = w.ends.Add(away)
		})
	case roll < 0.096 && minutes > 2: // it took long by itself
		happening := pick(w.draw, struggles)
		w.tell(at, happening.said, happening.written)
		return 2.2 + w.draw.Float64()
	}
	return 1
}

// tell keeps the reason of a long step: in a spoken note while there are any left, in a written remark, or, one time in six, not at all.
func (w *work) tell(at func(share float64, do func()), said, written string) {
	switch roll := w.draw.IntN(6); {
	case roll < 2 && len(w.shop.Memos) < mostMemos:
		at(0.9, func() {
			w.text = said
			w.say(0, "take a note")
		})
	case roll < 5:
		w.remarks = append(w.remarks, narrator.Annotate{Job: w.id, Technician: technicians[w.technician],
			Step: w.bay.Jobs[w.id].Procedure.Steps[w.bay.Jobs[w.id].Step].ID, Text: written})
	}
}

// asides are the words said in passing, and what goes wrong with the program rather than the work.
func (w *work) asides(at func(share float64, do func())) {
	switch roll := w.draw.Float64(); {
	case roll < 0.04:
		at(0.3, func() { w.say(0, "repeat") })
	case roll < 0.055:
		at(0.5, func() { w.say(0, "where am i") })
	case roll < 0.062:
		at(0.05, func() { w.say(0, "undo that") })
	case roll < 0.070:
		at(0.3, func() { w.say(0, "previous step") })
	}
	if w.crash && w.visit > 4 {
		w.crash = false
		at(0.5, func() {
			alive := w.now
			w.now = w.now.Add(narrator.Minutes(6 + 8*w.draw.Float64()))
			w.take(narrator.Woke{At: w.now, Alive: alive})
		})
	}
}

// remark is what is said into a note that was begun. Only so many are kept.
func (w *work) remark() string {
	text := w.text
	w.text = ""
	if len(w.shop.Memos) >= mostMemos {
		return ""
	}
	return text
}

const mostMemos = 20

// forgot passes a rest that nobody tells of.
func (w *work) forgot(minutes float64) {
	from := w.now
	w.pass(w.now.Add(narrator.Minutes(minutes)))
	w.ends = w.now
	if w.draw.Float64() < 0.85 {
		w.slips = append(w.slips, narrator.Correct{Job: w.id, Technician: technicians[w.technician], From: from.Add(narrator.Second), To: w.now,
			What: narrator.Paused, Reason: "break", Why: pick(w.draw, []string{"forgot to say the break", "lunch, not said", "went to eat and said nothing"})})
	}
}

// thinkBack is what is written down the next morning.
func (w *work) thinkBack(job *narrator.Job) {
	for _, in := range w.slips {
		w.later = append(w.later, in)
	}
	for _, in := range w.remarks {
		w.later = append(w.later, in)
	}
	for _, s := range job.Timeline(job.End) {
		if s.What == narrator.Unaccounted && w.draw.Float64() < 0.5 {
			w.later = append(w.later, narrator.Correct{Job: job.ID, Technician: technicians[w.technician], From: s.From, To: s.To, What: narrator.Working,
				Why: "worked through, heard nothing of the question"})
			break
		}
	}
	if w.draw.Float64() < 0.03 {
		w.later = append(w.later, narrator.Annotate{Job: job.ID, Technician: technicians[w.technician], Text: pick(w.draw, afterwards)})
	}
}

// reason is why the job stands still.
func (w *work) reason() string {
	why := cmp.Or(w.why, "break")
	w.why = ""
	return why
}

func pick[T any](r *rand.Rand, from []T) T { return from[r.IntN(len(from))] }

// inLimits is a figure for a reading, mostly inside its limits, to as many places as these have.
func inLimits(draw *rand.Rand, r *procedures.Reading) string {
	places, value := int32(1), 10*draw.Float64()
	for _, limit := range []*decimal.Decimal{r.Min, r.Max} {
		if limit != nil {
			places = max(0, -limit.Exponent())
		}
	}
	out := draw.Float64() < 0.05
	switch {
	case r.Min != nil && r.Max != nil:
		low, high := r.Min.InexactFloat64(), r.Max.InexactFloat64()
		value = low + (high-low)*min(1, max(0, 0.5+0.2*draw.NormFloat64()))
		if out {
			value = low - 0.3*(high-low)
		}
	case r.Min != nil:
		low := r.Min.InexactFloat64()
		value = low * (1 + 0.9*draw.Float64())
		if out {
			value = low * (0.4 + 0.5*draw.Float64())
		}
		places = max(1, places)
	case r.Max != nil:
		high := r.Max.InexactFloat64()
		value = high * (0.3 + 0.65*draw.Float64())
		if out {
			value = high * 1.2
		}
	}
	return decimal.NewFromFloat(value).Round(places).String()
}

// digits says a decimal number digit by digit.
func digits(figure string) string {
	names := map[rune]string{'.': "point", '-': "minus", '0': "zero", '1': "one", '2': "two", '3': "three", '4': "four", '5': "five", '6': "six",
		'7': "seven", '8': "eight", '9': "nine"}
	var words []string
	for _, r := range figure {
		words = append(words, names[r])
	}
	return strings.Join(words, " ")
}
