package labour

// Record is what a job sheet tells besides times. What was taken back is left out of its lists.
type Record struct {
	Kind        string       `json:"kind"`        // who pays, or why nobody does: customer, warranty, internal, goodwill, comeback
	Earlier     string       `json:"earlier"`     // id of the job that a comeback comes back from, "" for none
	Draft       bool         `json:"draft"`       // the procedure was a draft that nobody had reviewed
	Facts       []Fact       `json:"facts"`       // as typed in, in the order of a job sheet
	Tightenings []Tightening `json:"tightenings"` // in order of time
	Readings    []Reading    `json:"readings"`    // in order of time; of several at one place the last counts
	Findings    []Finding    `json:"findings"`    // by number
	Timers      []Timer      `json:"timers"`      // in the order started
	Choices     []Choice     `json:"choices"`     // in order of time; of several for one choice the last counts
	Answers     []Answer     `json:"answers"`     // to cautions, in order of time
	PutRight    []PutRight   `json:"put_right"`   // open items spoken for when the job was to be finished, in order of time
	Open        []Item       `json:"left"`        // what is off, open, loose or in as the sheet is drawn, oldest first
	Tools       Tools        `json:"tools"`       //
	Dictated    []Dictated   `json:"dictated"`    // of a job without a procedure, in order
	Parts       []Part       `json:"parts"`       // that the procedure lists, for the job and for the steps that were come to
}

// Part is a part or material that the procedure lists.
type Part struct {
	Step   string `json:"step"`   // id, "" for the whole job
	Part   string `json:"part"`   // with its count
	Number string `json:"number"` // the maker's part number, "" for none
	Core   bool   `json:"core"`   // the old one is kept
}

// Fact is something that was typed in.
type Fact struct {
	Field string `json:"field"` // complaint, cause, correction ...
	Title string `json:"title"`
	Value string `json:"value"`
}

// Tightening is one fastener at one stage, called and done.
type Tightening struct {
	Step      string  `json:"step"` // id
	Fastener  string  `json:"fastener"`
	Number    int     `json:"number"`   // by the pattern, from 1
	Position  string  `json:"position"` // name of the place, "" where the number is all
	Stage     int     `json:"stage"`    // from 1
	StageName string  `json:"stage_name"`
	Written   string  `json:"value"`    // as the procedure has it; "" for an angle or snug
	Value     float64 `json:"value_nm"` // 0 for an angle or snug
	Wrench    string  `json:"wrench"`   // by its name in the configuration, "" for none
	At        Seconds `json:"at_s"`
}

// Reading is a figure that was taken. Its limits are the procedure's, as written.
type Reading struct {
	Step     string  `json:"step"` // id
	Name     string  `json:"reading"`
	Position string  `json:"position"` // "" for the only place
	When     string  `json:"when"`     // before or after the repair, "" for neither
	Amount   string  `json:"amount"`   // decimal number as said
	Unit     string  `json:"unit"`
	Min      *string `json:"min"`    // decimal number, null for none
	Max      *string `json:"max"`    // likewise
	Wear     *string `json:"wear"`   // likewise
	Judged   string  `json:"judged"` // inside, below, above, worn; "" without limits
	Before   *string `json:"before"` // what the same reading gave before the repair, on one after it; null for nothing
	At       Seconds `json:"at_s"`
}

// The states of a finding.
const (
	FindingNoted    = "noted" // nobody was asked
	FindingAsked    = "asked" // nobody has ruled
	FindingApproved = "approved"
	FindingDeclined = "declined"
)

// Finding is something else that is worn, or extra work that a choice turned up.
type Finding struct {
	Number   int      `json:"number"`
	Step     string   `json:"step"`     // id of the step at which it was found
	Choice   string   `json:"choice"`   // of the procedure, "" for none
	Reading  string   `json:"reading"`  // that was out of its limits, "" for none
	Position string   `json:"position"` // of that reading
	State    string   `json:"state"`
	By       string   `json:"by"` // who approved or declined, "" when nobody said
	Found    Seconds  `json:"found_s"`
	Asked    *Seconds `json:"asked_s"`  // null when nobody was
	Ruled    *Seconds `json:"ruled_s"`  // null when nobody has
	Waited   Seconds  `json:"waited_s"` // from asked to ruled, or to the end of the sheet
	Paused   Seconds  `json:"paused_s"` // of that, on hold for approval
	Notes    []string `json:"notes"`    // files of the spoken notes, relative to the data folder
}

// Timer is a wait that was started.
type Timer struct {
	Step    string   `json:"step"` // id of the step that started it
	Name    string   `json:"timer"`
	Length  Seconds  `json:"length_s"`
	Started Seconds  `json:"started_s"`
	Rang    *Seconds `json:"rang_s"` // null while its end is not announced
}

// Choice is what the vehicle or its owner said to a choice of the procedure.
type Choice struct {
	Choice string  `json:"choice"` // id
	Ask    string  `json:"ask"`    // the question
	Yes    bool    `json:"yes"`
	At     Seconds `json:"at_s"`
}

// Answer is a caution that was answered by the thing itself.
type Answer struct {
	Step    string  `json:"step"` // id
	Caution string  `json:"caution"`
	Word    string  `json:"word"`
	At      Seconds `json:"at_s"`
}

// PutRight is an open item that was spoken for.
type PutRight struct {
	Item   string  `json:"item"`
	State  string  `json:"state"`  // in which it was: off, stuffed, finger-tight ...
	Reason string  `json:"reason"` // why it stays so, "" when it was put right by hand
	At     Seconds `json:"at_s"`
}

// Item is something that is off, open, loose or in.
type Item struct {
	Item   string `json:"item"` // with its count
	State  string `json:"state"`
	Step   string `json:"step"`   // id of the step that left it so
	Reason string `json:"reason"` // that was given for it, "" for none
}

// Tools are the tools taken to the vehicle.
type Tools struct {
	Taken   []string `json:"taken"`
	Counted *Seconds `json:"counted_s"` // when they were last counted, null when they were not
	Back    bool     `json:"back"`      // all were there
}

// Dictated is something said in a job without a procedure.
type Dictated struct {
	Part   string   `json:"part"`   // step, off, on, torque, reading
	Number int      `json:"number"` // of a step, or of a thing that came off; 0 for a torque or a reading
	Value  string   `json:"value"`  // of a torque, with its unit, or a reading; else ""
	Step   int      `json:"step"`   // number of the step in which it was said, 0 before the first
	At     Seconds  `json:"at_s"`
	Worked *Seconds `json:"worked_s"` // of a step; null for others
	Notes  []string `json:"notes"`    // files of the spoken notes, relative to the data folder
}
