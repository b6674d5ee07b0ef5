package narrator

import (
	"strings"

	"stepcaller/procedures"
)

// toolsCounted reports whether every tool that was taken along is back, or none is listed, or one was typed in as lost. Going on to
// another step makes the count worthless. A file of format 1 lists its tools to be read, not to be counted.
func (j *Job) toolsCounted() bool {
	return len(j.Procedure.Tools) == 0 || j.Procedure.Format < 2 || j.counted == len(j.Arrivals) || j.facts[toolMissing] != ""
}

// toolMissing is the field into which a tool is typed that did not come back.
const toolMissing = "tool missing"

// toolsBack reads the tools that were taken along, to be counted. The word may have been said by itself, or to finish the job.
func (d *decision) toolsBack(h Heard) {
	j := d.job()
	if len(j.Procedure.Tools) == 0 {
		d.reply(replyNoToolsOut)
		return
	}
	d.ask(Question{Kind: AskCount, Word: h, Patience: lookTime}, d.words.countTools(j))
}

// toolsAsked takes the answer to where the tools are. They are counted, not vouched for.
func (d *decision) toolsAsked(q Question, h Heard) {
	switch procedures.Command(h.Word) {
	case procedures.ToolsBack:
		q.Kind = AskCount
		d.ask(q, d.words.countTools(d.job()))
	case procedures.No:
		d.reply(replyToolsMissing)
	default:
		d.ask(q, d.words.sayIt(procedures.ToolsBack))
	}
}

// count takes whether all tools are there.
func (d *decision) count(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active {
		return
	}
	d.record(j.ID, h.From, Counted, Detail{On: yes})
	switch {
	case !yes:
		d.reply(replyToolsMissing)
	case q.Word.Word == string(procedures.FinishJob):
		d.askFinish(q.Word)
	default:
		d.reply(replyToolsThere)
	}
}

const (
	replyNoToolsOut   = "No tools are listed for the job."
	replyToolsMissing = "Find what is missing, then say tools back. What is lost is typed in as tool missing."
	replyToolsThere   = "All tools back."
)

func (w wording) toolsOut(j *Job) string {
	return w.N(len(j.Procedure.Tools), "%d tool taken along. When they are counted, say tools back.",
		"%d tools taken along. When they are counted, say tools back.")
}

func (w wording) countTools(j *Job) string {
	return w.N(len(j.Procedure.Tools), "%d tool: %s. All there?", "%d tools: %s. All there?", strings.Join(j.Procedure.Tools, ", "))
}
