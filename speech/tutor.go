package speech

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Tutor learns a technician's voice: it makes a [Tuning] of takes and measures
// what it is worth. One goroutine uses it.
//
// The last layer of the network is fitted anew to the takes, each heard several
// times through noise of its own, held to the weights that were trained. What a
// hundred other short utterances were taken for must stay as it was. The
// measure is takes that were left out: a third of them at a time.
type Tutor struct {
	cfg  EarsConfig
	k    *knowledge
	chat func() (chat, error) // once
}

// chat is the bundled chatter and what the network makes of it.
type chat struct {
	takes []Take
	heard []impression
}

// NewTutor returns a tutor for ears of this configuration.
func NewTutor(cfg EarsConfig) (*Tutor, error) {
	k, err := trained()
	if err != nil {
		return nil, err
	}
	return &Tutor{cfg: cfg, k: k, chat: sync.OnceValues(func() (chat, error) {
		takes, err := chatterTakes()
		if err != nil {
			return chat{}, err
		}
		heard, err := study(cfg, takes, chatted, 101)
		return chat{takes, heard}, err
	})}, nil
}

// Prepare does what Learn needs and no take changes, some seconds of it. It may
// run beside a sitting; Learn then waits for it.
func (t *Tutor) Prepare() error {
	_, err := t.chat()
	return err
}

// Knows reports whether label is among the trained phrases; a take of any other
// is of an own word.
func (t *Tutor) Knows(label string) bool { return slices.Index(t.k.classes[:t.k.labels], label) >= 0 }

// attempt is one way to fit; the tutor tries them all and keeps the best.
type attempt struct {
	hold, loose    float64 // of trained rows and of own words: see fitting
	asBefore, push float64 // what the chatter weighs against the takes: to be taken as before, and to be taken for none
}

// attempts were found by measurement: see BenchmarkTeachingDigits. The bolder
// come first.
var attempts = []attempt{{0.003, 0.001, 0.5, 0.2}, {0.05, 0.001, 1, 0.1}, {0.1, 0.001, 4, 0.2}, {0.3, 0.001, 8, 0.3}}

const (
	folds    = 3
	fitSteps = 50
	ownHold  = 1.0 // of trained rows, where nothing but own words is taught
)

// course is what one Learn works on.
type course struct {
	*Tutor
	takes   []Take
	folds   []int
	own     []string
	start   layer // trained, with rows for own words
	classes []string
	labels  int
	heard   []impression
	chat    []Take
	chatter []impression
	acts    []float64
}

// Learn takes every good take there is of a technician, earlier ones too, and
// returns what is to be used from now on. Labels that were never trained become
// own words. It takes some seconds of every processor. The error is about the
// takes; that nothing was gained is no error.
func (t *Tutor) Learn(ctx context.Context, takes []Take) (Lesson, error) {
	c := &course{Tutor: t}
	lesson := Lesson{}
	for _, take := range takes {
		if take.Check() != nil {
			lesson.Useless++
			continue
		}
		c.takes = append(c.takes, take)
		if !t.Knows(take.Label) && !slices.Contains(c.own, take.Label) {
			c.own = append(c.own, take.Label)
		}
	}
	lesson.Takes = len(c.takes)
	if len(c.takes) == 0 {
		return lesson, ErrTooFewTakes
	}
	if err := c.prepare(); err != nil {
		return lesson, err
	}
	if slices.Max(c.folds) < 0 {
		return lesson, ErrTooFewTakes
	}
	lesson.Before.examine(c, func(int) layer { return c.start })
	lesson.Before.listen(c, c.start)
	if lesson.Before.perfect() && len(c.own) == 0 {
		lesson.After, lesson.refused = lesson.Before, heardAlready
		return lesson, nil
	}
	if 2*lesson.Before.Own.Wrong > c.ownTakes() {
		lesson.After, lesson.refused = lesson.Before, "your word sounds like a command, choose another"
		return lesson, nil
	}
	for _, a := range attempts {
		if err := ctx.Err(); err != nil {
			return lesson, fmt.Errorf("learning a voice: %w", err)
		}
		tuned, worth, refused, err := c.try(a, lesson.Before)
		if err != nil {
			return lesson, err
		}
		switch {
		case refused == "" && (lesson.Tuning == nil || worth.score() > lesson.After.score()):
			lesson.Tuning = &Tuning{phrase: tuned, own: c.own, net: NetworkID()}
			lesson.After, lesson.refused = worth, ""
		case lesson.Tuning == nil && lesson.refused == "":
			lesson.After, lesson.refused = worth, refused
		}
		if lesson.Tuning != nil && len(c.own) == 0 {
			break // own words take the best way there is: they vary more
		}
	}
	return lesson, nil
}

