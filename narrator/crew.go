package narrator

import "slices"

func (d *decision) askWhoJoins(h Heard) {
	var free []string
	present := d.job().Present()
	for _, t := range d.bay.Settings.Technicians {
		if !slices.Contains(present, t) {
			free = append(free, t)
		}
	}
	switch len(free) {
	case 0:
		d.reply(replyNobodyJoins)
	case 1:
		d.join(h, free[0])
	default:
		d.ask(Question{Kind: AskWhoJoins, Word: h, Choices: free}, d.words.who(free))
	}
}

func (d *decision) join(h Heard, who string) {
	d.record(d.active, h.From, Joined, Detail{Technician: who})
	d.changed(h)
	d.say(d.words.joined(who))
}

func (d *decision) askWhoLeaves(h Heard) {
	present := d.job().Present()
	if len(present) < 2 {
		if d.job().Held() != nil {
			d.say(d.words.alreadyHeld(d.job().Held().Reason))
			return
		}
		d.ask(Question{Kind: AskAlone, Word: h}, d.words.F(replyAlone))
		return
	}
	d.ask(Question{Kind: AskWhoLeaves, Word: h, Choices: present}, d.words.who(present))
}

func (d *decision) leave(h Heard, who string) {
	d.record(d.active, h.From, Left, Detail{Technician: who})
	d.changed(h)
	d.say(d.words.leaves(who))
}
