//go:build pocketsphinx

package hearing

/*
#cgo pkg-config: pocketsphinx sphinxbase
#include <stdlib.h>
#include <pocketsphinx.h>

static ps_decoder_t *open_decoder(const char *hmm, const char *dict) {
	cmd_ln_t *config = cmd_ln_init(NULL, ps_args(), TRUE, "-hmm", hmm, "-dict", dict, "-logfn", "/dev/null",
	                              "-cmn", "batch", NULL);
	if (config == NULL)
		return NULL;
	ps_decoder_t *decoder = ps_init(config);
	cmd_ln_free_r(config);
	return decoder;
}
*/
import "C"

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unsafe"

	"stepcaller/speech"
)

// modelFolder is where Debian's pocketsphinx-en-us lies.
const modelFolder = "/usr/share/pocketsphinx/model/en-us"

// Peers are the other recognisers built in, to stand beside our own.
func Peers() []Engine { return []Engine{Sphinx{}} }

// Sphinx is PocketSphinx 0.8+5prealpha with its US English model and a JSGF
// grammar of the live phrases as an [Engine]. It finds utterances by its own
// means, decodes each as a whole, and is sure of every one that the grammar
// allows: it has no score to refuse them by.
type Sphinx struct{}

// Name implements [Engine].
func (Sphinx) Name() string { return "pocketsphinx" }

// Listen implements [Engine].
func (Sphinx) Listen(live []string) (Listener, error) {
	hmm, dict := C.CString(filepath.Join(modelFolder, "en-us")), C.CString(filepath.Join(modelFolder, "cmudict-en-us.dict"))
	defer C.free(unsafe.Pointer(hmm))
	defer C.free(unsafe.Pointer(dict))
	if _, err := os.Stat(modelFolder); err != nil {
		return nil, fmt.Errorf("its model is not there (Debian: apt-get install pocketsphinx-en-us): %w", err)
	}
	decoder := C.open_decoder(hmm, dict)
	if decoder == nil {
		return nil, fmt.Errorf("its model in %s cannot be read", modelFolder)
	}
	s := &sphinxListener{decoder: decoder, live: live}
	name, grammar := C.CString("live"), C.CString("#JSGF V1.0;\ngrammar live;\npublic <phrase> = "+strings.Join(live, " | ")+";\n")
	defer C.free(unsafe.Pointer(name))
	defer C.free(unsafe.Pointer(grammar))
	if C.ps_set_jsgf_string(decoder, name, grammar) < 0 || C.ps_set_search(decoder, name) < 0 {
		return nil, errors.Join(fmt.Errorf("its dictionary lacks a word of %q", live), s.Close())
	}
	return s, nil
}

type sphinxListener struct {
	decoder *C.ps_decoder_t
	live    []string
	memory  []int16        // the end of the sound last heard
	heard   speech.Samples // its length
}

// What PocketSphinx lets pass before it says that speech began or ended, by its
// own defaults.
const (
	sphinxBefore = 200 * time.Millisecond
	sphinxAfter  = 500 * time.Millisecond
)

func (s *sphinxListener) Hear(source speech.Source) (heard []speech.Heard, err error) {
	const remembered = 10 * speech.Rate
	source, err = s.acquaint(source)
	if err != nil {
		return nil, err
	}
	s.memory, s.heard = s.memory[:0], 0
	C.ps_start_utt(s.decoder)
	speaking, from := false, speech.Samples(0)
	for {
		b, err := source.Read()
		if err != nil {
			C.ps_end_utt(s.decoder)
		}
		if errors.Is(err, io.EOF) {
			if speaking {
				heard = append(heard, s.decided(from, s.heard))
			}
			return heard, nil
		}
		if err != nil {
			return heard, err
		}
		if len(s.memory) > 2*remembered {
			s.memory = s.memory[:copy(s.memory, s.memory[len(s.memory)-remembered:])]
		}
		s.memory = append(s.memory, b.PCM...)
		s.heard += speech.Frame
		s.process(b.PCM, 1, 0)
		now := C.ps_get_in_speech(s.decoder) != 0
		switch {
		case now && !speaking:
			from = max(0, s.heard-speech.SamplesIn(sphinxBefore))
		case speaking && !now:
			C.ps_end_utt(s.decoder)
			heard = append(heard, s.decided(from, max(from, s.heard-speech.SamplesIn(sphinxAfter))))
			C.ps_start_utt(s.decoder)
		}
		speaking = now
	}
}

// acquaint lets the decoder hear the first second of the sound, again and again for
// some seconds, so that it knows the noise as it would at work: it takes what it hears first
// for speech. The source that it returns begins with that second.
func (s *sphinxListener) acquaint(source speech.Source) (speech.Source, error) {
	known := &begun{Source: source}
	for range speech.Rate / speech.Frame {
		b, err := source.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		b.PCM = slices.Clone(b.PCM)
		known.blocks = append(known.blocks, b)
	}
	C.ps_start_stream(s.decoder)
	C.ps_start_utt(s.decoder)
	for range 3 {
		for _, b := range known.blocks {
			s.process(b.PCM, 1, 0)
		}
	}
	C.ps_end_utt(s.decoder)
	return known, nil
}

// begun is a source of which some blocks were read already.
type begun struct {
	speech.Source
	blocks []speech.Block
}

func (b *begun) Read() (speech.Block, error) {
	if len(b.blocks) == 0 {
		return b.Source.Read()
	}
	next := b.blocks[0]
	b.blocks = b.blocks[1:]
	return next, nil
}

// process takes samples, with or without searching for words in them, as a piece
// of the utterance or as the whole.
func (s *sphinxListener) process(pcm []int16, noSearch, whole C.int) {
	C.ps_process_raw(s.decoder, (*C.int16)(unsafe.Pointer(&pcm[0])), C.size_t(len(pcm)), noSearch, whole)
}

func (s *sphinxListener) decided(from, to speech.Samples) speech.Heard {
	phrase := s.Nearest(from, to)
	return speech.Heard{Label: phrase, Nearest: phrase, From: from, To: to, At: s.heard, Score: 1, Sure: phrase != ""}
}

// Nearest decodes the span as one utterance, with 300 ms around it.
func (s *sphinxListener) Nearest(from, to speech.Samples) string {
	around := speech.SamplesIn(300 * time.Millisecond)
	gone := s.heard - speech.Samples(len(s.memory))
	first, last := max(0, from-around-gone), min(to+around-gone, speech.Samples(len(s.memory)))
	if first >= last {
		return ""
	}
	C.ps_start_utt(s.decoder)
	s.process(s.memory[first:last], 0, 1)
	C.ps_end_utt(s.decoder)
	text := C.ps_get_hyp(s.decoder, nil)
	if text == nil {
		return ""
	}
	if phrase := C.GoString(text); slices.Contains(s.live, phrase) {
		return phrase
	}
	return "" // no way through the grammar to its end
}

func (s *sphinxListener) Close() error {
	C.ps_free(s.decoder)
	return nil
}
