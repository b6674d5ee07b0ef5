package procedures

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Command is something the technician may say, named by its default phrase.
type Command string

// The commands that may be said at any time.
const (
	Next           Command = "next"
	PreviousStep   Command = "previous step"
	Repeat         Command = "repeat"
	AskTorque      Command = "torque"
	AskTools       Command = "tool list"
	AskParts       Command = "part list"
	AskCaution     Command = "caution"
	WhereAmI       Command = "where am i"
	WhatsLeft      Command = "what's left"
	HoldJob        Command = "hold the job"
	CarryOn        Command = "carry on"
	IWasAway       Command = "i was away"
	LeaveTonight   Command = "leaving it for tonight"
	OtherJob       Command = "other job"
	JoiningIn      Command = "joining in"
	SteppingOut    Command = "stepping out"
	TakeNote       Command = "take a note"
	EndNote        Command = "end of note"
	UndoThat       Command = "undo that"
	FinishJob      Command = "finish job"
	Stop           Command = "stop"
	StopListening  Command = "stop listening"
	StartListening Command = "start listening"
	Louder         Command = "louder"
	Quieter        Command = "quieter"
	SpeakSlower    Command = "speak slower"
	SpeakFaster    Command = "speak faster"
	WhatCanISay    Command = "what can i say"
	Help           Command = "help"
	HowLongLeft    Command = "how long left"
	StartTimer     Command = "start timer"
	TakeReading    Command = "reading"
	AlsoFound      Command = "also found"
	ToolsBack      Command = "tools back"
	HandOver       Command = "hand it over"
	AllSent        Command = "all sent"
)

// The answers to a caution that must be answered, each by the thing itself.
const (
	StandsSet   Command = "stands set"
	LiftLocked  Command = "lift locked"
	EngineHeld  Command = "engine held"
	PressureOff Command = "pressure off"
	GroundOff   Command = "ground off"
	PowerDown   Command = "power down"
	SpringHeld  Command = "spring held"
	AllClear    Command = "all clear"
	PedalFirm   Command = "pedal firm"
	WheelsTight Command = "wheels tight"
)

// The words that write down a job that has no procedure while it is done.
const (
	NewStep  Command = "new step"
	ComesOff Command = "comes off"
	GoesOn   Command = "goes on"
)

// The answers to a question that wants yes or no.
const (
	Yes Command = "yes"
	No  Command = "no"
)

// The answers to a question for the reason of a break in the work.
const (
	ReasonParts      Command = "parts"
	ReasonApproval   Command = "approval"
	ReasonCustomer   Command = "customer"
	ReasonPhone      Command = "phone"
	ReasonLiftBusy   Command = "lift busy"
	ReasonToolBusy   Command = "tool busy"
	ReasonHelping    Command = "helping"
	ReasonBreak      Command = "break"
	ReasonRoadTest   Command = "road test"
	ReasonEndOfShift Command = "end of shift"
	LastWord         Command = "last word" // away since the last word that was heard
)

// The words of a number, said one by one.
const (
	Zero  Command = "zero"
	Oh    Command = "oh"
	One   Command = "one"
	Two   Command = "two"
	Three Command = "three"
	Four  Command = "four"
	Five  Command = "five"
	Six   Command = "six"
	Seven Command = "seven"
	Eight Command = "eight"
	Nine  Command = "nine"
	Point Command = "point"
	Minus Command = "minus"
)

// Group says when a command may be obeyed.
type Group int

// The groups.
const (
	Always    Group = iota // at any time while the program listens
	Answers                // after a question that wants yes or no
	Reasons                // after a question for a reason
	Numbers                // after a question for a number
	Cautions               // after a caution that wants them
	Dictation              // while a job without a procedure is spoken
	groupEnd               // count of the groups
)

// String names the group as a heading.
func (g Group) String() string {
	return [groupEnd]string{"at any time", "after a question", "when asked for a reason", "when asked for a number", "when a caution asks for it", "in a job without a procedure"}[g]
}

