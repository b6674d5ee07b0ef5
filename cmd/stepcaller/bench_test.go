package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stepcaller/procedures"
	"stepcaller/speech"
)

// safeWords are commands that may be said in any order without ending or holding the job.
func safeWords() []string {
	var safe []string
	for _, c := range procedures.InGroup(procedures.Always) {
		switch c {
		case procedures.TakeNote, procedures.EndNote, procedures.StopListening, procedures.StartListening:
		default:
			safe = append(safe, string(c))
		}
	}
	return safe
}

// heardWell rehearses every safe word of a technician, one every eight seconds, and tells for each word heard how far its time is from where its speech begins on
// the track, and how long after its last sample the answer began, in milliseconds.
func heardWell(b *testing.B, who technician) (off, answer []float64, said_ int) {
	b.Helper()
	var track []said
	ends := map[float64]float64{}
	for i, w := range safeWords() {
		at := 10 + 8*float64(i)
		track = append(track, said{at, w})
		ends[at] = at + float64(len(who.speak(b, w)))/speech.Rate
	}
	r, _ := rehearseCommand(b, "water-pump", writeTrack(b, who.track(b, 20+8*float64(len(track)), track...)))
	for _, h := range r.Heard {
		for _, s := range track {
			if h.Word == s.word && math.Abs(h.AtS-s.at) < 0.5 {
				off = append(off, math.Abs(h.AtS-s.at)*1000)
				for _, sentence := range r.Said {
					if sentence.AtS > ends[s.at] && sentence.AtS < s.at+4 {
						answer = append(answer, (sentence.AtS-ends[s.at])*1000)
						break
					}
				}
			}
		}
	}
	return off, answer, len(track)
}

// BenchmarkWords prints, over three synthetic technicians, the share of commands heard, how far a word's time is from its first sample,
// and how long after its last sample the answer begins.
func BenchmarkWords(b *testing.B) {
	needVoice(b, speech.DefaultCommand)
	for b.Loop() {
		var off, answer []float64
		all := 0
		for _, who := range technicians {
			o, a, n := heardWell(b, who)
			off, answer, all = append(off, o...), append(answer, a...), all+n
		}
		b.ReportMetric(100*float64(len(off))/float64(all), "%heard")
		b.ReportMetric(quantile(off, 0.5), "ms-off-p50")
		b.ReportMetric(quantile(off, 0.95), "ms-off-p95")
		b.ReportMetric(quantile(off, 1), "ms-off-max")
		b.ReportMetric(quantile(answer, 0.5), "ms-answer-p50")
		b.ReportMetric(quantile(answer, 0.95), "ms-answer-p95")
	}
}

func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return sorted[min(len(sorted)-1, int(q*float64(len(sorted))))]
}

// BenchmarkAnHour prints how long an hour of track takes to rehearse and how much memory the process needs at most.
func BenchmarkAnHour(b *testing.B) {
	needVoice(b, speech.DefaultCommand)
	who := technicians[0]
	var track []said
	for i := range 30 {
		track = append(track, said{float64(60 + 110*i), safeWords()[i%8]})
	}
	path, procedure := writeTrack(b, who.track(b, 3600, track...)), "water-pump"
	for b.Loop() {
		begun := time.Now()
		p := startProgram(b, "rehearse", procedure, "--hear", path, "--data", filepath.Join(b.TempDir(), "data"), "--json", "--say", filepath.Join(b.TempDir(), "say.wav"))
		most := watchMemory(p.cmd.Process.Pid)
		if err := p.restWithin(10 * time.Minute); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(time.Since(begun).Seconds(), "s/hour")
		b.ReportMetric(float64(<-most)/1024, "MB-resident")
	}
}

// watchMemory reads the most memory that a process had, in kB (VmHWM), ten times a second until it is gone. What the kernel says of
// a dead child would count its parent's memory before exec.
func watchMemory(pid int) <-chan int {
	most := make(chan int, 1)
	go func() {
		last := 0
		for {
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
			_, rest, ok := strings.Cut(string(status), "VmHWM:")
			if err != nil || !ok {
				most <- last
				return
			}
			if _, err := fmt.Sscan(rest, &last); err != nil {
				most <- last
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
	}()
	return most
}

// recordings are people who say digits, cards and sentences, and no command: Debian's pocketsphinx-testdata.
func recordings(t testing.TB) []string {
	t.Helper()
	var paths []string
	err := filepath.WalkDir("/usr/share/pocketsphinx/test/data", func(path string, _ os.DirEntry, err error) error {
		if err == nil && (strings.HasSuffix(path, ".wav") || strings.HasSuffix(path, ".raw")) {
			paths = append(paths, path)
		}
		return nil
	})
	if err != nil || len(paths) == 0 {
		if os.Getenv("CI") == "true" {
			t.Fatal("no recordings: apt-get install pocketsphinx-testdata")
		}
		t.Skip("no recordings: apt-get install pocketsphinx-testdata")
	}
	return paths
}

func TestRecordedPeopleWhoSayNoCommandAreNotObeyed(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	heard := 0
	for _, path := range recordings(t) {
		if strings.HasSuffix(path, ".raw") {
			pcm, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			samples := make([]int16, len(pcm)/2)
			for i := range samples {
				samples[i] = int16(uint16(pcm[2*i]) | uint16(pcm[2*i+1])<<8)
			}
			path = writeTrack(t, samples)
		}
		r, _ := rehearseCommand(t, "valve-cover", path)
		for _, h := range r.Heard {
			t.Errorf("%s: obeyed %q at %v s (%.2f, sure %v)", filepath.Base(path), h.Word, h.AtS, h.Score, h.Sure)
		}
		heard++
	}
	t.Logf("%d recordings", heard)
}
