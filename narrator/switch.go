package narrator

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
	jobs := d.others()
	if len(jobs) == 0 {
		d.reply(replyNoOtherJob)
		return
	}
	var ids []string
	for _, j := range jobs {
		ids = append(ids, j.ID)
	}
	d.ask(Question{Kind: AskWhichJob, Word: h, Choices: ids}, d.words.whichJob(jobs))
}
