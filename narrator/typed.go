package narrator

// Typed is an input that somebody wrote about one job, open or finished, at a terminal or on a page. What is wrong with it changes nothing
// when it is decided; whoever takes it checks it first, and says so.
type Typed interface {
	Input

	// About is the id of the job.
	About() string

	// Check says what is wrong with it, and what to do; nil for nothing. The job must be in the bay.
	Check(b *Bay) error
}

// Enter says that a fact of a job was typed in. [CheckFact] finds nothing wrong with it.
type Enter struct {
	At    Moment
	Job   string
	Field string // a key of [Fields]
	Value string // "" takes the fact out
}

// Correct says what a stretch of a job's time was, in place of what was heard of it.
type Correct struct {
	At         Moment
	Job        string
	Technician string // who corrects; was on the job for all of that time
	From, To   Moment // within the job's time
	What       Activity
	Reason     string // of a pause, one of the configured reasons; "" for time that was worked
	Why        string // why it is corrected
}

// Annotate says that a technician wrote a remark.
type Annotate struct {
	At         Moment
	Job        string
	Technician string // who was on the job
	Step       string // id, "" for the whole job
	Text       string
}

// Withdraw takes a correction or a remark back. It stays in the log.
type Withdraw struct {
	At         Moment
	Job        string
	Technician string // who wrote it
	Seq        int64  // of its event
}

func (Enter) input()    {}
func (Correct) input()  {}
func (Annotate) input() {}
func (Withdraw) input() {}
