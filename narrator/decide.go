package narrator

import (
	"slices"

	"stepcaller/procedures"
)

// Decide works out what an input means for a bay. It changes nothing: carry the outcome out and then [Bay.Apply] it.
func Decide(b *Bay, in Input) Outcome {
	d := &decision{bay: b, jobs: map[string]*Job{}, active: b.Active, acts: b.acts, next: b.Dialogue,
		words: wording{b.Settings.Tongue, b.Settings}}
	switch in := in.(type) {
	case Heard:
		d.now, d.heard = in.At, in
		d.hear(in)
	case Spoken:
		d.next.Question.spoken(in, b.Settings.AnswerTime)
		d.next.Ended = max(d.next.Ended, in.Sentence)
	case Reception:
		d.now = in.At
		d.receive(in)
	case Enter:
		d.now = in.At
		d.write(in)
	case Correct:
		d.now = in.At
		d.write(in)
	case Annotate:
		d.now = in.At
		d.write(in)
	case Withdraw:
		d.now = in.At
		d.write(in)
	case Tick:
		d.now = in.At
		d.tick()
	case Start:
		d.now = in.At
		d.drop()
		d.start(in)
	case TakeUp:
		d.now = in.At
		d.drop()
		d.takeUp(in)
	case Woke:
		d.now = in.At
		d.woke(in)
	case NoteEnded:
		d.now = in.At
		d.noteEnded(in)
	case Sending:
		d.next.Sending = in
	case Offered:
		d.next.Offers = in.Offers
	case HandOver:
		d.now = in.At
		d.drop()
		d.handOver(in)
	case Claim:
		d.now = in.At
		d.drop()
		d.claim(in)
	case Claimed:
		d.now = in.At
		d.claimed(in)
	case Lost:
		d.now = in.At
		d.lost(in)
	case NoteFound:
		d.now = in.At
		if j := d.look(in.Job); j != nil {
			part, number := j.saidAt(in.From)
			d.record(in.Job, in.At, Recorded, Detail{File: in.File, From: in.From, Length: in.Length, Finding: j.foundAt(in.From),
				Part: string(part), Number: number})
		}
	}
	d.out.dialogue = d.next
	return d.out
}

// Dialogue is the conversation in progress. It is not journalled: after a restart the technician just says the word again.
type Dialogue struct {
	Sentences int64 // ids given out so far
	Question  Question
	Walk      Walk
	Recording bool    // a spoken note is being taken
	Finding   int     // number of the finding that the note is about; 0 for none
	Said      Said    // what the note is about in a job without a procedure; the zero Said for a note of its own
	Last      Heard   // the last word that changed something
	LastAct   int64   // the act that it led to; 0 when it changed nothing or was taken back
	Prior     Moment  // the last word heard before the question's word
	Sending   Sending // how much is still to be sent
	Offers    []Offer // jobs of other bays that may be taken over
	Ended     int64   // the last sentence that has ended or was cut

	goodSince Moment    // words have been heard well since; zero when they are not
	warned    []warning // said about a bad reception; a decision replaces it and changes nothing in it
}

// decision gathers one outcome. Jobs that it touches are copied first, so that replies can be worded from the state after
// the events while the bay stays as it was.
type decision struct {
	bay     *Bay
	words   wording
	now     Moment
	heard   Heard // the word being dealt with
	jobs    map[string]*Job
	active  string
	acts    int64
	act     int64 // of the word being dealt with; 0 until it has an event
	silent  int64 // Seq of the event that made the silence before the word unsure; 0 for none
	bayN    int64 // bay events added
	next    Dialogue
	dropped Question // let go unanswered because of the word being dealt with
	out     Outcome
}

// job returns the active job as it will be after the events so far, or nil.
func (d *decision) job() *Job { return d.look(d.active) }

func (d *decision) look(id string) *Job {
	if j := d.jobs[id]; j != nil {
		return j
	}
	return d.bay.Jobs[id]
}

