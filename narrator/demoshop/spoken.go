package demoshop

import (
	"fmt"
	"math/rand/v2"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// spoken is a job without a procedure, told while it is done.
func (h *hand) spoken(number string, who int) error {
	text := procedures.Draft{Title: "Heater tap", Machine: "Hethering Skua 1.4", Steps: []procedures.DraftStep{
		{Step: procedures.Step{Say: "Say new step, and what it is."}},
	}}.YAML()
	draw := rand.New(rand.NewPCG(h.config.Seed, 1<<40))
	id := h.id()
	h.shop.Started++
	h.take(narrator.Start{At: h.now, Job: id, Procedure: "dictated", Text: string(text), Order: number, Odometer: "88 412 km",
		Technician: technicians[who], Dictate: true})
	tell := func(minutes float64, word, note string, figures ...string) {
		h.say(60*minutes*spread(draw, 0.2), word)
		if h.bay.Dialogue.Recording {
			h.note(note)
		}
		for _, f := range figures {
			h.say(3, f)
		}
		h.pass(h.now.Add(4 * narrator.Second))
	}
	tell(0.3, "new step", "Drain the coolant into a pan.")
	tell(6, "new step", "Two clamps and the hose off the heater tap.")
	tell(3, "comes off", "The clamp by the bulkhead.")
	tell(2, "comes off", "The old tap.")
	tell(5, "new step", "Fit the new tap, tighten it to eight.")
	tell(4, "torque", "", "eight")
	tell(1, "goes on", "", "two")
	tell(3, "goes on", "")
	tell(2, "new step", "Fill up, bleed, look for leaks.")
	tell(9, "finish job", "", "yes")
	job := h.bay.Jobs[id]
	if job == nil || job.Open() {
		return fmt.Errorf("the spoken job %s does not end: %q", id, h.bay.Dialogue.Question.Text)
	}
	h.now = h.now.Add(10 * narrator.Minute)
	h.finished = append(h.finished, job)
	delete(h.bay.Jobs, id)
	return h.fault
}
