package narrator

// Stay is the time for which a bay had a job. To is zero while it lasts.
type Stay struct {
	Bay      string // "" where the log does not name it: the bay whose log this is
	From, To Moment
}

// handed gives the job away: it is another bay's from now on, or nobody's until one takes it over. The crew goes, the clock stands still.
func (j *Job) handed(e Event) {
	if len(j.Stays) == 0 {
		j.Stays = []Stay{{From: j.Start}}
	}
	j.Stays[len(j.Stays)-1].To = e.At
	j.gone, j.forced, j.to, j.boundary = true, e.On, e.To, e.Act
	j.crewLeaves(e.At)
	if j.Open() {
		j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: Paused, Reason: reasonHandover, From: e.At})
	}
}

// takenOver begins another bay's time with the job: work goes on, and whoever takes it answers for its cautions. Where the job was taken by
// force the time since the last that is known of it is part of the handover, unless it was on hold.
func (j *Job) takenOver(e Event) {
	if !j.gone {
		last := min(j.known, e.At)
		if j.Held() == nil && last < e.At {
			j.Spells = append(j.Spells, Spell{Seq: e.Seq, What: Paused, Reason: reasonHandover, From: last, To: e.At})
		}
		if len(j.Stays) == 0 {
			j.Stays = []Stay{{From: j.Start}}
		}
		j.Stays[len(j.Stays)-1].To = last
		j.crewLeaves(last)
	}
	for i := range j.Spells {
		if s := &j.Spells[i]; s.To == 0 {
			s.To = e.At
		}
	}
	j.Stays[len(j.Stays)-1].Bay = e.Bay
	j.Stays = append(j.Stays, Stay{Bay: e.To, From: e.At})
	j.gone, j.to, j.boundary, j.answers = false, "", e.Act, nil
	j.Heard = later(j.Heard, e.At)
	if e.Technician != "" {
		j.Crew = append(j.Crew, Shift{Technician: e.Technician, From: e.At})
	}
}

func (j *Job) crewLeaves(at Moment) {
	for i := range j.Crew {
		if s := &j.Crew[i]; s.To == 0 {
			s.To = at
		}
	}
}

// Elsewhere reports whether the job is no longer the bay's whose log this is, and which bay it was given to, "" for any.
func (j *Job) Elsewhere() (to string, gone bool) { return j.to, j.gone }

// TakenByForce reports whether another bay took the job by force: what this bay has of it since is a story of its own.
func (j *Job) TakenByForce() bool { return j.forced }

// Here reports whether the job is open and the bay's own.
func (j *Job) Here() bool { return j.Open() && !j.gone }

// elsewhere says who has a job that is no longer here.
func (w wording) elsewhere(j *Job) string {
	if j.to == "" {
		return w.F(replyHandedOver)
	}
	return w.F("That job is with bay %s.", j.to)
}
