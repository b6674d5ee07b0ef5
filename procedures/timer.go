package procedures

// TimerStart is the moment of a step at which its timer starts.
type TimerStart string

// The moments.
const (
	AtEnd   TimerStart = ""      // when the step is done: sealant that must skin over
	AtBegin TimerStart = "begin" // when the step is read: a warm-up
	ByWord  TimerStart = "word"  // when "start timer" is said
)

// Timer is a wait with a name: a sealant's skin, a cool-down.
type Timer struct {
	Name    string // unique in the procedure
	Minutes float64
	From    TimerStart
	Say     string // what is said when it has run out; "" for "NAME: time is up."
}
