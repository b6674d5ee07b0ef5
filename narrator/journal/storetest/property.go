package storetest

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// testProperty appends any events, some of them out of sequence, and keeps a plain list beside the store: what the store
// took must read back equal, what it refused must have left nothing.
func testProperty(t *testing.T, open func(t *testing.T) journal.Store) {
	s := open(t)
	runs := 0
	rapid.Check(t, func(r *rapid.T) {
		runs++
		logs := map[string][]narrator.Event{}
		// Every run has jobs of its own, as opening a database takes longer than a run.
		jobs := []string{fmt.Sprint(runs, "-a"), fmt.Sprint(runs, "-b"), fmt.Sprint(runs, "-é ")}
		for range rapid.IntRange(1, 8).Draw(r, "appends") {
			batch, whole := drawBatch(r, jobs, logs)
			err := s.Append(r.Context(), batch)
			if (err == nil) != whole {
				r.Fatalf("Append of %v: %v, though in sequence: %v", batch, err, whole)
			}
			if whole {
				for _, e := range batch {
					logs[e.Job] = append(logs[e.Job], e)
				}
			}
		}
		for job, log := range logs {
			wantLog(r, s, job, log)
		}
	})
}

// drawBatch makes events that continue the logs, or with one out of sequence among them.
func drawBatch(r *rapid.T, jobs []string, logs map[string][]narrator.Event) (batch []narrator.Event, whole bool) {
	next := map[string]int64{}
	for _, job := range jobs {
		next[job] = int64(len(logs[job])) + 1
	}
	whole = true
	for range rapid.IntRange(1, 5).Draw(r, "events") {
		e := drawEvent(r)
		e.Job = rapid.SampledFrom(jobs).Draw(r, "job")
		e.Seq = next[e.Job]
		if rapid.IntRange(0, 9).Draw(r, "slip") == 0 {
			e.Seq += rapid.SampledFrom([]int64{-1, 1, 100}).Draw(r, "by")
			whole = false
		}
		next[e.Job]++
		batch = append(batch, e)
	}
	return batch, whole
}

func drawEvent(r *rapid.T) narrator.Event {
	number, text := rapid.Int64(), rapid.String()
	return narrator.Event{
		Act:   number.Draw(r, "act"),
		At:    narrator.Moment(number.Draw(r, "at")),
		Noted: narrator.Moment(number.Draw(r, "noted")),
		Kind:  rapid.SampledFrom([]narrator.Kind{narrator.Opened, narrator.Word, narrator.Undone, narrator.Measured, narrator.Ruled}).Draw(r, "kind"),
		Detail: narrator.Detail{
			Text:         text.Draw(r, "text"),
			Word:         text.Draw(r, "word"),
			Score:        rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64).Draw(r, "score"),
			NewtonMetres: rapid.Float64Range(0, 1).Draw(r, "newton metres"),
			From:         narrator.Moment(number.Draw(r, "from")),
			Length:       narrator.Span(number.Draw(r, "length")),
			Ref:          number.Draw(r, "ref"),
			Worked:       rapid.Bool().Draw(r, "worked"),
			Volume:       rapid.Int().Draw(r, "volume"),
			Verdict:      narrator.Verdict(text.Draw(r, "verdict")),
			SNR:          rapid.Float64Range(-90, 90).Draw(r, "snr"),
			Amount:       text.Draw(r, "amount"),
			When:         text.Draw(r, "when"),
			Finding:      rapid.Int().Draw(r, "finding"),
			On:           rapid.Bool().Draw(r, "on"),
		},
	}
}
