package speech

// Nearest is the live phrase most like the sound from sample from up to to,
// counted as in [Block.At], whatever its score and whether or not it was found
// to be an utterance. It is "" where no phrase is live, or where nothing of the
// span is remembered: the ears forget after 2.5 s.
func (e *Ears) Nearest(from, to Samples) string {
	const length = netStride * Frame
	from, to = from-e.zero, to-e.zero
	first, last := max(0, int((from-5*Frame)/length)), int((to+SamplesIn(e.cfg.After)+length-1)/length)
	if to <= from || first >= e.near.net.step || last <= e.near.net.step-netRing {
		return ""
	}
	label, _ := e.nearest(e.weigh(e.near.net.judge(first, last)))
	return label
}

// nearest is the live phrase with the best chance and its class; "" and -1
// where none is live.
func (e *Ears) nearest(p []float32) (label string, class int) {
	class = -1
	for i, live := range e.live {
		if live && (class < 0 || p[i] > p[class]) {
			class = i
		}
	}
	if class < 0 {
		return "", -1
	}
	return e.k.classes[class], class
}