// Meaning is what there is to know about a command.
type Meaning struct {
	Command     Command
	Group       Group
	Does        string // one line, in the imperative
	Destructive bool   // hard to take back when misheard
}

// Meanings is the vocabulary: every command once, in the order in which it is
// explained.
func Meanings() []Meaning {
	return []Meaning{
		{Next, Always, "Finish this step and read the next one", false},
		{Repeat, Always, "Read this step again", false},
		{PreviousStep, Always, "Go back to the step before", false},
		{AskTorque, Always, "Read the torques of this step: fasteners, count, value, order", false},
		{AskTools, Always, "Read the tools of this step", false},
		{AskParts, Always, "Read the parts of this step", false},
		{AskCaution, Always, "Read the cautions of this step and of the job", false},
		{WhereAmI, Always, "Tell the step, the time on it, and the job's time against the book", false},
		{WhatsLeft, Always, "Tell what is off, open, loose, plugged, drained or supported", false},
		{HoldJob, Always, "Stop the clock and ask for the reason", false},
		{CarryOn, Always, "Start the clock again where the job was left", false},
		{IWasAway, Always, "Tell a pause afterwards: ask since when and why", false},
		{LeaveTonight, Always, "Hold the job for the night and tell what is off, open or loose", true},
		{OtherJob, Always, "Read the other open jobs and go to one by its number", true},
		{JoiningIn, Always, "Another technician starts on this job", false},
		{SteppingOut, Always, "A technician leaves this job", false},
		{TakeNote, Always, "Record what is said next, until silence", false},
		{EndNote, Always, "End the note", false},
		{UndoThat, Always, "Take back the last thing that changed the job, and say which", true},
		{FinishJob, Always, "Close the job after a yes, and tell its times", true},
		{Stop, Always, "Be silent; nothing else changes", false},
		{StopListening, Always, "Obey nothing but start listening", false},
		{StartListening, Always, "Obey commands again", false},
		{Louder, Always, "Speak louder", false},
		{Quieter, Always, "Speak more quietly", false},
		{SpeakSlower, Always, "Speak more slowly", false},
		{SpeakFaster, Always, "Speak faster", false},
		{WhatCanISay, Always, "Read the commands that count now", false},
		{Help, Always, "Be silent and ask whether to hold the job", false},
		{HowLongLeft, Always, "Tell how long each timer still runs", false},
		{StartTimer, Always, "Start the timer of this step", false},
		{TakeReading, Always, "Ask for the readings of this step", false},
		{AlsoFound, Always, "Note something else that is worn: what is said next is kept with it", false},
		{ToolsBack, Always, "Read the tools, to be counted back", false},
		{HandOver, Always, "Give this job to another bay of the shop", true},
		{AllSent, Always, "Tell whether the shop has all that this bay knows", false},
		{Yes, Answers, "Do it", false},
		{No, Answers, "Leave it", false},
		{ReasonParts, Reasons, "Waiting for parts", false},
		{ReasonApproval, Reasons, "Waiting for approval of the work", false},
		{ReasonCustomer, Reasons, "Talking to the customer", false},
		{ReasonPhone, Reasons, "On the phone", false},
		{ReasonLiftBusy, Reasons, "The lift is taken", false},
		{ReasonToolBusy, Reasons, "A tool is in use elsewhere", false},
		{ReasonHelping, Reasons, "Helping somebody else", false},
		{ReasonBreak, Reasons, "Having a break", false},
		{ReasonRoadTest, Reasons, "Out on a road test", false},
		{ReasonEndOfShift, Reasons, "The shift is over", false},
		{LastWord, Reasons, "Away since the last word that was heard", false},
		{Zero, Numbers, "0", false}, {Oh, Numbers, "0", false}, {One, Numbers, "1", false},
		{Two, Numbers, "2", false}, {Three, Numbers, "3", false}, {Four, Numbers, "4", false},
		{Five, Numbers, "5", false}, {Six, Numbers, "6", false}, {Seven, Numbers, "7", false},
		{Eight, Numbers, "8", false}, {Nine, Numbers, "9", false},
		{Point, Numbers, "The decimal point", false}, {Minus, Numbers, "Below zero", false},
		{StandsSet, Cautions, "The vehicle stands on its stands", false},
		{LiftLocked, Cautions, "The vehicle is shaken and the lift is locked", false},
		{EngineHeld, Cautions, "The engine is held from above or below", false},
		{PressureOff, Cautions, "The pressure is let off", false},
		{GroundOff, Cautions, "The battery's ground cable is off", false},
		{PowerDown, Cautions, "The power is off and the maker's time has passed", false},
		{SpringHeld, Cautions, "The spring is held", false},
		{AllClear, Cautions, "Everybody and everything is clear of the engine", false},
		{PedalFirm, Cautions, "The brake pedal is pumped and firm", false},
		{WheelsTight, Cautions, "The wheel fasteners are tight", false},
		{NewStep, Dictation, "Begin the next step: what is said next is kept with it", false},
		{ComesOff, Dictation, "Something comes off: what is said next is kept with it", false},
		{GoesOn, Dictation, "Something goes back on: tell its number", false},
	}
}

