package speech

import "math"

// VoiceRMS is the effective value of what a [CommandVoice] says, taken over the parts that hold speech, on
// the scale of 16 bits: -25 dBFS. Peaks stand up to 19 dB above it.
const VoiceRMS = 1843

// settle cuts pcm down to the speech in it, with 10 ms to either side, and scales that so that its
// speech has an RMS of -25 dBFS, or less where a peak would pass -6 dBFS. It returns nil for silence, and
// works in place.
func settle(pcm []int16) []int16 {
	const (
		window   = Rate / 200 // samples over which loudness is judged, 5 ms
		margin   = Rate / 100 // samples kept before and after the speech, 10 ms
		quietest = 33         // a peak below this, -60 dBFS, is silence
		span     = 200        // a window this many times quieter than the loudest, 46 dB, is no speech
		peakCap  = 16384      // -6 dBFS, which the Player does not exceed either
	)
	peak, loudest := 0.0, 0.0
	for _, s := range pcm {
		peak = max(peak, math.Abs(float64(s)))
	}
	if peak < quietest {
		return nil
	}
	power := make([]float64, 0, len(pcm)/window+1)
	for from := 0; from < len(pcm); from += window {
		power = append(power, meanSquare(pcm[from:min(from+window, len(pcm))]))
		loudest = max(loudest, power[len(power)-1])
	}
	first, last, active, sum := -1, 0, 0, 0.0
	for i, p := range power {
		if p*span*span < loudest {
			continue
		}
		if first < 0 {
			first = i
		}
		last, active, sum = i, active+1, sum+p
	}
	pcm = pcm[max(0, first*window-margin):min(len(pcm), (last+1)*window+margin)]
	gain := min(VoiceRMS/math.Sqrt(sum/float64(active)), peakCap/peak)
	for i, s := range pcm {
		pcm[i] = int16(math.Round(float64(s) * gain))
	}
	return pcm
}

func meanSquare(pcm []int16) float64 {
	sum := 0.0
	for _, s := range pcm {
		sum += float64(s) * float64(s)
	}
	return sum / float64(len(pcm))
}
