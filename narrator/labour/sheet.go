// Package labour holds a job's times against the book: what was worked, what stood still and why, step by step and person
// by person.
//
// It is pure: [Of] reads a job and a moment. Sums are taken over exact sample counts and rounded once, when they are put
// on the sheet.
package labour

import "time"

// Schema is the version of a sheet's JSON. Fields are only ever added to it, so it stays 1 until one changes its meaning.
const Schema = 1

// Sheet is one job's labour. Its JSON is a contract: names and units stay. Times named ..._s are seconds, rounded to the
// millisecond; those that are moments count from the job's start. No list is ever null.
type Sheet struct {
	Schema    int    `json:"schema"`
	Job       string `json:"job"`
	Procedure string `json:"procedure"` // id
	State     State  `json:"state"`

	BookHours float64 `json:"book_hours"` // the operations' sum less the overlap
	Elapsed   Seconds `json:"elapsed_s"`  // worked + paused + unsure + gap
	Worked    Seconds `json:"worked_s"`
	Paused    Seconds `json:"paused_s"`
	Unsure    Seconds `json:"unsure_s"` // nobody has said whether it was worked
	Gap       Seconds `json:"gap_s"`    // the program did not run

	Steps   []Step   `json:"steps"`   // in the order of first visits
	Torques []Torque `json:"torques"` // in the order read out
	Pauses  []Pause  `json:"pauses"`  // in order of time; they do not overlap
	Memos   []Memo   `json:"memos"`   // in the order spoken

	Order          string       `json:"order"`            // work-order number, "" for none
	Odometer       string       `json:"odometer"`         // as read, "" for none
	Technicians    []Technician `json:"technicians"`      // in the order of joining
	PersonWorked   Seconds      `json:"person_worked_s"`  // the technicians' times added up
	Operations     []Operation  `json:"operations"`       // as booked
	OverlapHours   float64      `json:"overlap_hours"`    // what the operations save together
	WorkedTenths   int64        `json:"worked_tenths"`    // worked time in tenths of an hour, half up
	WorkedHours    float64      `json:"worked_hours"`     // the same in hours
	Efficiency     *float64     `json:"efficiency"`       // book / worked, 3 decimals; null when nothing was worked or no book time is known
	PausesByReason []Standstill `json:"pauses_by_reason"` // longest first
	LongestOver    []string     `json:"longest_over"`     // ids of at most 5 steps, the furthest over its expected time first
	Timeline       []Stretch    `json:"timeline"`         // from the start to the end, or to now
	StartedAt      time.Time    `json:"started_at"`       // RFC 3339, UTC, rounded down to the millisecond
	Hearing        []Hearing    `json:"hearing"`          // in order of time: when it changed, once a step, every ten minutes

	Bays []Bay `json:"bays,omitempty"` // in order of time; left out for a job that stayed at its bay

	Corrections []Correction `json:"corrections"` // in the order written, those withdrawn included
	Remarks     []Remark     `json:"remarks"`     // likewise

	Record
}

// State says how far a job is.
type State string

// The states.
const (
	Finished State = "finished"
	Open     State = "open"
)

// Step is the time of one step, all visits to it together.
type Step struct {
	ID           string   `json:"id"`
	Number       int      `json:"number"`    // its place in the procedure, from 1
	Title        string   `json:"title"`     //
	Started      Seconds  `json:"started_s"` // first arrival
	Ended        Seconds  `json:"ended_s"`   // last moment at which it was current; now, when it still is
	Worked       Seconds  `json:"worked_s"`
	Paused       Seconds  `json:"paused_s"`
	Gap          Seconds  `json:"gap_s"`
	Unsure       Seconds  `json:"unsure_s"`
	Visits       int      `json:"visits"`
	Expected     *Seconds `json:"expected_s"`    // null when there is nothing to go by
	ExpectedFrom Basis    `json:"expected_from"` //
	Over         *Seconds `json:"over_s"`        // worked less expected, negative for under; null without an expected time
	Operations   []string `json:"operations"`    // codes of the operations that need it; none: all of them do
}

// Basis says where a step's expected time is from.
type Basis string

// The bases.
const (
	FromFile Basis = "file" // the procedure gives the step's minutes
	FromBook Basis = "book" // an equal share of the book time that is left
	NoBasis  Basis = "none" // nothing is left to share
)

// Torque is a torque that was read out to be worked to.
type Torque struct {
	Step     string  `json:"step"` // id
	Fastener string  `json:"fastener"`
	Value    float64 `json:"value_nm"`
	At       Seconds `json:"at_s"`
	Undone   bool    `json:"undone"`
}

// Unstated is the reason of a pause for which none was given.
const Unstated = "unstated"

// Pause is an unbroken spell of paused time with one reason, as it stands after corrections.
type Pause struct {
	Reason string  `json:"reason"`
	From   Seconds `json:"from_s"`
	To     Seconds `json:"to_s"`
}

// Standstill is all paused time of one reason.
type Standstill struct {
	Reason string  `json:"reason"`
	Paused Seconds `json:"paused_s"`
	Times  int     `json:"times"` // spells
}

// Memo is a spoken note.
type Memo struct {
	File   string  `json:"file"` // relative to the data folder
	At     Seconds `json:"at_s"`
	Length Seconds `json:"length_s"`
	Undone bool    `json:"undone"`

	Finding int `json:"finding"` // number of the finding that it is about, 0 for none
}

// Hearing is how well words were heard, from a moment on. Levels are 10 log10 of the mean square, full scale 1.
type Hearing struct {
	At      Seconds  `json:"at_s"`
	Verdict string   `json:"verdict"`     // good, poor (words will be missed before long), deaf (many are); "" before anybody spoke
	Cause   string   `json:"cause"`       // noise, weak, clipped, silent; "" when all is well
	Floor   float64  `json:"floor_dbfs"`  // of the noise
	Speech  *float64 `json:"speech_dbfs"` // null before anybody spoke
	SNR     *float64 `json:"snr_db"`      // null likewise
	Clipped float64  `json:"clipped"`     // share of the speech at full scale, 0..1
}

// Technician is one person's share: the worked time while on the job.
type Technician struct {
	Name   string  `json:"name"`
	Worked Seconds `json:"worked_s"`
}

// Operation is one line of the labour guide that the job is booked under.
type Operation struct {
	Code  string  `json:"code"`
	Title string  `json:"title"`
	Hours float64 `json:"hours"`

	Diagnosis bool    `json:"diagnosis"` // the work of finding the fault, not of mending it
	Worked    Seconds `json:"worked_s"`  // on the steps that no other operation needs
	Shared    Seconds `json:"shared_s"`  // on the steps that it needs together with others
}
