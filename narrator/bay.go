package narrator

import (
	"fmt"
	"slices"
	"sort"

	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// Settings are the shop's choices. They do not change while a bay is open.
type Settings struct {
	Technicians []string              // who may join a job
	Reasons     []string              // for a pause, as trained phrases
	Unit        procedures.TorqueUnit // in which torques are spoken
	AnswerTime  Span                  // for which an answer counts after its question was spoken
	Regret      Span                  // talk that follows a word by less turns the word into a question
	Volume      int                   // per cent, before anybody asked for louder or quieter
	Pace        int                   // words a minute, likewise
	Approvers   []string              // who may approve a finding
	Wrenches    []procedures.Wrench   // torque wrenches to choose from; none where the shop lists none
	Tongue      *tongue.Tongue        // language of what is said; nil is English
}

// DefaultSettings are those of a shop that has chosen nothing.
func DefaultSettings() Settings {
	return Settings{
		Reasons:    phrases(procedures.DefaultReasons()),
		AnswerTime: 8 * Second,
		Regret:     Second,
		Volume:     70,
		Pace:       165,
		Approvers:  []string{"customer", "service desk", "foreman"},
	}
}

// Bay is one microphone's world: its open jobs, which of them words concern, and the dialogue in progress. It is not safe
// for concurrent use.
type Bay struct {
	Settings  Settings
	Jobs      map[string]*Job // open, or finished since the bay was opened
	Active    string          // id of the job that words concern; "" for none
	Listening bool
	Volume    int
	Pace      int
	Dialogue  Dialogue

	log  []Event
	acts int64
}

// NewBay returns a bay without jobs.
func NewBay(s Settings) *Bay {
	return &Bay{Settings: s, Jobs: map[string]*Job{}, Listening: true, Volume: s.Volume, Pace: s.Pace}
}

// Restore rebuilds a bay from the bay's own log and the logs of its open jobs.
func Restore(s Settings, bay []Event, jobs ...[]Event) (*Bay, error) {
	b := NewBay(s)
	for _, log := range jobs {
		j, err := NewJob(log)
		if err != nil {
			return nil, fmt.Errorf("restore: %w", err)
		}
		b.Jobs[j.ID] = j
		for _, e := range log {
			b.acts = max(b.acts, e.Act)
		}
	}
	for i, e := range bay {
		if e.Job != "" || e.Seq != int64(i+1) {
			return nil, fmt.Errorf("restore: bay event %d stands where %d belongs", e.Seq, i+1)
		}
		b.acts = max(b.acts, e.Act)
	}
	b.log = slices.Clone(bay)
	b.fold()
	return b, nil
}

// Job returns the job that words concern, or nil.
func (b *Bay) Job() *Job { return b.Jobs[b.Active] }

// Others lists the open jobs but the active one, oldest first.
func (b *Bay) Others() []*Job {
	var jobs []*Job
	for _, j := range b.Jobs {
		if j.Here() && j.ID != b.Active {
			jobs = append(jobs, j)
		}
	}
	sort.Slice(jobs, func(i, k int) bool {
		if jobs[i].Start != jobs[k].Start {
			return jobs[i].Start < jobs[k].Start
		}
		return jobs[i].ID < jobs[k].ID
	})
	return jobs
}

// Apply folds an outcome whose events are durable into the bay. The outcome must be the latest that [Decide] made of it.
func (b *Bay) Apply(o Outcome) error {
	for _, e := range o.Events {
		b.acts = max(b.acts, e.Act)
		switch {
		case e.Job == "":
			b.log = append(b.log, e)
		case e.Kind == Opened:
			j, err := JobOf(o.opened, []Event{e})
			if err != nil {
				return fmt.Errorf("apply: %w", err)
			}
			b.Jobs[j.ID] = j
		case b.Jobs[e.Job] == nil:
			return fmt.Errorf("apply: no job %s is open", e.Job)
		default:
			b.Jobs[e.Job].add(e)
		}
	}
	b.fold()
	b.Dialogue = o.dialogue
	return nil
}

// fold works out the bay's own facts from its log.
func (b *Bay) fold() {
	undone := map[int64]bool{}
	for _, e := range b.log {
		if e.Kind == Undone {
			undone[e.Ref] = true
		}
	}
	b.Active, b.Listening, b.Volume, b.Pace = "", true, b.Settings.Volume, b.Settings.Pace
	for _, e := range b.log {
		if undone[e.Act] {
			continue
		}
		switch e.Kind {
		case Switched:
			b.Active = e.Work
		case Listening:
			b.Listening = e.On
		case Voiced:
			b.Volume, b.Pace = e.Volume, e.Pace
		}
	}
	if j := b.Jobs[b.Active]; j == nil || j.gone {
		b.Active = ""
	}
}

// Due returns the moment at which a [Tick] is needed, zero for none.
func (b *Bay) Due() Moment {
	question, timer := b.Dialogue.Question.due(), b.timersDue()
	if question == 0 || timer != 0 && timer < question {
		return timer
	}
	return question
}

// Live lists the words that would now be obeyed or taken as an answer, in canonical form.
func (b *Bay) Live() []string {
	switch {
	case !b.Listening:
		return []string{string(procedures.StartListening)}
	case b.Dialogue.Recording:
		return []string{string(procedures.EndNote)}
	}
	words := append(b.commands(), b.Dialogue.Question.answers(b.Settings)...)
	for _, c := range b.ofTheMoment() {
		if !slices.Contains(words, string(c)) {
			words = append(words, string(c))
		}
	}
	return words
}

// commands are the words that count at any time while the bay listens.
func (b *Bay) commands() []string { return phrases(b.Job().commands()) }

// ofTheMoment are the further words that count because of where the job stands: the phrase that a caution waits for, beside a
// yes that is refused, and the answer to a finding.
func (b *Bay) ofTheMoment() []procedures.Command {
	j := b.Job()
	if j == nil || !j.Open() {
		return nil
	}
	var words []procedures.Command
	if answer := j.Wants(); answer != "" {
		words = append(words, answer, procedures.Yes)
	}
	if j.openFinding() != nil {
		words = append(words, procedures.ReasonApproval)
	}
	return words
}

// counts reports whether a word is obeyed now.
func (b *Bay) counts(word string) bool {
	return slices.Contains(b.commands(), word) || slices.Contains(b.ofTheMoment(), procedures.Command(word))
}

func phrases(commands []procedures.Command) []string {
	var words []string
	for _, c := range commands {
		words = append(words, string(c))
	}
	return words
}
