package narrator

import (
	"slices"
	"strconv"
	"strings"

	"stepcaller/procedures"
)

// The questions of a job without a procedure.
const (
	AskGoesOn QuestionKind = "goes on" // the number of what goes back on
	AskTight  QuestionKind = "tight"   // to how much it is tightened, a number
	AskFigure QuestionKind = "figure"  // what was read off, a number
)

// unwritten are the words that need a procedure, and mean nothing in a job without one.
var unwritten = []procedures.Command{procedures.Next, procedures.PreviousStep, procedures.AskTools, procedures.AskParts, procedures.AskCaution,
	procedures.HowLongLeft, procedures.StartTimer, procedures.AlsoFound, procedures.ToolsBack}

// commands lists the words that are obeyed in a job without asking for them.
func (j *Job) commands() []procedures.Command {
	words := slices.DeleteFunc(procedures.InGroup(procedures.Always), func(c procedures.Command) bool {
		return c == procedures.StartListening || c == procedures.EndNote || j != nil && j.Dictation != nil && slices.Contains(unwritten, c)
	})
	if j != nil && j.Dictation != nil {
		words = append(words, procedures.InGroup(procedures.Dictation)...)
	}
	return words
}

// dictate carries out a word that means something else in a job without a procedure, and reports whether it is one.
func (d *decision) dictate(h Heard, c procedures.Command) bool {
	j := d.job()
	switch c {
	case procedures.NewStep, procedures.ComesOff, procedures.GoesOn, procedures.AskTorque, procedures.TakeReading:
		if j.Held() != nil {
			d.ask(Question{Kind: AskCarryOn, Word: h}, d.words.carryOnFirst(j))
			return true
		}
	}
	switch c {
	case procedures.NewStep:
		d.dictateWithNote(h, PartStep)
	case procedures.ComesOff:
		d.dictateWithNote(h, PartOff)
	case procedures.GoesOn:
		d.goesOn(h)
	case procedures.AskTorque:
		d.ask(Question{Kind: AskTight, Word: h}, d.words.howMuch(d.bay.Settings.Unit))
	case procedures.TakeReading:
		d.ask(Question{Kind: AskFigure, Word: h}, d.words.F(replyWhatFigure))
	case procedures.WhatsLeft:
		d.say(d.words.numbersOff(j.Dictation.Off()))
	case procedures.FinishJob:
		d.ask(Question{Kind: AskFinish, Word: h}, d.words.dictatedFinish(j, h.From))
	default:
		return false
	}
	return true
}

// dictateWithNote numbers a step or a thing that comes off, and takes down what is said about it.
func (d *decision) dictateWithNote(h Heard, part Part) {
	j := d.job()
	said := Said{Part: part, Number: j.nextNumber(part)}
	d.record(j.ID, h.From, Dictated, Detail{Part: string(part), Number: said.Number})
	d.changed(h)
	d.next.Recording, d.out.Record, d.next.Said = true, true, said
}

// saidNote ends the note about a step or a thing that came off. It is told with its number, to be written on the bag.
func (d *decision) saidNote(said Said, in NoteEnded) {
	d.next.Last, d.next.LastAct = Heard{}, 0
	if in.Fault == "" && in.Length > 0 && d.job() != nil {
		d.record(d.active, in.At, Recorded, Detail{File: in.File, From: in.From, Length: in.Length, Part: string(said.Part), Number: said.Number})
		d.reply(saidNoteText(said.Part, true), said.Number)
		return
	}
	d.reply(saidNoteText(said.Part, false), said.Number)
	if in.Fault != "" {
		d.say(d.words.noteFault(in.Fault))
	}
}

// goesOn puts back what is off: the one thing, or the one whose number is told.
func (d *decision) goesOn(h Heard) {
	off := d.job().Dictation.Off()
	switch len(off) {
	case 0:
		d.say(d.words.numbersOff(off))
	case 1:
		d.putOn(h, off[0])
	default:
		var choices []string
		for _, n := range off {
			choices = append(choices, strconv.Itoa(n))
		}
		d.ask(Question{Kind: AskGoesOn, Word: h, Choices: choices}, d.words.F("Which number? Off: %s.", d.words.numbers(off)))
	}
}

func (d *decision) putOn(h Heard, number int) {
	d.record(d.active, h.From, Dictated, Detail{Part: string(PartOn), Number: number})
	d.changed(h)
	d.reply("On, number %d.", number)
	if off := d.job().Dictation.Off(); len(off) > 0 {
		d.say(d.words.numbersOff(off))
	}
}

// dictatesNumber reports whether a question of a job without a procedure waits for a number, and whether one digit is all of it.
func (q *Question) dictatesNumber() (waits, single bool) {
	switch q.Kind {
	case AskGoesOn:
		return true, !slices.ContainsFunc(q.Choices, func(c string) bool { return len(c) > 1 })
	case AskTight, AskFigure:
		return true, false
	}
	return false, false
}

// dictateNumber takes the number that answers q.
func (d *decision) dictateNumber(q Question) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.Dictation == nil || q.Job != d.active {
		return
	}
	figures, value, err := procedures.Decimal(strings.Fields(q.Digits))
	again := Question{Kind: q.Kind, Word: q.Word, Choices: q.Choices}
	if err != nil {
		d.ask(again, d.words.whichNumber(q.Digits))
		return
	}
	switch q.Kind {
	case AskGoesOn:
		if !slices.Contains(q.Choices, value.String()) {
			d.ask(again, d.words.F("Number %s is not off. %s Which number?", figures, d.words.numbersOff(j.Dictation.Off())))
			return
		}
		d.putOn(q.Word, int(value.IntPart()))
	case AskTight:
		torque, err := procedures.ParseTorque(figures + " " + d.bay.Settings.Unit.String())
		if err != nil {
			d.ask(again, d.words.F("%s is no torque. Say it again, digit by digit.", d.words.Figures(figures)))
			return
		}
		d.record(j.ID, q.Word.From, Dictated, Detail{Part: string(PartTorque), Value: torque.String(), NewtonMetres: torque.NewtonMetres()})
		d.changed(q.Word)
		d.say(d.words.Figures(torque.String()) + ".")
	case AskFigure:
		d.record(j.ID, q.Word.From, Dictated, Detail{Part: string(PartReading), Value: figures})
		d.changed(q.Word)
		d.say(d.words.Figures(figures) + ".")
	}
}

// notesBesides takes back what a note was about, when the note is taken back: one word led to both.
func (d *decision) notesBesides(j *Job, act int64) {
	for _, e := range j.log {
		if e.Act != act || e.Kind != Recorded || e.Part == "" {
			continue
		}
		for _, said := range j.Dictation.Said {
			if string(said.Part) == e.Part && said.Number == e.Number && said.Act != act {
				d.takeBack(said.Act)
				return
			}
		}
	}
}
