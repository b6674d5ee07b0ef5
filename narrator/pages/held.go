package pages

import (
	"net/http"

	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
)

// held marks on a job's page what the other jobs of its procedure say of each step. Where they cannot be read the page is shown without.
func (s *server) held(r *http.Request, page *jobPage) {
	if s.Archive == nil || page.Dictated || s.Archive.CatchUp(r.Context()) != nil {
		return
	}
	review, err := s.Archive.Review(r.Context(), page.Sheet)
	if err != nil || len(review.Steps) != len(page.Steps) {
		return
	}
	page.Others, page.Comebacks = review.Count, labour.Seconds(60*review.Comebacks)
	longest := 1.0 / 60
	for i, step := range review.Steps {
		longest = max(longest, step.Worked, step.Expected.Minutes)
		if step.Next != nil && page.Sheet.State != labour.Open {
			longest = max(longest, min(step.Next.High, 3*max(step.Worked, step.Expected.Minutes)))
		}
		page.Steps[i].Basis = step.Expected.Basis
	}
	bar := func(minutes float64) float64 { return min(100, 100*minutes/longest) }
	for i, step := range review.Steps {
		row := &page.Steps[i]
		row.Worked = bar(step.Worked)
		if step.Expected.Basis != figures.NoBasis {
			expected, over := labour.Seconds(60*step.Expected.Minutes), labour.Seconds(60*(step.Worked-step.Expected.Minutes))
			row.Expected, row.Step.Expected, row.Step.Over = bar(step.Expected.Minutes), &expected, &over
		}
		if step.Next != nil {
			row.Low, row.High = bar(step.Next.Low), bar(step.Next.High)
			row.Upper = labour.Seconds(60 * step.Next.High)
		}
		if row.Long = step.Long; row.Long {
			row.What = s.write.happenings(step.Happened)
		}
	}
}

// happenings tells what took place within a step.
func (w writer) happenings(all []figures.Happening) []string {
	var texts []string
	for _, h := range all {
		switch h.What {
		case figures.Paused:
			texts = append(texts, w.F("stood still for %s: %s", w.hoursMinutes(h.Length), w.reason(h.Text)))
		case figures.Noted:
			texts = append(texts, w.F("spoken note"))
		case figures.Found:
			texts = append(texts, w.F("finding %d", h.Finding))
		case figures.WentBack:
			texts = append(texts, w.F("gone back to"))
		case figures.Waited:
			texts = append(texts, w.F("timer: %s", h.Text))
		case figures.OutOfLimits:
			texts = append(texts, w.F("out of limits: %s", h.Text))
		case figures.NotAccounted:
			texts = append(texts, w.F("%s not accounted for", w.hoursMinutes(h.Length)))
		case figures.Remarked:
			texts = append(texts, w.F("remark: %s", h.Text))
		case figures.Corrected:
			texts = append(texts, w.F("corrected: %s", h.Text))
		}
	}
	if len(texts) == 0 {
		texts = append(texts, w.F("nothing was noted in it"))
	}
	return texts
}

// what names a thing that took place.
func (w writer) what(what figures.What) string {
	switch what {
	case figures.Paused:
		return w.F("stood still")
	case figures.Noted:
		return w.F("spoken note")
	case figures.Found:
		return w.F("finding")
	case figures.WentBack:
		return w.F("gone back to")
	case figures.Waited:
		return w.F("timer")
	case figures.OutOfLimits:
		return w.F("reading out of limits")
	case figures.NotAccounted:
		return w.F("time not accounted for")
	case figures.Remarked:
		return w.F("remark")
	case figures.Corrected:
		return w.F("correction")
	}
	return string(what)
}

// why names why a job is no sample.
func (w writer) why(why figures.Why) string {
	switch why {
	case figures.IsSample:
		return ""
	case figures.Dictated:
		return w.F("without a procedure")
	case figures.Comeback:
		return w.F("comeback")
	case figures.Draft:
		return w.F("by a draft")
	case figures.Helped:
		return w.F("several technicians")
	case figures.CutShort:
		return w.F("cut short")
	case figures.Unsure:
		return w.F("much time not accounted for")
	}
	return string(why)
}

// basis names where an expected time comes from.
func (w writer) basis(b figures.Basis) string {
	switch b {
	case figures.FromFile:
		return w.F("the procedure")
	case figures.Learnt:
		return w.F("learnt")
	case figures.FromBook:
		return w.F("share of the book")
	}
	return w.F("nothing to go by")
}
