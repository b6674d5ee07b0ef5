package speech

import (
	"errors"
	"fmt"
)

// Lesson is what came of learning.
type Lesson struct {
	Tuning        *Tuning // nil: hearing stays as it is
	Takes         int     // learnt from
	Useless       int     // takes that could not be
	Before, After Worth   // by the trained layer, and by the best one that was tried
	refused       string
}

// ErrTooFewTakes is the error of Learn where no word has takes enough.
var ErrTooFewTakes = errors.New("a word needs at least two good takes: one to learn from, one to measure by")

// Words tells the result in sentences that are ready to be spoken. A trial is
// one hearing of a take by ears that did not learn from it.
func (l Lesson) Words() string {
	if l.Tuning == nil {
		return fmt.Sprintf("Nothing changes: %s. Your words stay heard as they were, in %d of %d trials in the quiet, in %d of %d in noise. Every take is kept.",
			l.refused, l.Before.Clean.Right, l.Before.Clean.Said, l.Before.Noisy.Right, l.Before.Noisy.Said)
	}
	return fmt.Sprintf("Kept. Of %d trials in the quiet you were obeyed in %d before, now in %d. Of %d trials in noise in %d before, now in %d.",
		l.Before.Clean.Said, l.Before.Clean.Right, l.After.Clean.Right, l.Before.Noisy.Said, l.Before.Noisy.Right, l.After.Noisy.Right)
}
