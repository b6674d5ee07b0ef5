package narrator

// Kind names what an event records. The names are stored; they are never changed, only added to.
type Kind string

// What can happen to a job. The comment lists the details that the event carries.
const (
	Opened    Kind = "opened"     // Procedure, Text, Order, Odometer, Technician, JobKind, Earlier, Part (job where there is no procedure)
	Word      Kind = "word"       // Word, Score: a word that was obeyed or asked about
	Arrived   Kind = "arrived"    // Step, Back, Finding (whose approval opened the step, 0 for none): the step that is current from At on
	Held      Kind = "held"       // Reason ("" until told): work stands still from At on
	Resumed   Kind = "resumed"    // work goes on from At
	Away      Kind = "away"       // From, Reason: told afterwards, nobody worked from From to At
	Unsure    Kind = "unsure"     // From: nobody can say whether From to At was worked
	Settled   Kind = "settled"    // Ref (the Unsure event), Worked, Reason: what the unsure time was
	Because   Kind = "because"    // Ref (a Held, Away or Settled event), Reason: told after the pause began
	Gap       Kind = "gap"        // From: the daemon did not run from From to At
	Called    Kind = "called"     // Step, Fastener, Value, NewtonMetres: a torque was read out for use
	Recorded  Kind = "recorded"   // File, From, Length, Finding, or Part and Number (zero for neither): a memo that is safely on disk
	Joined    Kind = "joined"     // Technician
	Left      Kind = "left"       // Technician
	Undone    Kind = "undone"     // Ref (an act), Technician (who withdraws what was written): everything of that act counts as never done
	Finished  Kind = "finished"   // the job ends at At
	Decided   Kind = "decided"    // Choice, On: what the vehicle or its owner said to a choice of the procedure
	Answered  Kind = "answered"   // Step, Caution, Word: a caution was answered by the thing itself
	Sighted   Kind = "sighted"    // left and right, front and rear were explained; once a job
	Tightened Kind = "tightened"  // Step, Fastener, Number, Stage, Value, NewtonMetres, Wrench: one fastener at one stage
	Renewed   Kind = "renewed"    // Step, Fastener, On: whether the new bolts are in
	Timed     Kind = "timed"      // Step, Timer, Caution ("" but for the wait of a caution), Length: a timer runs from At
	Rang      Kind = "rang"       // Timer, Ref (the Timed event): its end was announced
	Measured  Kind = "measured"   // Step, Reading, Position, When, Amount, Unit, Judged: a reading
	Found     Kind = "found"      // Finding, Step, Choice or Reading and Position where it comes from one: something else is worn
	Asked     Kind = "asked"      // Finding: the customer was asked
	Ruled     Kind = "ruled"      // Finding, On, By: approved or declined, by whom
	PutRight  Kind = "put right"  // Item, State, Reason ("" for put right by hand; else why it stays so)
	Counted   Kind = "counted"    // On: whether all tools taken to the vehicle are back
	Entered   Kind = "entered"    // Field, Value: typed in at the terminal
	Dictated  Kind = "dictated"   // Part, Number, Value, NewtonMetres: said in a job without a procedure
	Corrected Kind = "corrected"  // From, Worked, Reason, Why, Technician: written afterwards, what the time from From to At was
	Remarked  Kind = "remarked"   // Step ("" for the whole job), Value, Technician: a written note
	Handed    Kind = "handed"     // To (bay, "" for any), On (it was taken away by force): from At on the job is not this bay's
	TakenOver Kind = "taken over" // Bay (who had it), To (who has it now), Technician, On (by force): work goes on at another bay from At
	Hearing   Kind = "hearing"    // Verdict, Cause, Floor, Speech, SNR, Clipped: how well words are heard from At on
)

// What can happen to the bay. These events carry no job.
const (
	Switched  Kind = "switched"  // Work: the job that words now concern, "" for none; On: a job changed bay, nothing before is taken back
	Listening Kind = "listening" // On: whether any word but "start listening" is obeyed
	Voiced    Kind = "voiced"    // Volume, Pace: how replies are spoken from now on
)

// Event is one fact of a job's or the bay's history. Events are only ever appended.
type Event struct {
	Job   string // the job's id; "" for the bay itself
	Seq   int64  // 1, 2, 3 ... within the job, without holes
	Act   int64  // events of one spoken word share it; rises over the whole bay
	At    Moment // when it took effect: for a word, its first sample
	Noted Moment // when it was decided; not before At
	Kind  Kind
	Detail
}

