package narrator

import (
	"fmt"
	"slices"

	"stepcaller/procedures"
)

// Job is one procedure being worked on one vehicle, folded from its events. The fields are read by everyone and changed
// by events alone.
type Job struct {
	ID        string
	Procedure *procedures.Procedure
	Order     string // work-order number; "" when none was given
	Odometer  string // as read; "" when none was given
	Kind      string // one of [JobKinds], "" for the first
	Earlier   string // id of the job that a comeback comes back from
	Start     Moment
	End       Moment // zero while the job is open
	Step      int    // index of the current step
	Arrivals  []Arrival
	Spells    []Spell
	Crew      []Shift    // in order of joining
	Dictation *Dictation // nil where the job has a procedure
	Heard     Moment     // start of the last word heard; or when listening began again after a gap or a hold

	Decisions    []Decision    // in order
	Timers       []Timer       // of each name the last that was started
	Measurements []Measurement // in order
	Findings     []Finding     // by number
	Sighted      bool          // left and right were explained
	Stays        []Stay        // at which bays it was worked, in order; none where it never changed bay
	Return       int           // number of the step to go back to when what was approved late is done; 0 for none

	log       []Event
	corrected []Spell           // in the order written
	answers   []reply           // to cautions
	accounted []accounted       // what was said of open items, in order
	counted   int               // how many arrivals came before the tools were found complete; 0 when they were not
	facts     map[string]string // by key of Fields
	progress  map[place]*progress
	gone      bool   // it is not this bay's
	forced    bool   // it was taken away by force
	to        string // bay that it went to, "" for any
	boundary  int64  // act with which it last changed bay; 0 for never
	known     Moment // of the latest event
}

// Shift is the time for which a technician was on a job. To is zero while it lasts.
type Shift struct {
	Technician string
	From, To   Moment
}

// Call is a torque that was read out to be worked to.
type Call struct {
	Step         string // id
	Fastener     string
	Value        string // as written
	NewtonMetres float64
	At           Moment
	Act          int64
	Undone       bool
}

// Memo is a spoken note.
type Memo struct {
	File    string // relative to the data folder
	At      Moment // of its first sample
	Length  Span
	Finding int // its number, 0 where it belongs to none
	Undone  bool
	Part    Part // what it is about in a job without a procedure, with its Number; "" for none
	Number  int
}

// NewJob folds a job from its whole log. The log must begin with Opened and be in order of Seq; what is wrong with it
// otherwise is the error.
func NewJob(log []Event) (*Job, error) {
	if len(log) == 0 || log[0].Kind != Opened {
		return nil, fmt.Errorf("the log does not begin with %q", Opened)
	}
	first := log[0]
	p, mistakes := procedures.Load(first.Procedure, []byte(first.Text))
	if p == nil {
		return nil, fmt.Errorf("job %s: its procedure %q no longer loads: %v", first.Job, first.Procedure, mistakes)
	}
	return JobOf(p, log)
}

// JobOf is [NewJob] of a log whose procedure is loaded already. Jobs may share it.
func JobOf(p *procedures.Procedure, log []Event) (*Job, error) {
	if len(log) == 0 || log[0].Kind != Opened {
		return nil, fmt.Errorf("the log does not begin with %q", Opened)
	}
	j := &Job{ID: log[0].Job, Procedure: p}
	for i, e := range log {
		if e.Job != j.ID || e.Seq != int64(i+1) {
			return nil, fmt.Errorf("job %s: event %d stands where %d belongs", j.ID, e.Seq, i+1)
		}
	}
	j.log = slices.Clone(log)
	j.fold()
	return j, nil
}

// Log returns the job's events in order. The caller does not change them.
func (j *Job) Log() []Event { return j.log }

// Open reports whether the job is not finished.
func (j *Job) Open() bool { return j.End == 0 }

// Held returns the pause that lasts, or nil.
func (j *Job) Held() *Spell {
	for i := len(j.Spells) - 1; i >= 0; i-- {
		if s := &j.Spells[i]; s.What == Paused && s.To == 0 {
			return s
		}
	}
	return nil
}

// Present returns the technicians who are on the job now.
func (j *Job) Present() []string {
	var who []string
	for _, s := range j.Crew {
		if s.To == 0 {
			who = append(who, s.Technician)
		}
	}
	return who
}

// Last returns the moment of the latest event, by which nothing later can have happened earlier.
func (j *Job) Last() Moment {
	var m Moment
	for _, e := range j.log {
		m = later(m, e.At)
	}
	return m
}

// Calls lists every torque read out, those taken back included.
func (j *Job) Calls() []Call {
	var calls []Call
	undone := j.undone()
	for _, e := range j.log {
		if e.Kind == Called {
			calls = append(calls, Call{Step: e.Step, Fastener: e.Fastener, Value: e.Value, NewtonMetres: e.NewtonMetres,
				At: e.At, Act: e.Act, Undone: undone[e.Act]})
		}
	}
	return calls
}

// Memos lists every note, those taken back included: what was said is never lost.
func (j *Job) Memos() []Memo {
	var memos []Memo
	undone := j.undone()
	for _, e := range j.log {
		if e.Kind == Recorded {
			memos = append(memos, Memo{File: e.File, At: e.From, Length: e.Length, Finding: e.Finding, Undone: undone[e.Act],
				Part: Part(e.Part), Number: e.Number})
		}
	}
	return memos
}

