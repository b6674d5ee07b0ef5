package narrator

import "strings"

// Offer is a job of another bay that may be taken over.
type Offer struct {
	Job     string // id in the bay that takes it
	Bay     string // that gave it
	Title   string // of its procedure
	Machine string // "" for none
	Order   string // work-order number, "" for none
	Step    int    // number of the step at which it stands, 0 for one without a procedure
}

// Offered says which jobs may be taken over, the latest first, in place of those before.
type Offered struct{ Offers []Offer }

// Claim asks for a job of another bay, as it was typed.
type Claim struct {
	At    Moment
	Job   string // id in the bay
	Force bool   // take it from whoever has it
}

// Claimed says that the shop has given a job to this bay, or has not.
type Claimed struct {
	At         Moment
	Job        string  // id in this bay
	Log        []Event // all of it, by the names of this bay
	Bay        string  // that had it
	Here       string  // this bay
	Technician string  // who goes on with it, "" where nobody says
	Fault      ClaimFault
	Cause      string // of a [ClaimFailed]
}

// ClaimFault says why a job is not this bay's; "" when it is.
type ClaimFault string

// The faults.
const (
	ShopUnreachable ClaimFault = "unreachable"
	TakenByOther    ClaimFault = "taken"  // another bay was faster
	OtherStory      ClaimFault = "story"  // this bay has a story of its own of that job
	ClaimFailed     ClaimFault = "failed" // for another cause
)

func (Offered) input() {}
func (Claim) input()   {}
func (Claimed) input() {}

const (
	replyTakeIt       = "Take it?"
	replyFetching     = "Fetching it."
	replyLeftThere    = "It stays where it is."
	replyShopFar      = "The shop cannot be reached. The job stays where it is."
	replyTakenByOther = "Another bay has it by now."
	replyOtherStory   = "This bay has a story of its own of that job. Let another bay take it on."
)

// name is how the job is called.
func (o Offer) name() string {
	if o.Machine == "" {
		return bare(o.Title)
	}
	return o.Machine + ", " + bare(o.Title)
}

// offers lists the jobs on offer but those of which this bay keeps a story of its own.
func (d *decision) offers() []Offer {
	var open []Offer
	for _, o := range d.next.Offers {
		if j := d.look(o.Job); j == nil || j.gone && !j.forced {
			open = append(open, o)
		}
	}
	return open
}

func (d *decision) offer(job string) (Offer, bool) {
	for _, o := range d.offers() {
		if o.Job == job {
			return o, true
		}
	}
	return Offer{}, false
}

func (d *decision) askTakeIt(h Heard, o Offer) {
	name := o.name()
	if o.Order != "" {
		name += ", " + d.words.F("order %s", o.Order)
	}
	text := d.words.F("Job %s, from bay %s.", name, o.Bay)
	if o.Step > 0 {
		text = d.words.F("Job %s, from bay %s, step %d.", name, o.Bay, o.Step)
	}
	d.ask(Question{Kind: AskTakeIt, Word: h, Choices: []string{o.Job}}, text+" "+d.words.F(replyTakeIt))
}

func (d *decision) takeIt(q Question, yes bool) {
	if !yes {
		d.reply(replyLeftThere)
		return
	}
	d.claim(Claim{Job: q.Choices[0]})
}

// claim asks the shop for a job. It is this bay's only once that answers.
func (d *decision) claim(in Claim) {
	if j := d.look(in.Job); j != nil && !j.gone {
		return
	}
	d.out.Claim, d.out.Force = in.Job, in.Force
	d.reply(replyFetching)
}

// claimed takes a job up where another bay left it: its log is this bay's from now on, and work goes on with the words that tell where it stands.
func (d *decision) claimed(in Claimed) {
	if in.Fault != "" {
		d.say(d.words.notClaimed(in.Fault, in.Cause))
		return
	}
	if old := d.look(in.Job); old != nil && !old.gone {
		return
	}
	j, err := NewJob(in.Log)
	switch {
	case err != nil:
		d.say(d.words.notClaimed(ClaimFailed, err.Error()))
		return
	case !j.Open() || j.ID != in.Job || !d.goesOnFrom(j):
		d.say(d.words.notClaimed(OtherStory, ""))
		return
	}
	forced := !j.gone
	for _, e := range in.Log {
		d.acts = max(d.acts, e.Act)
	}
	had := 0
	if old := d.look(in.Job); old != nil {
		had = len(old.log)
	} else {
		d.out.opened = j.Procedure
	}
	d.out.Events = append(d.out.Events, in.Log[had:]...)
	d.jobs[in.Job] = j
	d.leaveJob(d.job(), in.At)
	at := later(in.At, j.Last())
	d.record(in.Job, at, TakenOver, Detail{Bay: in.Bay, To: in.Here, Technician: in.Technician, On: forced})
	d.record("", in.At, Switched, Detail{Work: in.Job, On: true})
	d.next.Walk, d.next.Last, d.next.LastAct = Walk{}, Heard{}, 0
	d.tellAll(at)
}

// goesOnFrom reports whether a log begins with what this bay has of the job.
func (d *decision) goesOnFrom(j *Job) bool {
	old := d.look(j.ID)
	if old == nil {
		return true
	}
	if old.forced || len(old.log) > len(j.log) {
		return false
	}
	for i, e := range old.log {
		if other := j.log[i]; e.Act != other.Act || e.At != other.At || e.Kind != other.Kind {
			return false
		}
	}
	return true
}

// tellAll says to one who takes a job over where it stands, what is off, what to mind, and the step.
func (d *decision) tellAll(at Moment) {
	j := d.job()
	d.say(bare(j.Procedure.Title) + ". " + d.words.where(j, at))
	if j.Dictation == nil {
		d.say(d.words.left(j.Left()))
		if plain := j.plainCautions(); len(plain) > 0 {
			d.say(d.words.cautions(plain))
		}
	} else {
		d.say(d.words.numbersOff(j.Dictation.Off()))
	}
	if !d.askCaution(at) {
		d.sayAll(d.words.step(j))
		d.walkOn()
	}
}

func (w wording) notClaimed(f ClaimFault, cause string) string {
	switch f {
	case ShopUnreachable:
		return w.F(replyShopFar)
	case TakenByOther:
		return w.F(replyTakenByOther)
	case OtherStory:
		return w.F(replyOtherStory)
	}
	return w.F("The job could not be fetched: %s.", strings.TrimSuffix(cause, "."))
}