// record adds an event of the current act to a job, or to the bay for "".
func (d *decision) record(job string, at Moment, kind Kind, detail Detail) Event {
	if d.act == 0 {
		d.acts++
		d.act = d.acts
	}
	e := Event{Job: job, Act: d.act, At: at, Noted: later(d.now, at), Kind: kind, Detail: detail}
	if job == "" {
		d.bayN++
		e.Seq = int64(len(d.bay.log)) + d.bayN
		if kind == Switched {
			d.active = detail.Work
		}
	} else {
		if d.jobs[job] == nil {
			d.jobs[job] = d.bay.Jobs[job].clone()
		}
		j := d.jobs[job]
		e.Seq = int64(len(j.log)) + 1
		j.add(e)
	}
	d.out.Events = append(d.out.Events, e)
	return e
}

func (j *Job) clone() *Job {
	c := *j
	c.log = slices.Clone(j.log)
	c.fold()
	return &c
}

// say queues a sentence and returns its id.
func (d *decision) say(text string) int64 {
	if text == "" {
		return 0
	}
	d.next.Sentences++
	d.out.Sentences = append(d.out.Sentences, Sentence{ID: d.next.Sentences, Text: text})
	return d.next.Sentences
}

// reply says a text of the language: the English one, and what fills it.
func (d *decision) reply(english string, args ...any) int64 {
	return d.say(d.words.F(english, args...))
}

func (d *decision) sayAll(texts []string) {
	for _, t := range texts {
		d.say(t)
	}
}

// hear deals with a word, number, reason or talk.
func (d *decision) hear(h Heard) {
	b := d.bay
	switch {
	case !b.Listening:
		if h.Word == string(procedures.StartListening) && h.Sure {
			d.take(h)
			d.record("", h.From, Listening, Detail{On: true})
			d.reply(replyListening)
		}
		return
	case d.next.Recording:
		if h.Word == string(procedures.EndNote) {
			d.take(h)
			d.out.EndNote = h.From
		}
		return
	case h.Word == "":
		d.talk(h)
		return
	}
	q := d.next.Question
	if q.Kind != NoQuestion && !q.open(h.From) {
		d.drop()
		q = d.next.Question
	}
	if q.takes(h.Word, b.Settings) {
		d.take(h)
		d.answer(q, h)
		return
	}
	if !b.counts(h.Word) {
		return
	}
	if q.Kind != NoQuestion && h.Sure && besides(procedures.Command(h.Word)) {
		d.take(h)
		if h.Word != string(procedures.Repeat) {
			d.obey(h)
		}
		d.ask(q, q.Text)
		return
	}
	d.drop()
	d.take(h)
	if !h.Sure && !harmless(procedures.Command(h.Word)) {
		d.confirm(h)
		return
	}
	d.obey(h)
}

// harmless are the words that are obeyed even when they are unsure.
func harmless(c procedures.Command) bool {
	return c == procedures.Stop || c == procedures.Help || c == procedures.Yes
}

// besides are the words that leave a question open: it is asked again behind their answer.
func besides(c procedures.Command) bool {
	switch c {
	case procedures.Repeat, procedures.WhatCanISay, procedures.Louder, procedures.Quieter, procedures.SpeakSlower, procedures.SpeakFaster,
		procedures.HowLongLeft, procedures.WhereAmI, procedures.WhatsLeft, procedures.AskTools, procedures.AskParts, procedures.AskCaution, procedures.AllSent:
		return true
	}
	return false
}

// drop lets a pending question go unanswered because of what comes now, as an act of its own: taking back what comes now
// does not take back that.
func (d *decision) drop() {
	if d.next.Question.Kind != NoQuestion {
		d.dropped = d.next.Question
		d.lapse()
		d.act = 0
	}
}

// take notes that a word counts: it cuts speech, sounds the tone, and is written down in the active job.
func (d *decision) take(h Heard) {
	d.out.Took, d.out.Cut, d.out.Tone = true, true, Taken
	if j := d.job(); j != nil && j.Open() {
		d.next.Prior = j.Heard
		d.silent = d.doubtSilence(j, h.From)
		d.record(j.ID, h.From, Word, Detail{Word: h.Word, Score: h.Score})
	}
	d.next.Last, d.next.LastAct = Heard{}, 0
}

