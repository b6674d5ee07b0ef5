package procedures

// Command is something the technician may say, named by its default phrase.
type Command string

// The commands that are always live while the program listens.
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
)

// The answers, live only after a question.
const (
	Yes      Command = "yes"
	No       Command = "no"
	LastWord Command = "last word" // away since the last word heard from the technician
)
