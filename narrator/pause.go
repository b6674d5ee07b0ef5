package narrator

// Reasons that a pause is given without asking.
const (
	reasonHelp     = "help"
	reasonOtherJob = "other job"
	reasonNight    = "end of shift"
	reasonRoadTest = "road test"
	reasonHandover = "handover"
)

// hold stops the job's clock at the word.
func (d *decision) hold(h Heard, reason string) Event {
	e := d.record(d.active, h.From, Held, Detail{Reason: reason})
	d.changed(h)
	return e
}

func (d *decision) holdAndAsk(h Heard) {
	e := d.hold(h, "")
	d.ask(Question{Kind: AskReason, Word: h, Ref: e.Seq}, d.words.F(replyWhyHeld))
}

// because takes the reason of a pause that has begun, or that was told.
func (d *decision) because(q Question, reason string) {
	if d.look(q.Job) == nil {
		return
	}
	d.record(q.Job, q.Word.From, Because, Detail{Ref: q.Ref, Reason: reason})
	d.changed(q.Word)
	held := d.look(q.Job).Held()
	switch {
	case held == nil || held.Seq != q.Ref:
		d.say(d.words.notedReason(reason))
	case reason == reasonOtherJob && len(d.others()) > 0:
		d.otherJob(q.Word)
	case reason == reasonNight:
		d.sayAll(d.words.night(d.look(q.Job)))
	default:
		d.say(d.words.held(reason))
	}
}

func (d *decision) carryOn(h Heard) {
	j := d.job()
	held := j.Held()
	if held == nil {
		d.reply(replyNotHeld)
		d.sayAll(d.words.step(j))
		return
	}
	night := held.Reason == reasonNight
	lasted := h.From.Since(held.From)
	d.record(j.ID, h.From, Resumed, Detail{})
	d.changed(h)
	d.say(d.words.carryingOn(held.Reason, lasted))
	switch {
	case night && j.Dictation != nil:
		d.say(d.words.numbersOff(j.Dictation.Off()))
	case night:
		d.say(d.words.left(d.job().Left()))
	}
	d.sayAll(d.words.step(d.job()))
	d.walkOn()
}

// tonight closes the shift: the job stands still, and what is open is read so that the bay can be left safely.
func (d *decision) tonight(h Heard) {
	j := d.job()
	if j.Held() != nil {
		d.record(j.ID, h.From, Resumed, Detail{})
	}
	d.hold(h, reasonNight)
	d.sayAll(d.words.night(d.job()))
}

// askSince begins to take a pause that is told afterwards.
func (d *decision) askSince(h Heard) {
	j := d.job()
	if held := j.Held(); held != nil {
		d.say(d.words.alreadyHeld(held.Reason))
		return
	}
	d.ask(Question{Kind: AskSince, Word: h, Prior: d.next.Prior}, d.words.F(replySince))
}

// away records that nobody worked from a moment to the word that told so.
func (d *decision) away(q Question, from Moment) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	e := d.record(j.ID, q.Word.From, Away, Detail{From: min(later(from, j.Start), q.Word.From)})
	d.changed(q.Word)
	d.ask(Question{Kind: AskReason, Word: q.Word, Ref: e.Seq}, d.words.whyAway(q.Word.From.Since(e.From)))
}

// doubtSilence makes the time before a moment unsure when it was too long without a word. It is an act of its own: taking the
// word back does not vouch for the silence.
//
// It returns the Seq of the event, 0 for none.
func (d *decision) doubtSilence(j *Job, until Moment) int64 {
	from, long := j.silence(until)
	if !long {
		return 0
	}
	act := d.act
	d.act = 0
	e := d.record(j.ID, until, Unsure, Detail{From: from})
	d.act = act
	return e.Seq
}

// askWorked asks about the silence before a word that has been obeyed already.
func (d *decision) askWorked(h Heard) {
	j := d.job()
	for _, s := range j.Spells {
		if s.Seq == d.silent {
			d.ask(Question{Kind: AskWorked, Word: h, Ref: s.Seq}, d.words.worked(j, s))
		}
	}
}

func (d *decision) settle(q Question, worked bool) {
	if d.look(q.Job) == nil {
		return
	}
	e := d.record(q.Job, q.Word.From, Settled, Detail{Ref: q.Ref, Worked: worked})
	d.changed(q.Word)
	if worked {
		d.reply(replyCounted)
		return
	}
	d.ask(Question{Kind: AskReason, Word: q.Word, Ref: e.Seq}, d.words.F(replyWhyNotWorked))
}
