package archive

import (
	"encoding/binary"
	"errors"
	"slices"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// packSteps writes the steps of a job: of each its index in the procedure, its worked milliseconds, and what happened with, in the lowest bit,
// whether it is clean; all as unsigned varints.
func packSteps(steps []figures.StepSample, p *procedures.Procedure) []byte {
	var b []byte
	for _, s := range steps {
		i, _ := p.Index(s.ID)
		flags := uint64(s.Happened) << 1
		if s.Clean {
			flags |= 1
		}
		b = binary.AppendUvarint(b, uint64(i))
		b = binary.AppendUvarint(b, uint64(millis(s.Worked)))
		b = binary.AppendUvarint(b, flags)
	}
	return b
}

var errPacked = errors.New("the times of a job are cut short")

// numbers takes so many unsigned varints off what was packed.
func numbers(packed []byte, into []uint64) ([]byte, error) {
	for i := range into {
		n, size := binary.Uvarint(packed)
		if size <= 0 {
			return nil, errPacked
		}
		into[i], packed = n, packed[size:]
	}
	return packed, nil
}

// unpackSteps appends the steps that packSteps wrote, by the outline of the edition.
func unpackSteps(to []figures.StepSample, packed []byte, outline []figures.Outline) ([]figures.StepSample, error) {
	var of [3]uint64
	for len(packed) > 0 {
		var err error
		if packed, err = numbers(packed, of[:]); err != nil {
			return to, err
		}
		if of[0] >= uint64(len(outline)) {
			return to, errPacked
		}
		to = append(to, figures.StepSample{ID: outline[of[0]].ID, Worked: labour.Seconds(of[1]) / 1000, Clean: of[2]&1 != 0,
			Happened: figures.Happened(of[2] >> 1)})
	}
	return to, nil
}

// activities are what time can be, by the number that stands for it.
var activities = []narrator.Activity{narrator.Working, narrator.Paused, narrator.Unaccounted, narrator.NotRunning}

// packLine writes a job's timeline from its start, whatever the steps: of each stretch its length, what it was and, of a pause, its reason
// with the length of that before it.
func packLine(line []narrator.Stretch) []byte {
	var b []byte
	for i := 0; i < len(line); {
		s, to := line[i], i+1
		for to < len(line) && line[to].What == s.What && line[to].Reason == s.Reason {
			to++
		}
		b = binary.AppendUvarint(b, uint64(line[to-1].To.Since(s.From))) // #nosec G115 -- stretches are not negative
		b = binary.AppendUvarint(b, uint64(max(0, slices.Index(activities, s.What))))
		if s.What == narrator.Paused {
			b = binary.AppendUvarint(b, uint64(len(s.Reason)))
			b = append(b, s.Reason...)
		}
		i = to
	}
	return b
}

// unpackLine reads what packLine wrote of a job that began then. Stretches have no steps.
func unpackLine(packed []byte, start narrator.Moment) (line []narrator.Stretch, err error) {
	var of [2]uint64
	for len(packed) > 0 {
		if packed, err = numbers(packed, of[:]); err != nil {
			return line, err
		}
		if of[1] >= uint64(len(activities)) {
			return line, errPacked
		}
		s := narrator.Stretch{From: start, To: start.Add(narrator.Span(of[0])), What: activities[of[1]]} // #nosec G115 -- as it was packed
		if s.What == narrator.Paused {
			var length [1]uint64
			if packed, err = numbers(packed, length[:]); err != nil || length[0] > uint64(len(packed)) {
				return line, errPacked
			}
			s.Reason, packed = string(packed[:length[0]]), packed[length[0]:]
		}
		line, start = append(line, s), s.To
	}
	return line, nil
}
