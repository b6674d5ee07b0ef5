package hearing_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech/hearing"
)

// transcripts reads a trn file: phrases by utterance.
func transcripts(t *testing.T, path string) map[string][]string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := map[string][]string{}
	for line := range strings.Lines(string(text)) {
		words := strings.Fields(line)
		lines[words[len(words)-1]] = words[:len(words)-1]
	}
	return lines
}

// scored reads the counts of every utterance from what sclite's option -o pra
// prints.
func scored(t *testing.T, report string) map[string]hearing.WordErrors {
	t.Helper()
	scores := map[string]hearing.WordErrors{}
	id := ""
	for line := range strings.Lines(report) {
		if name, ok := strings.CutPrefix(line, "id: "); ok {
			id = strings.TrimSpace(name)
		}
		if !strings.HasPrefix(line, "Scores:") {
			continue
		}
		var e hearing.WordErrors
		if _, err := fmt.Sscanf(line, "Scores: (#C #S #D #I) %d %d %d %d", &e.Correct, &e.Substitute, &e.Delete, &e.Insert); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		e.Said = e.Correct + e.Substitute + e.Delete
		scores[id] = e
	}
	return scores
}

// sclite runs NIST sclite on two trn files, or says that it is not there:
// Debian 13 has no sctk.
func sclite(t *testing.T, ref, hyp string) (report string, there bool) {
	t.Helper()
	program, err := exec.LookPath("/usr/lib/sctk/bin/sclite")
	if err != nil {
		return "", false
	}
	out, err := exec.Command(program, "-r", ref, "trn", "-h", hyp, "trn", "-i", "spu_id", "-o", "pra", "stdout").Output()
	if err != nil {
		t.Fatalf("sclite: %v", err)
	}
	return string(out), true
}

// The reference is NIST sclite (SCTK 2.4.10): its output is committed with the
// command that made it, testdata/sclite.sh, and it is run where it is installed.
func TestAlignmentCountsAsSclite(t *testing.T) {
	ref, hyp := "testdata/ref.trn", "testdata/hyp.trn"
	committed, err := os.ReadFile("testdata/sclite.pra")
	if err != nil {
		t.Fatal(err)
	}
	reports := map[string]string{"committed": string(committed)}
	if live, there := sclite(t, ref, hyp); there {
		reports["installed"] = live
	}
	said, heard := transcripts(t, ref), transcripts(t, hyp)
	for which, report := range reports {
		want := scored(t, report)
		if len(want) != len(said) || len(said) < 300 {
			t.Fatalf("%s sclite scored %d of %d utterances", which, len(want), len(said))
		}
		for id, e := range want {
			if got := hearing.Align(said[id], heard[id]); got != e {
				t.Errorf("%s: %v heard as %v: %+v, the %s sclite has %+v", id, said[id], heard[id], got, which, e)
			}
		}
	}
}

func TestAlignmentAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.SampledFrom([]string{"next", "stop", "torque"}), 0, 8)
		said, heard := words.Draw(t, "said"), words.Draw(t, "heard")
		e := hearing.Align(said, heard)
		if e.Said != len(said) || e.Correct+e.Substitute+e.Delete != len(said) || e.Correct+e.Substitute+e.Insert != len(heard) {
			t.Fatalf("%v heard as %v: %+v", said, heard, e)
		}
		if slices.Equal(said, heard) != (e.Correct == len(said) && e.Correct == len(heard)) {
			t.Fatalf("%v heard as %v: %+v", said, heard, e)
		}
	})
}

// The word errors of a report are those that sclite finds in the transcripts
// written with it.
func TestReportCountsAsSclite(t *testing.T) {
	r := measure(t, hearing.Test{Engines: []hearing.Engine{planned}, Live: plannedLive, Clips: plannedClips(t), Noise: noises(t), SNRs: []float64{10}})
	dir := t.TempDir()
	if err := hearing.WriteTranscripts(dir, r); err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Engines[0].Conditions {
		base := filepath.Join(dir, "planned-clean")
		if c.SNR != nil {
			base = filepath.Join(dir, "planned-10dB")
		}
		said, heard := transcripts(t, base+".ref.trn"), transcripts(t, base+".hyp.trn")
		var sum hearing.WordErrors
		for id := range said {
			e := hearing.Align(said[id], heard[id])
			sum.Said, sum.Correct, sum.Substitute = sum.Said+e.Said, sum.Correct+e.Correct, sum.Substitute+e.Substitute
			sum.Delete, sum.Insert = sum.Delete+e.Delete, sum.Insert+e.Insert
		}
		if sum != c.Words || sum.Said != c.N {
			t.Errorf("%s: the transcripts give %+v, the report has %+v", base, sum, c.Words)
		}
		report, there := sclite(t, base+".ref.trn", base+".hyp.trn")
		if !there {
			t.Log("sclite is not installed: the report is compared with its transcripts alone")
			continue
		}
		var nist hearing.WordErrors
		for _, e := range scored(t, report) {
			nist.Said, nist.Correct, nist.Substitute = nist.Said+e.Said, nist.Correct+e.Correct, nist.Substitute+e.Substitute
			nist.Delete, nist.Insert = nist.Delete+e.Delete, nist.Insert+e.Insert
		}
		if nist != c.Words {
			t.Errorf("%s: sclite has %+v, the report %+v", base, nist, c.Words)
		}
	}
}