// prepare hears everything.
func (c *course) prepare() (err error) {
	slices.Sort(c.own)
	c.start = c.k.phrase.widened(c.k.labels, len(c.own))
	for i := range c.own {
		c.start.b[c.k.labels+i] = freshBias
	}
	c.classes = slices.Insert(slices.Clone(c.k.classes), c.k.labels, c.own...)
	c.labels = c.k.labels + len(c.own)
	heard := c.cfg // takes and chatter are heard in quiet and in noise: the threshold half way between
	heard.Act = (heard.Act + max(heard.Act, heard.Noisy)) / 2
	c.acts = heard.thresholds(c.classes)
	copy(c.acts[c.k.labels:c.labels], c.cfg.ownThresholds(&Tuning{own: c.own}))
	all, err := c.Tutor.chat()
	if err != nil {
		return err
	}
	c.chat = all.takes
	for _, h := range all.heard {
		if !slices.ContainsFunc(c.own, func(own string) bool { return alike(own, all.takes[h.take].Label) }) {
			c.chatter = append(c.chatter, h)
		}
	}
	c.folds = foldsOf(c.takes)
	c.heard, err = study(c.cfg, c.takes, studied, 1)
	return err
}

// freshBias keeps an own word from being heard before anything is learnt of it.
const freshBias = -8

// ownTakes is how many takes are of own words.
func (c *course) ownTakes() (n int) {
	for _, t := range c.takes {
		if !c.Knows(t.Label) {
			n++
		}
	}
	return n
}

// alike reports whether an own word and an utterance of the chatter share a
// word: then the chatter is no example of what the word is not.
func alike(own, chatter string) bool {
	words := strings.Fields(strings.TrimPrefix(chatter, "~"))
	return slices.ContainsFunc(strings.Fields(own), func(w string) bool { return slices.Contains(words, w) })
}

// foldsOf deals takes out: the part that each is left out with, or -1 where it
// is the only one of its label.
func foldsOf(takes []Take) (parts []int) {
	total, seen := map[string]int{}, map[string]int{}
	for _, t := range takes {
		total[t.Label]++
	}
	for _, t := range takes {
		part := -1
		if n := total[t.Label]; n > 1 {
			part = seen[t.Label] % min(n, folds)
		}
		seen[t.Label]++
		parts = append(parts, part)
	}
	return parts
}

// try fits in one way: with all takes, and without each fold in turn to measure.
// It says in words why the result is not to be used, "" where it is.
func (c *course) try(a attempt, before Worth) (all layer, w Worth, refused string, err error) {
	if all, err = c.fit(a, -1); err != nil {
		return layer{}, Worth{}, "", err
	}
	w.listen(c, all)
	if refused = w.harm(before); refused != "" {
		return all, w, refused, nil
	}
	var without [folds]layer
	for f := range without {
		if without[f], err = c.fit(a, f); err != nil {
			return layer{}, Worth{}, "", err
		}
	}
	w.examine(c, func(fold int) layer { return without[fold] })
	return all, w, w.gain(before), nil
}

