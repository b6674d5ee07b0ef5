package narrator

import (
	"slices"
	"strings"

	"stepcaller/procedures"
)

// QuestionKind names what is being asked.
type QuestionKind string

// The questions.
const (
	NoQuestion   QuestionKind = ""
	AskMeant     QuestionKind = "meant"      // was this word meant? yes or no
	AskFinish    QuestionKind = "finish"     // finish the job? yes or no
	AskCarryOn   QuestionKind = "carry on"   // the job is on hold; carry on first? yes or no
	AskStop      QuestionKind = "stop"       // somebody called for help: stop? yes or no
	AskWorked    QuestionKind = "worked"     // was the silent time worked? yes or no
	AskAlone     QuestionKind = "alone"      // the only technician steps out: hold the job? yes or no
	AskReason    QuestionKind = "reason"     // why the pause?
	AskSince     QuestionKind = "since"      // away since when? "last word" or minutes
	AskWhichJob  QuestionKind = "which job"  // a number
	AskWhoJoins  QuestionKind = "who joins"  // a number
	AskWhoLeaves QuestionKind = "who leaves" // a number
	AskChoice    QuestionKind = "choice"     // a choice of the procedure: yes or no
	AskMeasure   QuestionKind = "measure"    // a reading, in figures; no to leave it
	AskNoteIt    QuestionKind = "note it"    // note a reading out of its limits as a finding? yes or no
	AskCustomer  QuestionKind = "customer"   // ask the customer about a finding? yes or no
	AskApproval  QuestionKind = "approval"   // hold the job until the customer has answered? yes or no
	AskRuling    QuestionKind = "ruling"     // is a finding approved? yes or no
	AskByWhom    QuestionKind = "by whom"    // a number
	AskGoThere   QuestionKind = "go there"   // go to the step that an approval opens? yes or no
	AskPutRight  QuestionKind = "put right"  // is an open item put right by now? yes or no
	AskWhyOpen   QuestionKind = "why open"   // why is it not?
	AskTools     QuestionKind = "tools"      // tools back, or no
	AskCount     QuestionKind = "count"      // are all tools there? yes or no
	AskRenewed   QuestionKind = "renewed"    // are the new fasteners in? yes or no
	AskHandOver  QuestionKind = "hand over"  // hand the job over? yes or no
	AskTakeIt    QuestionKind = "take it"    // take over the job on offer? yes or no
	AskWalk      QuestionKind = "walk"       // go round fastener by fastener? yes or no
)

// Question is what is being asked, and what an answer will need to know. The zero Question asks nothing.
type Question struct {
	Kind     QuestionKind
	Text     string
	Sentence int64    // the sentence that asks it
	Until    Moment   // an answer that begins later does not count; zero while it is still being asked
	Word     Heard    // the word that raised it; what follows counts from that word
	Job      string   // the job that it is about
	Ref      int64    // Seq of the event that it is about
	Silent   int64    // Seq of the event that made the silence before Word unsure, still to be asked about
	Prior    Moment   // the last word heard before Word
	Choices  []string // ids or names, the first is number one
	Digits   string   // number words so far
	Closes   Moment   // the number is complete when no further digit begins before
	From     Moment   // where the first digit began
	Patience Span     // how long an answer may take, where that is longer than the usual time
	Then     sequel   // what goes on once the question is dealt with
	Choice   string   // id of the choice of the procedure that it asks
	Step     int      // index of the step that it is about
	Slot     int      // index of the reading, or of the torque, among those of the step
	Walk     int      // index of the torque at which the walk begins afterwards; their number for none
	Finding  int      // number of the finding that it is about
	Yes      bool     // whether the finding is approved
	Item     string   // of the ledger
	State    string   // in which the item is
}

// hearing is how long an answer that has begun may take to be heard: the question waits so much longer before it lapses.
const hearing = 2 * Second

// digitPause is the silence that completes a spoken number.
const digitPause = 3 * Second / 2

func (q *Question) open(from Moment) bool { return q.Until == 0 || from <= q.Until }

func (q *Question) due() Moment {
	if q.Digits != "" {
		return q.Closes.Add(Second)
	}
	if q.Until == 0 {
		return 0
	}
	return q.Until.Add(hearing)
}

