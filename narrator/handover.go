package narrator

import (
	"fmt"
	"strings"

	"stepcaller/procedures"
)

const (
	replyHandOver     = "Hand this job over? It stops here, and any bay may take it on."
	replyHandedOver   = "That job is handed over."
	replyKept         = "It stays here."
	replyRoundFirst   = "Go round to the end first, or say stop."
	replyInShop       = "In the shop: hand it over, all sent."
	replyNoShop       = "No shop is joined here."
	replyEverythingUp = "Everything is sent."
)

// HandOver gives an open job of this bay to another, as it was typed. Its Check finds nothing wrong with it.
type HandOver struct {
	At  Moment
	Job string // id in the bay
	To  string // bay, "" for any
}

func (HandOver) input() {}

// Check says what is wrong with it, and what to do; nil for nothing. The job must be in the bay.
func (in HandOver) Check(b *Bay) error {
	j, err := b.own(in.Job)
	switch {
	case err != nil:
		return err
	case !j.Open():
		return fmt.Errorf("job %s is finished; there is nothing to hand over", in.Job)
	}
	return nil
}

// askHandOver says what the next one must know, and asks. What is under way is brought to an end first.
func (d *decision) askHandOver(h Heard) {
	j := d.job()
	if !d.next.Sending.Joined {
		d.reply(replyNoShop)
		return
	}
	if _, walking := d.next.Walk.turn(j); walking {
		d.reply(replyRoundFirst)
		return
	}
	if timers := d.words.allTimers(j, h.From); len(timers) > 0 {
		d.say(d.words.F("A timer is running: %s. Hand the job over when it is up.", strings.Join(timers, "; ")))
		return
	}
	texts := append(d.words.openToHand(j), d.words.F(replyHandOver))
	d.ask(Question{Kind: AskHandOver, Word: h}, strings.Join(texts, " "))
}

// allTimers names what has not run out by a moment, the waits of cautions among it.
func (w wording) allTimers(j *Job, at Moment) []string {
	var names []string
	for _, t := range j.Timers {
		if t.End() > at {
			names = append(names, t.Name+", "+w.length(t.End().Since(at)))
		}
	}
	return names
}

// openToHand names what may hurt when nobody knows of it: what is loose or left inside, and a tightening left in the middle. The rest is counted.
func (w wording) openToHand(j *Job) []string {
	if j.Dictation != nil {
		return []string{w.numbersOff(j.Dictation.Off())}
	}
	var texts []string
	if left := w.walkLeft(j); left != "" {
		texts = append(texts, left)
	}
	var named []procedures.Item
	counted := 0
	for _, it := range j.Left() {
		switch it.Kind.State {
		case "finger-tight", "loose", "stuffed", "plugged":
			named = append(named, it)
		default:
			counted++
		}
	}
	if len(named) > 0 {
		texts = append(texts, w.left(named))
	}
	switch {
	case counted > 0 && len(named) > 0:
		texts = append(texts, w.N(counted, "%d more thing is off or open.", "%d more things are off or open."))
	case counted > 0:
		texts = append(texts, w.N(counted, "%d thing is off or open.", "%d things are off or open."))
	}
	return texts
}

func (d *decision) handOverAnswered(q Question, yes bool) {
	j := d.look(q.Job)
	switch {
	case j == nil || !j.Here():
	case !yes:
		d.reply(replyKept)
	default:
		d.giveAway(j, q.Word.From, Detail{})
		d.say(d.words.given(d.look(q.Job), ""))
		d.othersOpen()
	}
}

// handOver carries out what was typed. It is not asked about again.
func (d *decision) handOver(in HandOver) {
	if in.Check(d.bay) != nil {
		return
	}
	d.giveAway(d.look(in.Job), in.At, Detail{To: in.To})
	d.say(d.words.given(d.look(in.Job), in.To))
	d.othersOpen()
}

// giveAway ends this bay's time with a job. It cannot be taken back by a word: another bay may have it already.
func (d *decision) giveAway(j *Job, at Moment, how Detail) {
	if d.active == j.ID {
		d.next.Walk = Walk{}
	}
	d.doubtSilence(j, at)
	d.record(j.ID, at, Handed, how)
	work := d.active
	if work == j.ID {
		work = ""
	}
	d.record("", at, Switched, Detail{Work: work, On: true})
	d.next.Last, d.next.LastAct = Heard{}, 0
}

// othersOpen names how many jobs are left to go on with, where nobody is at one.
func (d *decision) othersOpen() {
	if n := len(d.others()); n > 0 && d.active == "" {
		d.say(d.words.othersOpen(n))
	}
}

func (w wording) given(j *Job, to string) string {
	switch {
	case j.Dictation != nil && to == "":
		return w.F("Handed over. Any bay may take it on.")
	case to == "":
		return w.F("Handed over at step %d. Any bay may take it on.", j.Step+1)
	}
	return w.F("Handed over to bay %s.", to)
}

// Lost says that another bay took a job of this one by force, with the shop's consent. What was done here since then stays as a story of
// its own.
type Lost struct {
	At   Moment
	Job  string // id in the bay
	By   string // bay
	Took Moment // when
}

func (Lost) input() {}

// lost ends this bay's time with a job that it no longer has.
func (d *decision) lost(in Lost) {
	j := d.look(in.Job)
	if j == nil || j.gone {
		return
	}
	if d.active == in.Job {
		d.drop()
	}
	here := d.active == in.Job
	d.out.Cut = here
	d.giveAway(j, in.At, Detail{To: in.By, On: true})
	text := d.words.F("Bay %s took this job over at %s. What was done here since is kept beside it.", in.By, d.words.clock(in.Took))
	if !here {
		text = bare(j.Procedure.Title) + ": " + text
	}
	d.say(text)
	d.othersOpen()
}
