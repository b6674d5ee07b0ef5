package speech

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
)

// Tuning is what one technician's examples make of the network's last layer:
// other weights for the phrases, and rows of their own for words that the
// network was never trained on. Nothing changes a tuning once it is learnt; any
// number of ears may use it. It fits the network that it was learnt with and no
// other.
type Tuning struct {
	phrase layer    // rows: the trained phrases, own, then the rest, in the network's order
	own    []string // words by example
	net    string   // NetworkID of the network it was learnt with
}

// Words are the labels of the words learnt by example, beyond those trained.
func (t *Tuning) Words() []string { return slices.Clone(t.own) }

// NetworkID tells networks apart: a checksum of the weights in this program.
func NetworkID() string {
	sum := sha256.Sum256(weights)
	return hex.EncodeToString(sum[:])
}

// Tune has the ears hear as a tuning says, from the next decision on; nil has
// them hear as they were trained. Words by example become labels that Live
// knows. What is live stays so, as far as the ears still know it. A tuning that
// was learnt with another network is refused, and nothing changes.
func (e *Ears) Tune(t *Tuning) error {
	if t != nil && t.net != NetworkID() {
		return fmt.Errorf("tune the ears: the voice was learnt with another network; learn it again from its takes")
	}
	return e.tune(t)
}

// tune is Tune without its check.
func (e *Ears) tune(t *Tuning) error {
	var live []string
	for i, on := range e.live {
		if on {
			live = append(live, e.k.classes[i])
		}
	}
	e.tuning = t
	e.k = e.trained.tuned(t, true)
	e.near.net.know(e.k)
	e.own.net.know(e.trained.tuned(t, false))
	e.live, e.acts = make([]bool, len(e.k.classes)), e.cfg.thresholds(e.k.classes)
	copy(e.acts[e.trained.labels:e.k.labels], e.cfg.ownThresholds(t))
	e.Live(live)
	return nil
}

// ownThresholds are the scores from which a tuning's own words are obeyed: those
// of grave phrases, since five examples tell less than training does.
func (c EarsConfig) ownThresholds(t *Tuning) (acts []float64) {
	if t == nil {
		return nil
	}
	for range t.own {
		acts = append(acts, c.Careful)
	}
	return acts
}

// know gives the network another last layer.
func (s *netStream) know(k *knowledge) {
	s.k = k
	s.logits = make([]float32, k.phrase.rows)
}

// tuned is k with a tuning's words, and with its rows for the trained phrases
// where phrases is true. Our own voice is no technician's: what it plays is
// compared with the trained ones.
func (k *knowledge) tuned(t *Tuning, phrases bool) *knowledge {
	if t == nil {
		return k
	}
	n := *k
	n.classes = t.classes(k)
	n.labels = k.labels + len(t.own)
	n.phrase = t.phrase
	if !phrases {
		n.phrase = k.phrase.widened(k.labels, len(t.own))
		copy(n.phrase.row(k.labels, len(t.own)).w, t.phrase.row(k.labels, len(t.own)).w)
		copy(n.phrase.row(k.labels, len(t.own)).b, t.phrase.row(k.labels, len(t.own)).b)
	}
	return &n
}

// classes are k's with the words by example behind its labels.
func (t *Tuning) classes(k *knowledge) []string {
	return slices.Insert(slices.Clone(k.classes), k.labels, t.own...)
}

// widened is a copy of l with n rows of nothing before row at.
func (l layer) widened(at, n int) layer {
	return layer{
		w:    slices.Insert(slices.Clone(l.w), at*l.cols, make([]float32, n*l.cols)...),
		b:    slices.Insert(slices.Clone(l.b), at, make([]float32, n)...),
		rows: l.rows + n, cols: l.cols,
	}
}

// row is n rows of l from row at on, sharing its memory.
func (l layer) row(at, n int) layer {
	return layer{w: l.w[at*l.cols : (at+n)*l.cols], b: l.b[at : at+n], rows: n, cols: l.cols}
}

// weighPhrases turns the chances of all classes into those of the labels alone,
// the first ones, with the rest weighed by rest.
func weighPhrases(p []float32, labels int, rest float64) {
	var phrases, others float32
	for i, v := range p {
		if i < labels {
			phrases += v
		} else {
			others += v
		}
	}
	sum := max(1e-9, phrases+float32(rest)*others)
	for i := range p[:labels] {
		p[i] /= sum
	}
}
