package main

import (
	"context"
	"fmt"
	"math"

	"stepcaller/narrator"
	"stepcaller/speech"
)

// The narrator is told how well the ears hear whenever that changes, and this often; less often while the journal refuses it.
const (
	measureEvery   = 10 * narrator.Second
	measureRefused = 60 * narrator.Second
)

// measure tells the narrator how well the ears hear, but not while somebody speaks.
func (s *Session) measure(ctx context.Context) error {
	now, r := s.Now(), s.Ears.Reception()
	every := measureEvery
	if s.unmeasured {
		every = measureRefused
	}
	turned := r.Verdict != s.reception.Verdict || r.Cause != s.reception.Cause
	if s.Ears.Speaking() || now.Since(s.measured) < every && (!turned || s.unmeasured) {
		return nil
	}
	s.reception, s.measured = r, now
	if err := s.take(ctx, receptionAt(now, r)); err != nil {
		return err
	}
	s.unmeasured = s.refused != nil
	return nil
}

// receptionAt puts what the ears measured in the narrator's terms, to a tenth of a dB and a thousandth.
func receptionAt(at narrator.Moment, r speech.Reception) narrator.Reception {
	tenth := func(v float64) float64 { return math.Round(v*10) / 10 }
	verdict, cause := narrator.NotYetHeard, ""
	switch r.Verdict {
	case speech.Good:
		verdict = narrator.HearsWell
	case speech.Poor:
		verdict = narrator.HearsPoorly
	case speech.Deaf:
		verdict = narrator.IsDeaf
	}
	switch r.Cause {
	case speech.TooNoisy:
		cause = narrator.CauseNoise
	case speech.TooWeak:
		cause = narrator.CauseWeak
	case speech.TooLoud:
		cause = narrator.CauseClipped
	case speech.NoSound:
		cause = narrator.CauseSilent
	}
	return narrator.Reception{At: at, Verdict: verdict, Cause: cause, Floor: tenth(r.Floor), Speech: tenth(r.Speech), SNR: tenth(r.SNR),
		Clipped: math.Round(r.Clipped*1000) / 1000}
}

// receptionText words how well the ears hear for the terminal.
func receptionText(d narrator.Detail) string {
	text := map[narrator.Verdict]string{
		narrator.NotYetHeard: "nobody spoke lately", narrator.HearsWell: "hears well", narrator.HearsPoorly: "hears poorly", narrator.IsDeaf: "hardly hears",
	}[d.Verdict]
	if why := map[string]string{
		narrator.CauseNoise: "too much noise", narrator.CauseWeak: "too soft", narrator.CauseClipped: "the microphone clips",
		narrator.CauseSilent: "the microphone gives no sound",
	}[d.Cause]; why != "" {
		text += ", " + why
	}
	text += fmt.Sprintf(": noise %.0f dBFS", d.Floor)
	if d.Speech != 0 {
		text += fmt.Sprintf(", speech %.0f dBFS, %.0f dB above it", d.Speech, d.SNR)
	}
	if d.Clipped > 0 {
		text += fmt.Sprintf(", %.0f %% clipped", 100*d.Clipped)
	}
	return text
}
