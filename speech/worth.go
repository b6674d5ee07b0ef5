package speech

// Marks are how utterances were taken.
type Marks struct {
	Said  int `json:"said"`
	Right int `json:"right"` // obeyed as what they were
	Wrong int `json:"wrong"` // obeyed as something else
	Lost  int `json:"lost"`  // missed whatever was learnt: the ears found no such utterance
}

func (m *Marks) add(o Marks) {
	m.Said, m.Right, m.Wrong, m.Lost = m.Said+o.Said, m.Right+o.Right, m.Wrong+o.Wrong, m.Lost+o.Lost
}

// Worth is how takes that were left out are heard, and what else is obeyed.
type Worth struct {
	Clean, Noisy Marks // hearings of takes as they were said, and through noise of 2 to 14 dB; Wrong counts takes
	Own          Marks // of both, those of own words
	Others       Marks // phrases that were not taught, said by other voices
	Chatter      Marks // speech that is no phrase: Right counts what was left alone
}

// score orders what does no harm.
func (w Worth) score() int {
	return w.Clean.Right + w.Noisy.Right - 3*(w.Clean.Wrong+w.Noisy.Wrong+w.Chatter.Wrong)
}

// harm says in words what became worse for speech that was not taught, "" for
// nothing. Phrases that were not taught are said by other voices: one of them,
// and one in fifty, may be lost.
func (w Worth) harm(before Worth) string {
	slack := 1 + before.Others.Said/50
	switch {
	case w.Chatter.Wrong > before.Chatter.Wrong && before.Own.Said > 0:
		return "more talk would be taken for commands, a longer word of your own may do better"
	case w.Chatter.Wrong > before.Chatter.Wrong:
		return "more talk would be taken for commands"
	case w.Others.Right < before.Others.Right-slack || w.Others.Wrong > before.Others.Wrong+slack:
		return "the words that were not taught would suffer"
	}
	return ""
}

// gain says in words why takes that were left out are heard no better, "" where
// they are.
func (w Worth) gain(before Worth) string {
	switch {
	case 2*w.Own.Right < w.Own.Said-w.Own.Lost:
		return "your word sounds too much like other talk, choose a longer one"
	case w.Clean.Right < before.Clean.Right:
		return "fewer of your words would be heard in the quiet"
	case w.Noisy.Right < before.Noisy.Right:
		return "fewer of your words would be heard in noise"
	case w.Clean.Wrong+w.Noisy.Wrong > before.Clean.Wrong+before.Noisy.Wrong:
		return "more of your words would be taken for others"
	case w.Clean.Right+w.Noisy.Right == before.Clean.Right+before.Noisy.Right && w.Clean.Wrong+w.Noisy.Wrong == before.Clean.Wrong+before.Noisy.Wrong:
		return heardAlready
	}
	return ""
}

// heardAlready is why a voice that is heard well is left alone.
const heardAlready = "you are heard as well already"

// perfect reports whether no take could be heard better.
func (w Worth) perfect() bool {
	return w.Clean.Right == w.Clean.Said-w.Clean.Lost && w.Noisy.Right == w.Noisy.Said-w.Noisy.Lost
}