// add appends an event that Seq says comes next.
func (j *Job) add(e Event) {
	j.log = append(j.log, e)
	if e.Kind == Undone {
		j.fold()
		return
	}
	j.apply(e)
}

// fold works everything out anew from the log, passing over what was undone. A word that was taken back was still heard.
func (j *Job) fold() {
	*j = Job{ID: j.ID, Procedure: j.Procedure, log: j.log}
	undone := j.undone()
	for _, e := range j.log {
		if e.Kind == Word || !undone[e.Act] {
			j.apply(e)
		}
	}
}

func (j *Job) undone() map[int64]bool {
	acts := map[int64]bool{}
	for _, e := range j.log {
		if e.Kind == Undone {
			acts[e.Ref] = true
		}
	}
	return acts
}

func (j *Job) apply(e Event) {
	defer func() { j.known = later(j.known, e.At) }()
	switch e.Kind {
	case Opened:
		j.Order, j.Odometer, j.Start, j.Heard = e.Order, e.Odometer, e.At, e.At
		j.Kind, j.Earlier = e.JobKind, e.Earlier
		if Part(e.Part) == PartJob {
			j.Dictation = &Dictation{}
		}
		if e.Technician != "" {
			j.Crew = append(j.Crew, Shift{Technician: e.Technician, From: e.At})
		}
	case Word:
		j.Heard = later(j.Heard, e.At)
	case Arrived:
		if i, ok := j.Procedure.Index(e.Step); ok {
			j.arrived(i, e)
		}
	case Held:
		j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: Paused, Reason: e.Reason, From: e.At})
	case Resumed:
		if held := j.Held(); held != nil {
			held.To = e.At
		}
		j.Heard = later(j.Heard, e.At)
	case Away:
		j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: Paused, Reason: e.Reason, From: e.From, To: e.At})
	case Unsure:
		j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: Unaccounted, From: e.From, To: e.At})
	case Settled:
		for i := range j.Spells {
			if s := &j.Spells[i]; s.Seq == e.Ref {
				s.Seq, s.What, s.Reason = e.Seq, Paused, e.Reason
				if e.Worked {
					s.What = Working
				}
			}
		}
	case Because:
		for i := range j.Spells {
			if s := &j.Spells[i]; s.Seq == e.Ref {
				s.Reason = e.Reason
			}
		}
	case Gap:
		j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: NotRunning, From: e.From, To: e.At})
		j.Heard = later(j.Heard, e.At)
	case Joined:
		j.Crew = append(j.Crew, Shift{Technician: e.Technician, From: e.At})
	case Left:
		for i := range j.Crew {
			if s := &j.Crew[i]; s.Technician == e.Technician && s.To == 0 {
				s.To = e.At
			}
		}
	case Decided:
		j.Decisions = append(j.Decisions, Decision{Choice: e.Choice, Yes: e.On, At: e.At, arrivals: len(j.Arrivals)})
		j.reopen()
	case Answered:
		j.answers = append(j.answers, reply{e.Caution, len(j.Arrivals)})
	case Sighted:
		j.Sighted = true
	case Tightened:
		j.tightened(e)
	case Renewed:
		j.renewed(e)
	case Timed:
		j.timed(e)
	case Rang:
		j.rang(e)
	case Measured:
		j.measured(e)
	case Found, Asked, Ruled:
		j.applyFinding(e)
	case PutRight:
		j.accounted = append(j.accounted, accounted{e.Item, e.State, e.Reason, len(j.Arrivals)})
	case Counted:
		j.counted = 0
		if e.On {
			j.counted = len(j.Arrivals)
		}
	case Entered:
		j.entered(e)
	case Corrected:
		j.corrected = append(j.corrected, correction(e).spell())
	case Dictated:
		if j.Dictation != nil {
			j.Dictation.dictate(e)
		}
	case Handed:
		j.handed(e)
	case TakenOver:
		j.takenOver(e)
	case Finished:
		j.End = e.At
		for i := range j.Spells {
			if s := &j.Spells[i]; s.To == 0 {
				s.To = e.At
			}
		}
		j.crewLeaves(e.At)
		if n := len(j.Stays); n > 0 && !j.gone {
			j.Stays[n-1].To = e.At
		}
	}
}

// arrived makes the step at an index the current one.
func (j *Job) arrived(step int, e Event) {
	switch {
	case e.Finding != 0:
		j.Return = max(j.Return, j.Step+1)
	case step+1 >= j.Return:
		j.Return = 0
	}
	j.Step = step
	j.beginAnew(step)
	j.Arrivals = append(j.Arrivals, Arrival{Step: step, At: e.At, Back: e.Back, Shut: j.Gate(step) != GateOpen, late: e.Finding != 0})
}

// patience is how many times its expected minutes a step may last without a word before its time is asked about.
const patience = 3

// silence reports whether nothing has been heard for so long that the time since must be asked about, and since when. Only
// minutes that the file gives for the step count: a share of the book is too rough to doubt anybody by. While a timer of the step
// runs nobody need speak.
func (j *Job) silence(now Moment) (from Moment, long bool) {
	if len(j.Arrivals) == 0 || j.Held() != nil || !j.Open() {
		return 0, false
	}
	from = later(later(j.Heard, j.Arrivals[len(j.Arrivals)-1].At), j.busyUntil())
	minutes, basis := j.Procedure.ExpectedMinutes(j.Step)
	return from, basis == procedures.FromFile && now.Since(from) > patience*Minutes(minutes)
}
