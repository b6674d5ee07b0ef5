package hearing

// Report is what a [Test] measured. In JSON its field names are a contract: they
// are added to, never changed. Shares are from 0 to 1; limits are 95 %.
type Report struct {
	Engines  []Result  `json:"engines"`
	Settings Settings  `json:"settings"`
	Skipped  []Skipped `json:"skipped"`
}

// Settings are what the figures hold for.
type Settings struct {
	Live        []string `json:"live"`              // phrases that could be obeyed
	Clips       int      `json:"clips"`             // of live phrases
	Ignored     int      `json:"clips_to_ignore"`   // of other words
	Talk        int      `json:"talk_files"`        // recordings
	Noise       int      `json:"noise_files"`       // recordings, mixed in and heard alone
	SpeechLevel *float64 `json:"speech_level_dbfs"` // active level that speech was brought to; null where it was kept
	DitherLevel float64  `json:"dither_level_dbfs"`
	LeadIn      float64  `json:"lead_in_s"`
	Tail        float64  `json:"tail_s"`
	Seed        uint64   `json:"seed"`
}

// Result is what one engine did.
type Result struct {
	Name           string      `json:"name"`
	Conditions     []Condition `json:"conditions"`
	Ignored        Ignored     `json:"ignored"`
	Talk           Stream      `json:"talk"`
	Noise          Stream      `json:"noise"`
	Latency        Spread      `json:"latency_ms"`       // from the end of a word to its decision: clean clips accepted right, those with a quiet background if there are any
	StartError     Spread      `json:"start_error_ms"`   // distance of a word's time from its first active sample: the same clips
	RealTimeFactor float64     `json:"real_time_factor"` // processor time over the time of the clips' sound
	Phrases        []Phrase    `json:"phrases"`
	Confusion      []Confusion `json:"confusion"` // every pair that occurred

	utterances []utterance
}

// Condition is how clips of live phrases were taken at one signal to noise ratio.
// AcceptedRight, AcceptedWrong and Missed add up to 1.
type Condition struct {
	SNR           *float64 `json:"snr_db"` // null when clean
	N             int      `json:"n"`
	Forced        float64  `json:"forced"`         // share whose nearest live phrase is the right one, whatever its score
	AcceptedRight float64  `json:"accepted_right"` // share obeyed as what was said, and as nothing else
	AcceptedWrong float64  `json:"accepted_wrong"` // share obeyed as something else
	Missed        float64  `json:"missed"`         // share not obeyed
	Asked         float64  `json:"asked"`          // share missed but asked about with the right phrase

	Counts Counts `json:"counts"`
	Limits struct {
		Forced        Interval `json:"forced"`
		AcceptedRight Interval `json:"accepted_right"`
		AcceptedWrong Interval `json:"accepted_wrong"`
		Missed        Interval `json:"missed"`
	} `json:"limits"`
	Words WordErrors `json:"words"` // what was obeyed against what was said, by alignment
}

// Counts are the numbers behind a condition's shares.
type Counts struct {
	Forced        int `json:"forced"`
	AcceptedRight int `json:"accepted_right"`
	AcceptedWrong int `json:"accepted_wrong"`
	Missed        int `json:"missed"`
	Asked         int `json:"asked"`
	AskedWrong    int `json:"asked_wrong"` // missed, and asked about with a wrong phrase only
}

// Ignored is how clean clips of words outside the live phrases were taken.
type Ignored struct {
	N        int            `json:"n"`
	Accepted int            `json:"accepted"` // obeyed as anything
	Share    float64        `json:"share"`    // accepted, of n
	Limits   Interval       `json:"limits"`   // of share
	Asked    int            `json:"asked"`    // not obeyed, but asked about
	By       []IgnoredNoise `json:"conditions"`
}

// IgnoredNoise is the same at one signal to noise ratio.
type IgnoredNoise struct {
	SNR      *float64 `json:"snr_db"` // null when clean
	N        int      `json:"n"`
	Accepted int      `json:"accepted"`
	Asked    int      `json:"asked"`
}

// Stream is how recordings that hold no command were taken.
type Stream struct {
	Hours        float64   `json:"hours"`
	FalseAccepts int       `json:"false_accepts"` // obeyed
	Asked        int       `json:"asked"`
	PerHour      *float64  `json:"per_hour"`        // false accepts; null without recordings
	Limits       []float64 `json:"limits_per_hour"` // lower and upper, exact; null without recordings
	Upper        *float64  `json:"upper_per_hour"`  // one-sided upper limit; null without recordings
	Accepted     []Accept  `json:"accepted"`        // each of them
}

// Accept is one false accept.
type Accept struct {
	File   string  `json:"file"`
	AtS    float64 `json:"at_s"` // seconds into the file
	Phrase string  `json:"phrase"`
	Score  float64 `json:"score"`
}

// Spread is the middle and the far end of some measurements; null without any.
type Spread struct {
	P50 *float64 `json:"p50"`
	P95 *float64 `json:"p95"`
	N   int      `json:"n"`
}

// Phrase is how one phrase was taken over all conditions.
type Phrase struct {
	Phrase        string `json:"phrase"`
	N             int    `json:"n"`
	Forced        int    `json:"forced"`
	AcceptedRight int    `json:"accepted_right"`
	AcceptedWrong int    `json:"accepted_wrong"`
}

// Confusion counts, over all conditions, how often what was said was taken for a
// live phrase. Of words to be ignored only what was obeyed is counted.
type Confusion struct {
	Said    string `json:"said"`
	Heard   string `json:"heard"`
	Nearest int    `json:"nearest"` // clips whose nearest live phrase it was
	Obeyed  int    `json:"obeyed"`  // times it was obeyed
}