// talk deals with speech that is no command. Close behind a word that changed something it makes that word doubtful: the change is taken back and
// the word asked about.
func (d *decision) talk(h Heard) {
	last, act := d.next.Last, d.next.LastAct
	if act == 0 || h.From < last.To || h.From.Since(last.To) >= d.bay.Settings.Regret {
		return
	}
	d.heard = last
	d.out.Cut = true
	d.takeBack(act)
	d.confirm(last)
}

// tick announces timers, lets a question lapse, or closes a spoken number.
func (d *decision) tick() {
	d.ring()
	q := d.next.Question
	if due := q.due(); due == 0 || d.now < due {
		return
	}
	if q.Digits != "" {
		d.closeNumber(q)
		return
	}
	d.lapse()
}

func (d *decision) start(in Start) {
	before := d.job()
	d.open(in)
	if d.look(in.Job) == nil {
		return
	}
	d.leaveJob(before, in.At)
	d.record("", in.At, Switched, Detail{Work: in.Job})
	d.record(in.Job, in.At, Arrived, Detail{Step: d.job().Procedure.Steps[0].ID})
	if j := d.job(); j.Dictation != nil {
		d.sayAll(d.words.dictateOpened(j))
		return
	}
	d.say(d.words.opened(d.job()))
	if plain := d.job().plainCautions(); len(plain) > 0 {
		d.say(d.words.cautions(plain))
	}
	d.tell(in.At, 0)
}

// open records the job's first event: there is no job yet to copy.
func (d *decision) open(in Start) {
	d.acts++
	d.act = d.acts
	e := Event{Job: in.Job, Seq: 1, Act: d.act, At: in.At, Noted: in.At, Kind: Opened, Detail: Detail{Procedure: in.Procedure,
		Text: in.Text, Order: in.Order, Odometer: in.Odometer, Technician: in.Technician, JobKind: in.JobKind, Earlier: in.Earlier}}
	if in.Dictate {
		e.Part = string(PartJob)
	}
	j, err := NewJob([]Event{e})
	if err != nil {
		d.say(err.Error())
		return
	}
	d.jobs[in.Job] = j
	d.out.opened = j.Procedure
	d.out.Events = append(d.out.Events, e)
}

func (d *decision) takeUp(in TakeUp) {
	j := d.look(in.Job)
	if j != nil && j.gone {
		d.say(d.words.elsewhere(j))
	}
	if j == nil || !j.Here() {
		return
	}
	if d.active != in.Job {
		d.switchTo(j, in.At)
	}
	d.sayAll(d.words.back(d.job(), in.At))
	d.walkOn()
}

func (d *decision) woke(in Woke) {
	for _, id := range sortedJobs(d.bay.Jobs) {
		j := d.bay.Jobs[id]
		from := later(in.Alive, j.Last())
		if j.Open() && j.Held() == nil && in.At > from {
			d.doubtSilence(j, from)
			d.record(id, in.At, Gap, Detail{From: from})
		}
	}
	d.act = 0
	d.ring()
	if j := d.job(); j != nil && j.Open() && !in.Quiet && !j.driving() {
		d.sayAll(d.words.back(j, in.At))
		d.walkOn()
	}
}

func sortedJobs(jobs map[string]*Job) []string {
	var ids []string
	for id := range jobs {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

func (d *decision) noteEnded(in NoteEnded) {
	finding, said := d.next.Finding, d.next.Said
	d.next.Recording, d.next.Finding, d.next.Said = false, 0, Said{}
	if j := d.job(); finding != 0 && j != nil && j.Open() && j.finding(finding) != nil {
		if in.Fault == "" && in.Length > 0 {
			d.record(j.ID, in.At, Recorded, Detail{File: in.File, From: in.From, Length: in.Length, Finding: finding})
			d.next.Last, d.next.LastAct = Heard{}, 0
		}
		d.askCustomer(Question{}, finding, d.words.findingNoted(finding, in.Length, in.Fault))
		return
	}
	switch {
	case said.Part != "":
		d.saidNote(said, in)
	case in.Fault != "":
		d.say(d.words.noteFault(in.Fault))
	case in.Length == 0 || d.job() == nil:
		d.reply(replyNoNote)
	default:
		d.record(d.active, in.At, Recorded, Detail{File: in.File, From: in.From, Length: in.Length})
		d.next.Last, d.next.LastAct = Heard{}, 0
		d.say(d.words.noted(in.Length))
	}
}
