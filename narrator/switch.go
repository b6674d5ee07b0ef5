package narrator

// mostChoices is as many as one digit tells apart. Jobs on offer beyond them are at the terminal.
const mostChoices = 9

// leaveJob holds a job that is being left for another.
func (d *decision) leaveJob(j *Job, at Moment) {
	if j != nil && j.Open() && j.Held() == nil {
		d.doubtSilence(j, at)
		d.record(j.ID, at, Held, Detail{Reason: reasonOtherJob})
	}
}

// switchTo leaves the active job for j.
func (d *decision) switchTo(j *Job, at Moment) {
	d.leaveJob(d.job(), at)
	d.record("", at, Switched, Detail{Work: j.ID})
	if j.Held() != nil {
		d.record(j.ID, at, Resumed, Detail{})
	}
	d.changed(d.heard)
}

func (d *decision) others() []*Job {
	var jobs []*Job
	for _, j := range d.bay.Others() {
		if j.ID != d.active {
			jobs = append(jobs, j)
		}
	}
	return jobs
}

func (d *decision) otherJob(h Heard) {
	jobs, offers := d.others(), d.offers()
	switch {
	case len(jobs) == 0 && len(offers) == 0:
		d.reply(replyNoOtherJob)
		return
	case len(jobs) == 0 && len(offers) == 1:
		d.askTakeIt(h, offers[0])
		return
	}
	offers = offers[:min(len(offers), max(0, mostChoices-len(jobs)))]
	var ids []string
	for _, j := range jobs {
		ids = append(ids, j.ID)
	}
	for _, o := range offers {
		ids = append(ids, o.Job)
	}
	d.ask(Question{Kind: AskWhichJob, Word: h, Choices: ids}, d.words.whichJob(jobs, offers))
}
