package hearing

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// utterance is what was said and what was obeyed in one clip at one ratio.
type utterance struct {
	clip  string
	snr   *float64
	said  []string
	heard []string
}

// WriteTranscripts writes, for every engine and signal to noise ratio, what was
// said and what was obeyed into dir: NAME-RATIO.ref.trn and NAME-RATIO.hyp.trn,
// a line for each clip of a live phrase in the trn form of NIST SCTK, which its
// sclite scores with -i spu_id. A phrase is one word there, joined by underscores.
func WriteTranscripts(dir string, r *Report) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("transcripts: %w", err)
	}
	var errs []error
	for _, e := range r.Engines {
		for _, c := range e.Conditions {
			var said, heard strings.Builder
			n := 0
			for _, u := range e.utterances {
				if noisiness(u.snr) == noisiness(c.SNR) {
					n++
					id := fmt.Sprintf("(clip-%05d_%s)", n, strings.ReplaceAll(plainID(u.clip), " ", "_"))
					said.WriteString(transcript(u.said, id))
					heard.WriteString(transcript(u.heard, id))
				}
			}
			base := filepath.Join(dir, strings.ReplaceAll(e.Name+"-"+noisiness(c.SNR), " ", ""))
			errs = append(errs, os.WriteFile(base+".ref.trn", []byte(said.String()), 0o666), os.WriteFile(base+".hyp.trn", []byte(heard.String()), 0o666))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("transcripts: %w", err)
	}
	return nil
}

// transcript is a line of a trn file.
func transcript(phrases []string, id string) string {
	var line strings.Builder
	for _, p := range phrases {
		line.WriteString(strings.ReplaceAll(p, " ", "_"))
		line.WriteByte(' ')
	}
	return line.String() + id + "\n"
}

// plainID is a name without what has a meaning in a trn file.
func plainID(name string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune("()-{}/@; ", r) {
			return '_'
		}
		return r
	}, name)
}