// fit learns from every take but those of fold out.
func (c *course) fit(a attempt, out int) (layer, error) {
	var examples []example
	own := 0.0
	for _, h := range c.heard {
		if h.kind == unheard || out >= 0 && c.folds[h.take] == out {
			continue
		}
		e := example{h.feature, c.class(c.takes[h.take].Label), 1}
		if h.kind == other {
			e.class, e.weight = asBefore, 0.5
		} else {
			own++
		}
		examples = append(examples, e)
	}
	n := 0.0
	for _, h := range c.chatter {
		if !c.guards(h.take) && h.kind < unheard {
			n++
		}
	}
	for _, h := range c.chatter {
		if c.guards(h.take) || h.kind >= unheard {
			continue
		}
		examples = append(examples, example{h.feature, asBefore, a.asBefore * own / n})
		if strings.HasPrefix(c.chat[h.take].Label, "~") {
			examples = append(examples, example{h.feature, c.labels, a.push * own / n})
		}
	}
	hold := a.hold
	if !slices.ContainsFunc(c.takes, func(t Take) bool { return c.Knows(t.Label) }) {
		hold = ownHold
	}
	return fitting{start: c.start, labels: c.labels, rest: c.cfg.Rest, hold: hold, fresh: len(c.own), loose: a.loose}.fit(examples, fitSteps)
}

// guards reports whether an utterance of the chatter measures; the others are
// learnt from.
func (c *course) guards(chat int) bool { return chat%2 == 1 }

// class is the row of a label; that of what is no phrase is the first of the
// rest.
func (c *course) class(label string) int {
	if i := slices.Index(c.classes[:c.labels], label); i >= 0 {
		return i
	}
	return c.labels
}

// examine measures every take by a layer that was learnt without its fold. Each
// hearing of a take counts; but a take is taken for another once, in quiet and
// in noise, where more than half of its hearings are.
func (w *Worth) examine(c *course, without func(fold int) layer) {
	type occasion struct {
		take  int
		noisy bool
	}
	all := map[occasion]Marks{}
	for _, h := range c.heard {
		fold := c.folds[h.take]
		if fold < 0 || h.kind != found && h.kind != unheard {
			continue
		}
		m := all[occasion{h.take, h.noisy}]
		if h.kind == unheard {
			m.add(Marks{Said: 1, Lost: 1})
		} else {
			m.add(c.mark(without(fold), h.feature, c.class(c.takes[h.take].Label)))
		}
		all[occasion{h.take, h.noisy}] = m
	}
	for o, m := range all {
		if 2*m.Wrong > m.Said-m.Lost {
			m.Wrong = 1
		} else {
			m.Wrong = 0
		}
		if o.noisy {
			w.Noisy.add(m)
		} else {
			w.Clean.add(m)
		}
		if !c.Knows(c.takes[o.take].Label) {
			w.Own.add(m)
		}
	}
}

// listen measures what else is obeyed.
func (w *Worth) listen(c *course, l layer) {
	for _, h := range c.chatter {
		if !c.guards(h.take) || h.kind != found {
			continue
		}
		label := c.chat[h.take].Label
		class := c.class(label)
		taught := slices.ContainsFunc(c.takes, func(t Take) bool { return t.Label == label })
		m := c.mark(l, h.feature, class)
		switch {
		case class >= c.labels:
			w.Chatter.add(m)
		case !taught:
			w.Others.add(m)
		}
	}
}

// mark is how one utterance is taken while the phrases of its kind are live:
// numbers for a number, all others for any other phrase, and both in turn for
// what is no phrase.
func (c *course) mark(l layer, feature []float32, class int) (m Marks) {
	z := make([]float32, l.rows)
	l.times(z, feature)
	softmax(z)
	weighPhrases(z, c.labels, c.cfg.Rest)
	best := [2]int{-1, -1}
	for i := range c.labels {
		kind := 0
		if c.k.isNumber(c.classes[i]) {
			kind = 1
		}
		if best[kind] < 0 || z[i] > z[best[kind]] {
			best[kind] = i
		}
	}
	for kind, b := range best {
		if class < c.labels && c.k.isNumber(c.classes[class]) != (kind == 1) {
			continue
		}
		m.Said++
		switch obeyed := float64(z[b]) >= c.acts[b]; {
		case !obeyed && class >= c.labels, obeyed && b == class:
			m.Right++
		case obeyed:
			m.Wrong++
		}
	}
	return m
}
