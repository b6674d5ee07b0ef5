package speech

import (
	"bytes"
	_ "embed"
	"fmt"
	"io"
	"strings"
	"sync"
)

// chatterSound is short utterances of synthetic voices: words and half
// sentences that are no phrase, and every trained phrase twice. chatter/make.sh
// made it.
//
//go:embed chatter/chatter.flac
var chatterSound []byte

// chatterText says where each utterance lies in chatterSound and what it is.
//
//go:embed chatter/chatter.txt
var chatterText string

// chatterTakes are the utterances as takes; the label of one that is no phrase
// is "~" and its text. They are decoded once.
var chatterTakes = sync.OnceValues(readChatter)

func readChatter() (takes []Take, err error) {
	d, err := newFLACDecoder(bytes.NewReader(chatterSound))
	if err != nil {
		return nil, fmt.Errorf("bundled chatter: %w", err)
	}
	var pcm []int16
	part := make([]float64, 1<<14)
	for err == nil {
		var n int
		n, err = d.read(part)
		pcm = toInt16(pcm, part[:n])
	}
	if err != io.EOF {
		return nil, fmt.Errorf("bundled chatter: %w", err)
	}
	const margin = Rate / 10
	for line := range strings.Lines(chatterText) {
		var from, to Samples
		if _, err := fmt.Sscan(line, &from, &to); err != nil || from < margin || int(to)+margin > len(pcm) {
			return nil, fmt.Errorf("bundled chatter: line %q does not fit the sound", line)
		}
		_, text, _ := strings.Cut(strings.TrimSpace(line), " ")
		_, text, _ = strings.Cut(text, " ")
		takes = append(takes, Take{Label: text, PCM: pcm[from-margin : to+margin], From: margin, To: to - from + margin})
	}
	return takes, nil
}
