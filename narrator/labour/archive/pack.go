package archive

import (
	"encoding/binary"
	"errors"

	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// pack writes the steps of a job: of each its index in the procedure, its worked milliseconds, and what happened with, in the lowest bit,
// whether it is clean; all as unsigned varints.
func pack(steps []figures.StepSample, p *procedures.Procedure) []byte {
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

// unpack appends the steps that pack wrote, by the outline of the edition.
func unpack(to []figures.StepSample, packed []byte, outline []figures.Outline) ([]figures.StepSample, error) {
	var numbers [3]uint64
	for len(packed) > 0 {
		for i := range numbers {
			n, size := binary.Uvarint(packed)
			if size <= 0 {
				return to, errPacked
			}
			numbers[i], packed = n, packed[size:]
		}
		if numbers[0] >= uint64(len(outline)) {
			return to, errPacked
		}
		to = append(to, figures.StepSample{ID: outline[numbers[0]].ID, Worked: labour.Seconds(numbers[1]) / 1000, Clean: numbers[2]&1 != 0,
			Happened: figures.Happened(numbers[2] >> 1)})
	}
	return to, nil
}