// MeaningOf is the entry of a command, and false where there is no such command.
func MeaningOf(c Command) (Meaning, bool) {
	for _, m := range Meanings() {
		if m.Command == c {
			return m, true
		}
	}
	return Meaning{}, false
}

// DefaultReasons lists the answers offered when the program asks why the work
// stopped. OtherJob stands among them though it may be said at any time.
func DefaultReasons() []Command {
	return []Command{ReasonParts, ReasonApproval, ReasonCustomer, ReasonPhone, ReasonLiftBusy, ReasonToolBusy,
		ReasonHelping, ReasonBreak, OtherJob, ReasonRoadTest, ReasonEndOfShift}
}

// TrainedPhrases lists what the ears know, in the order of Meanings. A shop may
// deal these phrases out anew but cannot add to them.
func TrainedPhrases() []string {
	var phrases []string
	for _, m := range Meanings() {
		phrases = append(phrases, string(m.Command))
	}
	return phrases
}

// neverAlone are words that fill a technician's talk: none is a command by
// itself.
var neverAlone = []string{"left", "right", "off", "clear", "down", "back"}

// Override gives a command other phrases than its own. An empty Say leaves the
// command without a phrase.
type Override struct {
	Command string   `mapstructure:"command" yaml:"command"`
	Say     []string `mapstructure:"say" yaml:"say"`
}

// Words tells which phrase gives which command. It is not changed once made.
type Words struct {
	command map[string]Command
	phrases map[Command][]string
}

// DefaultWords gives every command its own phrase.
func DefaultWords() Words {
	w := Words{map[string]Command{}, map[Command][]string{}}
	for _, m := range Meanings() {
		w.command[string(m.Command)] = m.Command
		w.phrases[m.Command] = []string{string(m.Command)}
	}
	return w
}

// NewWords is the default vocabulary with a shop's overrides. It refuses unknown
// commands, phrases that the ears do not know, two commands on one phrase, and a
// program that could not be told to listen again; the error says what would do.
func NewWords(overrides []Override) (Words, error) {
	w := DefaultWords()
	taken := map[Command]bool{}
	for _, o := range overrides {
		c := Command(plain(o.Command))
		if _, ok := MeaningOf(c); !ok {
			return Words{}, fmt.Errorf("words: unknown command %q; %s", o.Command, suggest(o.Command))
		}
		if taken[c] {
			return Words{}, fmt.Errorf("words: command %q is given twice; put all its phrases in one entry", c)
		}
		taken[c] = true
		var phrases []string
		for _, said := range o.Say {
			phrase, err := trained(said)
			if err != nil {
				return Words{}, fmt.Errorf("words: command %q: %w", c, err)
			}
			if !slices.Contains(phrases, phrase) {
				phrases = append(phrases, phrase)
			}
		}
		w.phrases[c] = phrases
	}
	if len(w.phrases[StartListening]) == 0 {
		return Words{}, fmt.Errorf("words: command %q has no phrase; after %q nothing would be heard again", StartListening, StopListening)
	}
	return w.index()
}