// spoken starts the time for an answer when the sentence that asks has ended.
func (q *Question) spoken(in Spoken, answerTime Span) {
	if q.Kind != NoQuestion && q.Sentence == in.Sentence && q.Until == 0 {
		q.Until = in.At.Add(max(answerTime, q.Patience))
	}
}

// answers lists the words that answer the question, beyond the commands.
func (q *Question) answers(s Settings) []string {
	yesNo := []string{string(procedures.Yes), string(procedures.No)}
	switch q.Kind {
	case NoQuestion:
		return nil
	case AskReason, AskWhyOpen:
		return s.Reasons
	case AskMeasure:
		return append(phrases(procedures.InGroup(procedures.Numbers)), string(procedures.No))
	case AskTools:
		return append([]string{string(procedures.ToolsBack)}, yesNo...)
	case AskSince:
		return append([]string{string(procedures.LastWord)}, phrases(procedures.InGroup(procedures.Numbers))...)
	case AskWhichJob, AskWhoJoins, AskWhoLeaves, AskByWhom, AskGoesOn, AskTight, AskFigure:
		return phrases(procedures.InGroup(procedures.Numbers))
	default:
		return yesNo
	}
}

func (q *Question) takes(word string, s Settings) bool {
	if q.Kind == NoQuestion {
		return false
	}
	known := q.answers(s)
	if slices.Contains(known, word) {
		return true
	}
	return !slices.ContainsFunc(strings.Fields(word), func(part string) bool { return !slices.Contains(known, part) })
}

// ask puts a question. Its word is the one being dealt with unless q names one.
func (d *decision) ask(q Question, text string) {
	if q.Word.Word == "" {
		q.Word = d.heard
	}
	q.Text, q.Until, q.Job = text, 0, d.active
	q.Sentence = d.say(text)
	d.out.Tone = Doubt
	d.next.Question = q
}

// confirm asks whether a word was meant. The answer to a caution has to be said again.
func (d *decision) confirm(h Heard) {
	if isCautionAnswer(h.Word) {
		d.out.Tone = Doubt
		d.say(d.words.phraseAgain(h.Word))
		return
	}
	d.ask(Question{Kind: AskMeant, Word: h, Silent: d.silent, Prior: d.next.Prior}, d.words.meant(h.Word))
}

// answer deals with a word that answers q.
func (d *decision) answer(q Question, h Heard) {
	yes := h.Word == string(procedures.Yes)
	if !h.Sure && yes {
		d.ask(q, d.words.F(replyYesOrNo))
		d.next.Question.Text = q.Text
		return
	}
	d.next.Question = Question{}
	d.heard = q.Word
	defer func() {
		if d.next.LastAct != 0 { // talk behind the answer puts it in doubt
			d.next.Last.To = h.To
		}
	}()
	switch q.Kind {
	case AskMeant:
		if yes {
			meant := q.Word
			meant.Sure = true
			d.silent, d.next.Prior = q.Silent, q.Prior
			d.obey(meant)
		} else {
			d.reply(replyLeftAlone)
		}
	case AskFinish:
		if yes {
			d.finish(q)
		} else {
			d.reply(replyNotFinished)
		}
	case AskCarryOn:
		if yes {
			d.record(d.active, q.Word.From, Resumed, Detail{})
			if q.Word.Word != string(procedures.Next) || !d.walkOn() {
				d.obey(q.Word)
			}
		} else {
			d.say(d.words.stillHeld(d.job()))
		}
	case AskStop:
		switch held := d.job().Held(); {
		case yes && held != nil:
			d.say(d.words.alreadyHeld(held.Reason))
		case yes:
			d.hold(q.Word, reasonHelp)
			d.say(d.words.held(reasonHelp))
		default:
			d.reply(replyGoingOn)
		}
	case AskWorked:
		d.settle(q, yes)
	case AskAlone:
		if yes {
			d.holdAndAsk(q.Word)
		} else {
			d.reply(replyGoingOn)
		}
	case AskReason:
		d.because(q, h.Word)
	case AskMeasure:
		if h.Word == string(procedures.No) {
			d.goOn(q, h)
			return
		}
		d.number(q, h)
	default:
		if !d.answerAboutWork(q, h, yes) {
			d.number(q, h)
		}
	}
}

