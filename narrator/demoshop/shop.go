// Package demoshop invents a small shop and some months of its jobs, so that there is something to look at before the first real one.
//
// It is pure: the events are those that the narrator decides on, word by word, as an invented technician speaks them. Figures drawn from it
// say nothing about any trade; no test of the statistics may use it.
package demoshop

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// OrderPrefix begins every work-order number of an invented job.
const OrderPrefix = "DEMO-"

// Config says what to invent.
type Config struct {
	// Until is the end of the data, in the shop's zone: a job is under way then. The same seed gives the same shop for every Until,
	// but for dates and for the nights and weekends that a pause lasts over.
	Until  time.Time
	Months int // how far back it goes
	Jobs   int // about how many
	Seed   uint64
	// Speak makes the sound of a spoken note, mono at [narrator.Rate]; a hum takes its place where it is nil or fails.
	Speak func(text string) ([]int16, error)
}

// DefaultConfig is the shop that the program invents.
func DefaultConfig(until time.Time) Config {
	return Config{Until: until, Months: 8, Jobs: 300, Seed: 1}
}

// Shop is what was invented.
type Shop struct {
	Events  []narrator.Event // of the bay and of its jobs, in the order in which they came about
	Memos   []Memo           // in the order spoken
	Started int              // jobs
}

// Memo is the sound of a spoken note.
type Memo struct {
	Job  string // id
	File string // as its event names it, relative to the data folder
	PCM  []int16
}

// technicians of the invented shop. The last one learns the trade.
var technicians = [...]string{"Ines", "Marek", "Tove", "Jory"}

const learner = len(technicians) - 1

// Settings are those of the invented shop.
func Settings() narrator.Settings {
	s := narrator.DefaultSettings()
	s.Technicians = slices.Clone(technicians[:])
	for _, text := range []procedures.WrenchText{
		{Name: "the small one", Span: "5 to 25 N·m", Step: "0.1 N·m"},
		{Name: "the long one", Span: "20 to 200 N·m", Step: "1 N·m"},
	} {
		if w, err := procedures.NewWrench(text); err == nil {
			s.Wrenches = append(s.Wrenches, w)
		}
	}
	return s
}

// Invent makes up a shop.
func Invent(c Config) (*Shop, error) {
	if c.Months < 1 || c.Jobs < 1 || c.Until.IsZero() {
		return nil, fmt.Errorf("invent a shop: %d months and %d jobs until %v; give at least 1 of each, and a date", c.Months, c.Jobs, c.Until)
	}
	h := newHand(c)
	days := workdays(c.Until, c.Months)
	draw := rand.New(rand.NewPCG(c.Seed, 0))
	a := newAgenda(draw)
	mean := float64(c.Jobs) / float64(len(days))
	for i, day := range days {
		wanted := int(mean + 2*draw.Float64() - 0.5)
		if i == len(days)/3 || i == 2*len(days)/3 {
			h.crash = true
		}
		for ; wanted > 0; wanted-- {
			p := a.next(h.finished) // drawn whether or not it is done, so that one long job changes nothing after it
			if h.clock().Before(day) {
				h.now = narrator.MomentOf(day.Add(time.Duration(2+draw.IntN(20)) * time.Minute))
			}
			if h.clock().After(day.Add(7*time.Hour + 30*time.Minute)) {
				continue
			}
			if err := h.do(p); err != nil {
				return nil, err
			}
			h.now = h.now.Add(narrator.Minutes(4 + 30*draw.Float64()))
		}
		if i == len(days)-12 {
			if err := h.spoken(h.number(), a.technician(false)); err != nil {
				return nil, err
			}
		}
	}
	return h.shop, h.present(days, a)
}

// present does some short jobs on the last day, and leaves one job held and one under way as the data ends.
func (h *hand) present(days []time.Time, a *agenda) error {
	end := narrator.MomentOf(h.config.Until)
	last := end.Add(-3 * narrator.Hour) // begin of the job that will be held
	if morning := narrator.MomentOf(days[len(days)-1].AddDate(0, 0, 1)); morning < last {
		morning = max(morning, end.Add(-8*narrator.Hour)) // whenever the data end, a day's work is before it
		h.now = max(h.now.Add(10*narrator.Minute), morning)
	}
	for i, id := range []string{"oil-service", "spark-plugs", "thermostat", "oil-service"} {
		p := a.of(id, i%learner)
		p.steady = true
		var expected float64
		for step := range p.procedure.Steps {
			minutes, _ := p.procedure.ExpectedMinutes(step)
			expected += minutes
		}
		if h.now.Add(narrator.Minutes(2*expected)) > last {
			continue
		}
		if err := h.do(p); err != nil {
			return err
		}
		h.now = h.now.Add(12 * narrator.Minute)
	}
	h.now = min(h.now, last)
	h.limit = h.now.Add(95 * narrator.Minute)
	held := a.of("clutch", 1)
	held.steady = true
	if err := h.do(held); err != nil {
		return err
	}
	h.limit = 0
	h.holdFor("parts")
	h.now = end.Add(-52 * narrator.Minute)
	h.limit = end
	now := a.of("front-brakes", 0)
	now.steady = true
	return h.do(now)
}

// workdays lists the mornings from some months ago to yesterday, Saturdays and Sundays left out.
func workdays(until time.Time, months int) []time.Time {
	var days []time.Time
	morning := func(back int) time.Time {
		return time.Date(until.Year(), until.Month(), until.Day()-back, 8, 0, 0, 0, until.Location())
	}
	for back := 1; len(days) < months*21; back++ { // 21 work days a month, whatever the month
		if day := morning(back); day.Weekday() != time.Saturday && day.Weekday() != time.Sunday {
			days = append(days, day)
		}
	}
	slices.Reverse(days)
	return days
}

// number is that of the next work order.
func (h *hand) number() string {
	return fmt.Sprintf("%s%04d", OrderPrefix, 1001+h.shop.Started)
}

// id is what the journal would call the next job.
func (h *hand) id() string {
	day := h.clock().Format(time.DateOnly) + "-"
	n := 1
	for _, j := range h.finished {
		if strings.HasPrefix(j.ID, day) {
			n++
		}
	}
	for id := range h.bay.Jobs {
		if strings.HasPrefix(id, day) && !slices.ContainsFunc(h.finished, func(j *narrator.Job) bool { return j.ID == id }) {
			n++
		}
	}
	return fmt.Sprint(day, n)
}
