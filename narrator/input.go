package narrator

import "stepcaller/procedures"

// Input is something that happened outside: a word, a tick of the clock, a sentence that ended, a job opened at the
// terminal. Inputs of one bay come in order of the moment at which they were decided.
type Input interface{ input() }

// Heard is a word, number, reason or talk that the ears decided on.
type Heard struct {
	Word     string  // a command's default phrase, a reason, number words with spaces between; "" for talk that is no command
	From, To Moment  // first sample of its speech, first after its last
	At       Moment  // when it was decided
	Score    float64 // 0..1
	Sure     bool    // false: ask before obeying
}

// Spoken says that a sentence has been spoken to its end, or was cut.
type Spoken struct {
	Sentence int64
	At       Moment // of its last sample
}

// Tick says that time has passed. Ticks are needed only at [Bay.Due].
type Tick struct{ At Moment }

// Start opens a job at its first step and makes it the one that words concern.
type Start struct {
	At         Moment
	Job        string // id, new to the journal
	Procedure  string // file or bundled id, for messages
	Text       string // the whole procedure file; it loads without mistakes
	Order      string
	Odometer   string
	Technician string
	JobKind    string // one of [JobKinds], "" for the first; [CheckJobKind] finds nothing wrong
	Earlier    string // id of the job that a comeback comes back from
	Dictate    bool   // there is no procedure: it is spoken while the job is done
}

// TakeUp makes an open job the one that words concern, at its current step.
type TakeUp struct {
	At  Moment
	Job string
}

// Woke says that the program runs again. Nothing was heard from Alive, when it last noted that it ran, to At. Where the
// job stands is told, unless a Start or a TakeUp follows that tells it.
type Woke struct {
	At, Alive Moment
	Quiet     bool
}

// NoteEnded says that the memo begun by [Outcome.Record] is safely on disk, or that nothing was said.
type NoteEnded struct {
	At     Moment
	From   Moment // of its first sample
	Length Span   // 0 when nothing was said and no file was kept
	File   string // relative to the data folder
	Fault  string // why it could not be kept; "" when it was
}

// NoteFound says that a note which a crash cut off was found and kept.
type NoteFound struct {
	At     Moment
	Job    string
	From   Moment
	Length Span
	File   string
}

func (Heard) input()     {}
func (NoteFound) input() {}
func (Spoken) input()    {}
func (Tick) input()      {}
func (Start) input()     {}
func (TakeUp) input()    {}
func (Woke) input()      {}
func (NoteEnded) input() {}

// Tone is a short sound that answers before, or instead of, a sentence.
type Tone int

// The tones.
const (
	Silent Tone = iota
	Taken       // a word was heard and obeyed
	Doubt       // a question follows
)

// Sentence is something to say. The text is trade text, as one would write it; it must be made speakable.
type Sentence struct {
	ID   int64 // rises by one from sentence to sentence
	Text string
}

// Outcome is what an input leads to. The order of carrying it out is fixed: the events are made durable; then
// [Bay.Apply]; then speech is cut, the tone sounds, the sentences are queued and the note begins or ends. When the events cannot be made
// durable the outcome is dropped, so that nothing is acknowledged that could be lost.
type Outcome struct {
	Events    []Event
	Cut       bool // stop what is being said
	Tone      Tone
	Sentences []Sentence
	Claim     string                // ask the shop for this job, an id in the bay; "" for no
	Force     bool                  // take it from whoever has it
	Took      bool                  // the word counted: it was obeyed, answered a question or raised one
	Record    bool                  // begin a spoken note
	EndNote   Moment                // end the note at this moment; zero for no
	opened    *procedures.Procedure // of the job that is opened; nil for none
	dialogue  Dialogue
}
