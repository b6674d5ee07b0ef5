package procedures

// Tightening is one torque of a step: what is tightened, how far, in which order
// and how often.
type Tightening struct {
	Fastener  string // as the technician would call it, with thread and class if known
	Count     int    // how many of them, at least 1
	Value     Torque // the full torque, before any angle
	Angle     int    // degrees to turn further after Value, all angle stages together; 0 for none
	Order     Order  // the pattern to follow, "" where it does not matter
	Stages    []Stage
	Positions []string  // names of the fasteners by number from 1, nil where numbers do
	Lengths   []string  // what goes where: lengths by number from 1, nil where all are alike
	Condition Condition // of the thread, "" where the file does not say
	New       bool      // replaced every time: the technician is asked for the new one
	LeftHand  bool      // left-hand thread
	Again     []Again   // when it is tightened once more
	Low       Low       // why the torque is rightly far from what its thread would bear; "" for no reason
}

// Stage is one round over all fasteners of a tightening.
type Stage struct {
	Name  string // as written: snug, half, 20 N·m, 90°, full
	Value Torque // to this torque; the zero Torque for snug and for an angle
	Angle int    // degrees further, 0 for none
}

// Condition is the state of a thread, on which its friction depends.
type Condition string

// The conditions.
const (
	Dry          Condition = "dry"
	Oiled        Condition = "oiled"
	ThreadLocker Condition = "thread locker"
	Sealant      Condition = "sealant"
)

// Again is an occasion to tighten once more.
type Again string

// The occasions.
const (
	AfterHeat     Again = "after heat"
	AfterRoadTest Again = "after road test"
)

// Low is a reason for a torque that the thread alone would not explain.
type Low string

// The reasons. A tightening with one is not compared with its thread's proof load, and is not asked about for being low; that it may
// be too high, or its stretched bolt worn out, it does not answer.
const (
	SparkPlug      Low = "spark plug"
	DrainPlug      Low = "drain plug"
	BearingPreload Low = "bearing preload"
	IntoAluminium  Low = "into aluminium"
)

// Loosening is a group of fasteners that is slackened in an order.
type Loosening struct {
	Fastener string
	Count    int   // at least 1
	Order    Order // the pattern of tightening, which is followed from its end to its beginning; "" for none
	LeftHand bool  // left-hand thread
}
