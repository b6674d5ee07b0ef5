package labour

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
)

// WriteJSON writes a sheet as indented JSON with a final line feed.
func WriteJSON(w io.Writer, s Sheet) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return fmt.Errorf("write labour sheet of job %s: %w", s.Job, err)
	}
	return nil
}

// WriteCSV writes a sheet's steps as RFC 4180 has it: a header whose names carry the units, then one row a step. What is
// null in JSON is empty here.
func WriteCSV(w io.Writer, s Sheet) error {
	rows := [][]string{{"job", "number", "id", "title", "started_s", "ended_s", "worked_s", "paused_s", "gap_s", "unsure_s",
		"visits", "expected_s", "expected_from", "over_s"}}
	for _, step := range s.Steps {
		rows = append(rows, []string{s.Job, strconv.Itoa(step.Number), step.ID, step.Title,
			inMillis(&step.Started), inMillis(&step.Ended), inMillis(&step.Worked), inMillis(&step.Paused), inMillis(&step.Gap),
			inMillis(&step.Unsure), strconv.Itoa(step.Visits), inMillis(step.Expected), string(step.ExpectedFrom), inMillis(step.Over)})
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("write steps of job %s: %w", s.Job, err)
	}
	return nil
}

func inMillis(s *Seconds) string {
	if s == nil {
		return ""
	}
	return strconv.FormatFloat(float64(*s), 'f', 3, 64)
}
