package narrator

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Field is a fact of a job that is typed in at the terminal.
type Field struct {
	Key   string // as stored
	Title string // as shown
	Of    string // what to type
}

// Fields is the table of what may be typed in, in the order in which a job sheet shows it.
func Fields() []Field {
	return []Field{
		{"complaint", "Complaint", "what the customer said is wrong"},
		{"cause", "Cause", "what was found to be wrong"},
		{"correction", "Correction", "what was done about it"},
		{"odometer out", "Odometer out", "as read when the vehicle leaves, with its unit"},
		{"code before", "Codes before", "fault codes read before the repair"},
		{"code after", "Codes after", "fault codes read after it"},
		{"failed part", "Failed part", "name of the part that failed"},
		{"failed number", "Failed part number", "the maker's number of it"},
		{"core", "Cores kept", "old parts kept to be sent back"},
		{"tool missing", "Tool not found", "a tool that did not come back, and where it may be; then the job can be finished"},
	}
}

// longestFact is how much may be typed into a field, in bytes.
const longestFact = 4000

// CheckFact says what is wrong with a field or its value, nil for nothing. An empty value takes the fact out.
func CheckFact(field, value string) error {
	var keys []string
	for _, f := range Fields() {
		keys = append(keys, f.Key)
	}
	switch {
	case !slices.Contains(keys, field):
		return fmt.Errorf("there is no field %q; use one of: %s", field, strings.Join(keys, ", "))
	case !utf8.ValidString(value):
		return fmt.Errorf("%s: the text is not UTF-8; save it as UTF-8", field)
	case len(value) > longestFact:
		return fmt.Errorf("%s: %d bytes; write at most %d", field, len(value), longestFact)
	}
	return nil
}

// JobKinds lists who pays for a job, or why nobody does: the first where nothing is said.
func JobKinds() []string { return []string{"customer", "warranty", "internal", "goodwill", comeback} }

// comeback is the kind of a job that an earlier job made necessary.
const comeback = "comeback"

// CheckJobKind says what is wrong with the kind of a job, nil for nothing. A comeback names the earlier job; no other kind does.
func CheckJobKind(kind, earlier string) error {
	switch {
	case kind != "" && !slices.Contains(JobKinds(), kind):
		return fmt.Errorf("there is no kind of job %q; use one of: %s", kind, strings.Join(JobKinds(), ", "))
	case kind == comeback && earlier == "":
		return fmt.Errorf("a comeback comes back from an earlier job; name it")
	case kind != comeback && earlier != "":
		return fmt.Errorf("only a comeback names an earlier job; leave %s out, or make the job a comeback", earlier)
	}
	return nil
}

// Fact is what was typed into a field last, "" for nothing.
func (j *Job) Fact(field string) string { return j.facts[field] }

func (j *Job) entered(e Event) {
	if j.facts == nil {
		j.facts = map[string]string{}
	}
	if e.Value == "" {
		delete(j.facts, e.Field)
		return
	}
	j.facts[e.Field] = e.Value
}