// answerAboutWork deals with the answer to a question that the procedure, a finding or the end of the job raises, and
// reports whether q is one.
func (d *decision) answerAboutWork(q Question, h Heard, yes bool) bool {
	switch q.Kind {
	case AskChoice:
		d.decide(q, h, yes)
	case AskNoteIt:
		d.noteReading(q, h, yes)
	case AskCustomer:
		d.customerAsked(q, h, yes)
	case AskApproval:
		d.waitForApproval(q, h, yes)
	case AskRuling:
		d.askWho(q, yes)
	case AskGoThere:
		d.goThere(q, yes)
	case AskPutRight:
		d.putRight(q, h, yes)
	case AskWhyOpen:
		d.keepOpen(q, h)
	case AskTools:
		d.toolsAsked(q, h)
	case AskCount:
		d.count(q, h, yes)
	case AskRenewed:
		d.newIn(q, h, yes)
	case AskWalk:
		d.walkAll(q, yes)
	case AskHandOver:
		d.handOverAnswered(q, yes)
	case AskTakeIt:
		d.takeIt(q, yes)
	default:
		return false
	}
	return true
}

// lapse lets the pending question go unanswered.
func (d *decision) lapse() {
	q := d.next.Question
	d.next.Question = Question{}
	if q.Digits != "" {
		d.closeNumber(q)
		return
	}
	switch {
	case d.look(q.Job) == nil:
	case q.Kind == AskSince:
		d.record(q.Job, q.Word.From, Unsure, Detail{From: q.Prior})
	case q.Kind == AskByWhom:
		d.record(q.Job, q.Word.From, Ruled, Detail{Finding: q.Finding, On: q.Yes})
		d.say(d.words.ruled(d.look(q.Job).finding(q.Finding)))
	}
}

// number gathers the digits of an answer; a choice among nine or fewer is complete with the first.
func (d *decision) number(q Question, h Heard) {
	if h.Word == string(procedures.LastWord) {
		d.away(q, q.Prior)
		return
	}
	if q.Digits == "" {
		q.From = h.From
	}
	q.Digits = strings.TrimSpace(q.Digits + " " + h.Word)
	q.Closes = h.To.Add(digitPause)
	if q.Until != 0 {
		q.Until = later(q.Until, q.Closes)
	}
	dictates, single := q.dictatesNumber()
	if single || !dictates && q.Kind != AskSince && q.Kind != AskMeasure && len(q.Choices) < 10 {
		d.closeNumber(q)
		return
	}
	d.next.Question = q
	d.out.Tone = Silent
}

func (d *decision) closeNumber(q Question) {
	d.next.Question = Question{}
	d.heard = q.Word
	if q.Kind == AskMeasure {
		d.measure(q)
		return
	}
	if dictates, _ := q.dictatesNumber(); dictates {
		d.dictateNumber(q)
		return
	}
	again := q
	again.Digits, again.Closes = "", 0
	n, err := procedures.Number(strings.Fields(q.Digits))
	if err != nil {
		d.ask(again, d.words.whichNumber(q.Digits))
		return
	}
	if q.Kind == AskSince {
		d.away(q, q.Word.From.Add(-Minutes(n)))
		return
	}
	i := int(n) - 1
	if float64(i+1) != n || i < 0 || i >= len(q.Choices) {
		d.ask(again, d.words.noSuchNumber(q.Digits, len(q.Choices)))
		return
	}
	switch q.Kind {
	case AskWhichJob:
		if o, ok := d.offer(q.Choices[i]); ok {
			d.askTakeIt(q.Word, o)
			return
		}
		if j := d.look(q.Choices[i]); j != nil && j.Here() {
			d.switchTo(j, q.Word.From)
			d.sayAll(d.words.back(d.job(), q.Word.From))
			d.walkOn()
		}
	case AskWhoJoins:
		d.join(q.Word, q.Choices[i])
	case AskWhoLeaves:
		d.leave(q.Word, q.Choices[i])
	case AskByWhom:
		d.rule(q, q.Choices[i])
	}
}