// With is w with one more phrase for a command: a word that the ears learnt by
// example. It refuses a phrase that gives another command already, one that is
// among those trained, and a word that is said too often in a workshop.
func (w Words) With(phrase string, c Command) (Words, error) {
	phrase = plain(phrase)
	_, known := MeaningOf(c)
	other, taken := w.command[phrase]
	switch {
	case !known:
		return Words{}, fmt.Errorf("words: unknown command %q; %s", c, suggest(string(c)))
	case phrase == "":
		return Words{}, fmt.Errorf("words: an own word for %q needs a name to be listed by", c)
	case taken && other == c:
		return w, nil
	case taken:
		return Words{}, fmt.Errorf("words: %q gives %q already; choose another word for %q", phrase, other, c)
	case slices.Contains(TrainedPhrases(), phrase):
		return Words{}, fmt.Errorf("words: the ears know %q already; deal it out with an entry of `words` in the configuration", phrase)
	case slices.Contains(neverAlone, phrase):
		return Words{}, fmt.Errorf("words: %q is said too often in a workshop to be a command; use two words", phrase)
	}
	more := Words{maps.Clone(w.command), maps.Clone(w.phrases)}
	more.command[phrase] = c
	more.phrases[c] = append(slices.Clone(w.phrases[c]), phrase)
	return more, nil
}

// trained is the trained phrase meant by text.
func trained(text string) (string, error) {
	phrase := plain(text)
	switch {
	case slices.Contains(TrainedPhrases(), phrase):
		return phrase, nil
	case slices.Contains(neverAlone, phrase):
		return "", fmt.Errorf("%q is said too often in a workshop to be a command; use two words", text)
	default:
		return "", fmt.Errorf("the ears do not know %q; %s", text, suggest(text))
	}
}

// suggest names the nearest trained phrase.
func suggest(text string) string {
	if near := nearest(plain(text), TrainedPhrases()); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "choose from: " + strings.Join(TrainedPhrases(), ", ")
}

// plain is text as the labels are written: lower case, single spaces.
func plain(text string) string {
	return strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(text, "’", "'")), " "))
}

// index fills the way from phrase to command.
func (w Words) index() (Words, error) {
	w.command = map[string]Command{}
	for _, m := range Meanings() {
		for _, phrase := range w.phrases[m.Command] {
			if other, twice := w.command[phrase]; twice {
				return Words{}, fmt.Errorf("words: %q would give both %q and %q; give one of them another phrase with an entry of its own",
					phrase, other, m.Command)
			}
			w.command[phrase] = m.Command
		}
	}
	return w, nil
}

// Command is what a heard phrase means, and false where it means nothing.
func (w Words) Command(phrase string) (Command, bool) {
	c, ok := w.command[phrase]
	return c, ok
}

// Phrases are the ways to say a command, the first of them the one to teach.
func (w Words) Phrases(c Command) []string { return slices.Clone(w.phrases[c]) }

// Phrase is the way to say a command that is taught, "" where it has none.
func (w Words) Phrase(c Command) string {
	if len(w.phrases[c]) == 0 {
		return ""
	}
	return w.phrases[c][0]
}

// Live lists the phrases of these commands: what the ears may obey now.
func (w Words) Live(commands ...Command) []string {
	var phrases []string
	for _, c := range commands {
		phrases = append(phrases, w.phrases[c]...)
	}
	return phrases
}

// InGroup lists the commands of a group in the order of Meanings.
func InGroup(g Group) []Command {
	var commands []Command
	for _, m := range Meanings() {
		if m.Group == g {
			commands = append(commands, m.Command)
		}
	}
	return commands
}
