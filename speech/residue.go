package speech

import "math"

// residue takes what the canceller left of our own voice out of the front
// end's bands: the share of the echo that is usually left over in each, so that
// a loudspeaker that bends the sound is dealt with too. One goroutine uses it;
// it allocates nothing.
type residue struct {
	mel   *mel              // of the echo that was taken away
	leak  [melBands]float64 // share of its energy that is usually left
	tail  [melBands]float64 // its energy lately
	noise [melBands]float64 // energy of a band without speech
	seen  bool

	frames int
	sounds [residueRing]uint8 // bands with sound, by frame
	clear  [residueRing]uint8 // those of them that our own voice does not explain
}

func newResidue() *residue {
	r := &residue{mel: newMel(0)}
	for b := range r.leak {
		r.leak[b] = 1
	}
	return r
}

const (
	residueRing  = 320   // frames remembered
	residueClear = 4.0   // times the usual residue: what is more is not our own voice
	residueOver  = 2.0   // times the usual residue are taken away
	residueFades = 0.75  // a frame; the room's tail
	residueLoud  = 10.0  // times the noise that an echo must have to be learnt from
	residueFar   = 8.0   // times the usual residue: that is speech
	residueLeast = 0.003 // no echo leaves less than 25 dB below it
)

// take lowers the energies of a frame's bands; guess is the echo that was taken
// away in it.
func (r *residue) take(sums *[melBands]float64, guess []float32, playing bool) {
	if !r.seen {
		r.seen, r.noise = true, *sums
	}
	if !playing {
		r.frames = 0
		r.follow(sums)
		return
	}
	r.frames++
	slot := r.frames % residueRing
	r.sounds[slot], r.clear[slot] = 0, 0
	var echo [melBands]float64
	r.mel.energies(guess, &echo)
	for b := range sums {
		r.tail[b] = max(echo[b], residueFades*r.tail[b])
		if left := max(0, sums[b]-r.noise[b]); r.tail[b] > residueLoud*r.noise[b]+melFloor {
			switch usual := r.leak[b] * r.tail[b]; {
			case left > residueFar*usual:
				r.leak[b] *= 1.005
			case left > usual:
				r.leak[b] *= 1.07
			default:
				r.leak[b] *= 0.97
			}
			r.leak[b] = min(1, max(residueLeast, r.leak[b]))
		}
		if sums[b] > 4*r.noise[b]+melFloor {
			r.sounds[slot]++
			if sums[b] > residueClear*r.leak[b]*r.tail[b]+4*r.noise[b] {
				r.clear[slot]++
			}
		}
		most := residueOver * r.leak[b] * r.tail[b]
		floor := min(sums[b], r.noise[b])
		sums[b] = max(floor, sums[b]-most)
	}
	r.follow(sums)
}

// follow learns the noise.
func (r *residue) follow(sums *[melBands]float64) {
	for b, v := range sums {
		if v < r.noise[b] {
			r.noise[b] += 0.2 * (v - r.noise[b])
		} else {
			r.noise[b] = math.Min(v, r.noise[b]*1.01+1e-9)
		}
	}
}

// share is how much of the sound in the frames from from ago to to ago is clear
// of our own voice, counted in bands, 0..1; 1 where nothing was played.
func (r *residue) share(from, to int) float64 {
	var sounds, free int
	for d := to; d < min(from, r.frames, residueRing); d++ {
		slot := (r.frames - d) % residueRing
		sounds += int(r.sounds[slot])
		free += int(r.clear[slot])
	}
	if sounds == 0 {
		return 1
	}
	return float64(free) / float64(sounds)
}