// Detail holds what an event's Kind says it carries; the rest is zero and is not stored.
type Detail struct {
	Procedure    string  `json:"procedure,omitempty"`     // id
	Text         string  `json:"text,omitempty"`          // the procedure file as it stood when the job began
	Order        string  `json:"order,omitempty"`         // work-order number
	Odometer     string  `json:"odometer,omitempty"`      // as read, with its unit
	Technician   string  `json:"technician,omitempty"`    //
	Word         string  `json:"word,omitempty"`          // phrase as heard
	Score        float64 `json:"score,omitempty"`         // 0..1
	Step         string  `json:"step,omitempty"`          // step id
	Back         bool    `json:"back,omitempty"`          // reached by going back
	Reason       string  `json:"reason,omitempty"`        // one of the configured reasons
	From         Moment  `json:"from,omitempty"`          //
	Length       Span    `json:"length,omitempty"`        //
	Ref          int64   `json:"ref,omitempty"`           // Seq of the event meant; for Undone, an Act
	Worked       bool    `json:"worked,omitempty"`        //
	Fastener     string  `json:"fastener,omitempty"`      //
	Value        string  `json:"value,omitempty"`         // torque as written in the procedure
	NewtonMetres float64 `json:"newton_metres,omitempty"` //
	File         string  `json:"file,omitempty"`          // memo, relative to the data folder
	Work         string  `json:"work,omitempty"`          // job id
	On           bool    `json:"on,omitempty"`            //
	Volume       int     `json:"volume,omitempty"`        // per cent of the cap, 10..100
	Pace         int     `json:"pace,omitempty"`          // words a minute
	Verdict      Verdict `json:"verdict,omitempty"`       // "" before anybody has spoken
	Cause        string  `json:"cause,omitempty"`         // of a verdict that is not good
	Floor        float64 `json:"floor_dbfs,omitempty"`    // of the noise
	Speech       float64 `json:"speech_dbfs,omitempty"`   // 0 before anybody has spoken; speech itself is always below 0
	SNR          float64 `json:"snr_db,omitempty"`        // Speech less Floor; means nothing without Speech
	Clipped      float64 `json:"clipped,omitempty"`       // share of the speech, 0..1
	Choice       string  `json:"choice,omitempty"`        // id of a choice of the procedure
	Caution      string  `json:"caution,omitempty"`       // as read aloud
	Number       int     `json:"number,omitempty"`        // of a fastener by its pattern, or of a dictated thing, from 1
	Stage        int     `json:"stage,omitempty"`         // round over the fastener in its step, from 1
	Wrench       string  `json:"wrench,omitempty"`        // by its name in the configuration
	Timer        string  `json:"timer,omitempty"`         // by its name in the procedure
	Reading      string  `json:"reading,omitempty"`       // likewise
	Position     string  `json:"position,omitempty"`      // where a reading was taken
	When         string  `json:"when,omitempty"`          // of a reading: before or after the repair
	Amount       string  `json:"amount,omitempty"`        // decimal number as said
	Unit         string  `json:"unit,omitempty"`          // of Amount, as the procedure writes it
	Judged       string  `json:"judged,omitempty"`        // of a reading: inside, below, above, worn, "" without limits
	Finding      int     `json:"finding,omitempty"`       // its number in the job, from 1
	By           string  `json:"by,omitempty"`            // who approved or declined
	Item         string  `json:"item,omitempty"`          // of the ledger, as the procedure names it
	State        string  `json:"state,omitempty"`         // in which the item was
	Field        string  `json:"field,omitempty"`         // what was typed in: complaint, cause, correction ...
	Part         string  `json:"part,omitempty"`          // what was dictated: job, step, off, on, torque, reading
	JobKind      string  `json:"job_kind,omitempty"`      // customer, warranty, internal, goodwill, comeback; "" for customer
	Why          string  `json:"why,omitempty"`           // time was corrected
	To           string  `json:"to,omitempty"`            // bay that a job goes to
	Bay          string  `json:"bay,omitempty"`           // that had a job
	Earlier      string  `json:"earlier,omitempty"`       // id of the job that a comeback comes back from
}
