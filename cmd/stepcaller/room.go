package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/testdata"
)

// How long the check of a room listens.
const (
	roomQuiet = 3 * time.Second  // while nobody speaks
	roomWords = 15 * time.Second // at most, for three words
	roomTrack = 90 * time.Second // at most, to a file
)

// room is what a microphone or a file gives: a noise, and somebody's words in it.
type room struct {
	ears   *speech.Ears
	want   string // the phrase that is asked for
	wanted int    // how often it was obeyed
	others int    // other words that were obeyed or asked about
	lost   int    // samples
	silent bool   // nothing but digital silence
	asked  bool   // somebody was asked to say want
}

func newRoom(c Config) (*room, error) {
	config, err := c.ears()
	if err != nil {
		return nil, err
	}
	words, err := c.words()
	if err != nil {
		return nil, err
	}
	ears, err := speech.NewEars(config)
	if err != nil {
		return nil, err
	}
	r := &room{ears: ears, silent: true}
	if live := words.Live(procedures.Next); len(live) > 0 {
		r.want = live[0]
	}
	return r, nil
}

// listen hears a source for so long, until enough says so, or to its end.
func (r *room) listen(ctx context.Context, source speech.Source, d time.Duration, enough func() bool) error {
	for blocks := speech.SamplesIn(d) / speech.Frame; blocks > 0 && !enough(); blocks-- {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, err := source.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		r.lost += b.Missing
		for _, v := range b.PCM {
			r.silent = r.silent && v == 0
		}
		for _, h := range r.ears.Hear(b, nil) {
			switch {
			case h.Label == r.want && h.Sure:
				r.wanted++
			case h.Label != "":
				r.others++
			}
		}
	}
	return nil
}

// hearMicrophone asks for quiet and then for three words, and measures both.
func hearMicrophone(ctx context.Context, w io.Writer, c Config, mic speech.Source) (*room, error) {
	r, err := newRoom(c)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(w, "Be quiet for %d seconds.\n", int(roomQuiet.Seconds()))
	if err := r.listen(ctx, mic, roomQuiet, func() bool { return false }); err != nil || r.silent {
		return r, err
	}
	fmt.Fprintf(w, "Now say %q three times, as you would at work, with a second of quiet after each.\n", r.want)
	r.asked = true
	most := min(r.ears.Reception().Words+3, 5)
	return r, r.listen(ctx, mic, roomWords, func() bool { return r.ears.Reception().Words >= most })
}

// hearFile measures a file.
func hearFile(ctx context.Context, c Config, path string) (*room, error) {
	source, err := speech.OpenTrack(path, 0)
	if err != nil {
		return nil, fileHint("--hear", err)
	}
	defer source.Close()
	r, err := newRoom(c)
	if err != nil {
		return nil, err
	}
	return r, r.listen(ctx, source, roomTrack, func() bool { return false })
}

// hearBundled measures the bundled track.
func hearBundled(ctx context.Context, c Config) (*room, error) {
	dir, err := os.MkdirTemp("", "stepcaller-check-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "technician.flac")
	if err := os.WriteFile(path, testdata.Technician, 0o600); err != nil {
		return nil, err
	}
	return hearFile(ctx, c, path)
}

// verdict says whether words are heard in the room, and what to do where they will not be. from names what was heard when that
// was no microphone.
func (r *room) verdict(from string) verdict {
	limits := speech.DefaultReceptionLimits()
	got := r.ears.Reception()
	judged, cause := limits.Judge(got)
	if r.silent {
		judged, cause = speech.Deaf, speech.NoSound
	}
	v := verdict{what: "hearing", found: from + fmt.Sprintf("noise floor %.0f dBFS", got.Floor)}
	if got.Words > 0 {
		v.found += fmt.Sprintf(", speech %.0f dBFS, %.0f dB above it, %.1f %% clipped, %q heard: %d, other words: %d",
			got.Speech, got.SNR, 100*got.Clipped, r.want, r.wanted, r.others)
	} else {
		v.found += "; nobody spoke, so nothing is known of the words"
	}
	v.mend = map[speech.Cause]string{
		speech.TooNoisy: fmt.Sprintf("Bring the microphone close to the mouth, as a headset does, or make less noise: below %.0f dB words will soon be missed.", limits.Poor),
		speech.TooWeak:  "Turn the microphone up in the system's sound settings, or bring it closer to the mouth.",
		speech.TooLoud:  "Turn the microphone down in the system's sound settings until nothing is clipped.",
		speech.NoSound:  "It is muted, or not the one you speak into: look in the system's sound settings.",
	}[cause]
	switch {
	case cause == speech.NoSound:
		v.err = errors.New(from + "nothing but digital silence")
	case judged == speech.Deaf:
		v.err = fmt.Errorf("words are missed: %s", v.found)
	case judged == speech.Poor:
		v.err = fmt.Errorf("words will be missed: %s", v.found)
	case r.asked && got.Words == 0:
		v.err = fmt.Errorf("nobody was heard: %s", v.found)
		v.mend = "If you did speak, it is not the microphone that you speak into, or too far away: look in the system's sound settings."
	case r.asked && r.wanted == 0:
		v.err = fmt.Errorf("speech was heard, but %q was not understood: %s", r.want, v.found)
		v.mend = "Try again with a second of quiet before and after the word; `stepcaller voice teach NAME` teaches the ears how you say it."
	}
	return v
}

// checkFile measures what a file holds.
func checkFile(ctx context.Context, c Config, file string) verdict {
	r, err := hearFile(ctx, c, file)
	if err != nil {
		return verdict{what: "hearing", err: err}
	}
	return r.verdict("from " + file + ": ")
}

// checkRoom measures the room at the microphone; where there is none, what the bundled track holds.
func checkRoom(ctx context.Context, w io.Writer, c Config, host *speech.Host) (mic, hearing verdict) {
	mic = verdict{what: "microphone", mend: "Plug in a headset and choose it in the system's sound settings; `microphone` in the configuration picks one by name."}
	source, err := host.OpenMicrophone(speech.DeviceConfig{Name: c.Microphone})
	if err == nil {
		defer source.Close()
	}
	mic.err = err
	mic.found = "it opens"
	var r *room
	from := ""
	switch {
	case mic.err != nil:
		from = "no microphone, so from the bundled track: "
		r, err = hearBundled(ctx, c)
	default:
		if r, err = hearMicrophone(ctx, w, c, source); err != nil {
			mic.err = err
		} else if mic.found = "it gives sound"; r.lost > 0 {
			mic.found += fmt.Sprintf(", %d samples lost", r.lost)
		}
	}
	if err != nil {
		return mic, verdict{what: "hearing", err: err}
	}
	return mic, r.verdict(from)
}
