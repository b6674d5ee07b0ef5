package narrator

import "time"

// Rate is the resolution of job time: units in a second. It equals the sampling rate of everything heard, so that a word's
// first sample is an exact moment.
const Rate = 16000

// Moment is a point in time in units of 1/16 000 s since 1970-01-01T00:00:00Z. The zero Moment means "not yet".
type Moment int64

// Span is a length of time in units of 1/16 000 s.
type Span int64

// Lengths of time.
const (
	Second Span = Rate
	Minute Span = 60 * Second
	Hour   Span = 60 * Minute
)

// MomentOf converts wall time, rounding down to the unit.
func MomentOf(t time.Time) Moment {
	return Moment(t.Unix()*Rate + int64(t.Nanosecond())*Rate/int64(time.Second))
}

// Time converts to wall time in UTC, exact to the nanosecond below.
func (m Moment) Time() time.Time {
	s, rest := int64(m)/Rate, int64(m)%Rate
	if rest < 0 {
		s, rest = s-1, rest+Rate
	}
	return time.Unix(s, rest*int64(time.Second)/Rate).UTC()
}

// Add returns the moment s later.
func (m Moment) Add(s Span) Moment { return m + Moment(s) }

// Since returns the span from earlier to m; negative when earlier is later.
func (m Moment) Since(earlier Moment) Span { return Span(m - earlier) }

// SpanOf converts a duration, rounding to the nearest unit.
func SpanOf(d time.Duration) Span {
	half := int64(time.Second) / Rate / 2
	whole, rest := int64(d)/int64(time.Second), int64(d)%int64(time.Second)
	return Span(whole*Rate + (rest+half)*Rate/int64(time.Second))
}

// Minutes returns the span of m minutes, rounded to the unit.
func Minutes(m float64) Span { return Span(m*float64(Minute) + 0.5) }

// Duration converts to a duration, exact to the nanosecond below.
func (s Span) Duration() time.Duration {
	return time.Duration(int64(s)/Rate)*time.Second + time.Duration(int64(s)%Rate*int64(time.Second)/Rate)
}

// Seconds converts to seconds.
func (s Span) Seconds() float64 { return float64(s) / Rate }

func later(a, b Moment) Moment {
	if a > b {
		return a
	}
	return b
}
