package speech_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech"
)

func flat(n int, v int16) []int16 { return slices.Repeat([]int16{v}, n) }

// pull is n samples from the player, in pieces of a size that does not fit a
// Frame.
func pull(p *speech.Player, n int) []int16 {
	out := make([]int16, n)
	for at := 0; at < n; at += 97 {
		p.Pull(out[at:min(n, at+97)])
	}
	return out
}

func wantReports(t *testing.T, p *speech.Player, want ...speech.Report) {
	t.Helper()
	if got := p.Reports(); !slices.Equal(got, want) {
		t.Errorf("reports %v, want %v", got, want)
	}
}

func TestPlayerSaysSentencesInOrder(t *testing.T) {
	p := speech.NewPlayer()
	pull(p, 100)
	p.Say(1, flat(1000, 5000))
	p.Say(2, flat(500, -5000))
	p.Say(3, nil)
	if !p.Speaking() {
		t.Error("not speaking with three sentences waiting")
	}
	wantReports(t, p)
	out := pull(p, 1700)
	wantReports(t, p,
		speech.Report{ID: 1, Kind: speech.Begun, At: 100}, speech.Report{ID: 1, Kind: speech.Ended, At: 1100},
		speech.Report{ID: 2, Kind: speech.Begun, At: 1100}, speech.Report{ID: 2, Kind: speech.Ended, At: 1600},
		speech.Report{ID: 3, Kind: speech.Begun, At: 1600}, speech.Report{ID: 3, Kind: speech.Ended, At: 1600})
	if p.Speaking() {
		t.Error("still speaking")
	}
	// A soft start of 10 ms, then the sound as it was given.
	for i := range 159 {
		if out[i] >= out[i+1] {
			t.Fatalf("the start does not rise at %d", i)
		}
	}
	if out[160] != 5000 || out[999] != 5000 || out[1000] > 0 || out[1160] != -5000 || out[1500] != 0 {
		t.Errorf("%d %d %d %d %d", out[160], out[999], out[1000], out[1160], out[1500])
	}
}

func TestPlayerCutsAtOnceAndGoesOnWithWhatIsSaidNext(t *testing.T) {
	p := speech.NewPlayer()
	p.Say(1, flat(8000, 5000))
	p.Say(2, flat(8000, 5000))
	pull(p, 1000)
	p.Cut()
	p.Cut()
	p.Say(3, flat(200, -5000))
	out := pull(p, 300)
	for i := range 47 {
		if out[i] < out[i+1] {
			t.Fatalf("the fade rises at %d", i)
		}
	}
	if out[47] != 0 || out[48] >= 0 {
		t.Errorf("after the fade of 48 samples: %d, then %d", out[47], out[48])
	}
	wantReports(t, p,
		speech.Report{ID: 1, Kind: speech.Begun, At: 0}, speech.Report{ID: 1, Kind: speech.WasCut, At: 1048},
		speech.Report{ID: 2, Kind: speech.WasCut, At: 1000},
		speech.Report{ID: 3, Kind: speech.Begun, At: 1048}, speech.Report{ID: 3, Kind: speech.Ended, At: 1248})
}

func TestPlayerDropLetsTheSentenceThatSoundsEnd(t *testing.T) {
	p := speech.NewPlayer()
	p.Say(1, flat(2000, 5000))
	p.Say(2, flat(8000, 5000))
	pull(p, 1000)
	p.Drop()
	p.Drop()
	if out := pull(p, 2000); out[999] == 0 || out[1000] != 0 {
		t.Errorf("%d, then %d", out[999], out[1000])
	}
	p.Say(3, flat(100, 5000))
	p.Drop() // it has not begun
	pull(p, 200)
	wantReports(t, p,
		speech.Report{ID: 1, Kind: speech.Begun, At: 0}, speech.Report{ID: 1, Kind: speech.Ended, At: 2000},
		speech.Report{ID: 2, Kind: speech.WasCut, At: 1000}, speech.Report{ID: 3, Kind: speech.WasCut, At: 3000})
}

func TestPlayerCutOfWhatHasNotBegunIsSilence(t *testing.T) {
	p := speech.NewPlayer()
	p.Say(1, flat(8000, 5000))
	p.Cut()
	if out := pull(p, 400); slices.Max(out) != 0 {
		t.Error("a cut sentence is heard")
	}
	wantReports(t, p, speech.Report{ID: 1, Kind: speech.WasCut, At: 0})
}

func TestPlayerToneSoundsOverTheVoice(t *testing.T) {
	p := speech.NewPlayer()
	p.Say(1, flat(4000, 5000))
	pull(p, 1000)
	p.Tone(flat(800, 3000))
	out := pull(p, 2000)
	if out[500] != 5500 { // half the voice and the tone
		t.Errorf("under the tone %d", out[500])
	}
	if out[1000] != 5000 {
		t.Errorf("after the tone %d", out[1000])
	}
	wantReports(t, p, speech.Report{ID: 1, Kind: speech.Begun, At: 0})
}

// Whatever is said, at whatever volume, nothing is louder than -6 dBFS, 16 384
// of 32 768, and the tape holds what was pulled.
func TestPlayerNeverStartles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := speech.NewPlayer()
		var pulled, tape []int16
		open := map[int64]bool{}
		next := int64(0)
		t.Repeat(map[string]func(*rapid.T){
			"say": func(t *rapid.T) {
				next++
				open[next] = true
				p.Say(next, rapid.SliceOfN(rapid.Int16(), 0, 700).Draw(t, "pcm"))
			},
			"cut":    func(t *rapid.T) { p.Cut() },
			"tone":   func(t *rapid.T) { p.Tone(rapid.SliceOfN(rapid.Int16(), 0, 300).Draw(t, "pcm")) },
			"volume": func(t *rapid.T) { p.SetVolume(rapid.Float64Range(-1, 30).Draw(t, "gain")) },
			"pull": func(t *rapid.T) {
				out := make([]int16, rapid.IntRange(1, 400).Draw(t, "samples"))
				p.Pull(out)
				ref := make([]int16, len(out))
				p.Played(ref)
				pulled, tape = append(pulled, out...), append(tape, ref...)
			},
			"": func(t *rapid.T) {
				for _, r := range p.Reports() {
					if !open[r.ID] || r.At < 0 || int(r.At) > len(pulled) {
						t.Fatalf("report %v after %d samples", r, len(pulled))
					}
					if r.Kind != speech.Begun {
						delete(open, r.ID)
					}
				}
				if p.Speaking() != (len(open) > 0) {
					t.Fatalf("speaking %v with %d sentences open", p.Speaking(), len(open))
				}
			},
		})
		for i, v := range pulled {
			if v > 16384 || v < -16384 {
				t.Fatalf("sample %d is %d", i, v)
			}
		}
		if !slices.Equal(pulled, tape) {
			t.Fatal("the tape is not what was pulled")
		}
	})
}

func TestPlayerLouderIsARamp(t *testing.T) {
	p := speech.NewPlayer()
	p.SetVolume(0.25)
	pull(p, 400)
	p.Say(1, flat(4000, 8000))
	if out := pull(p, 1000); out[999] != 2000 {
		t.Errorf("at a quarter %d", out[999])
	}
	p.SetVolume(1)
	out := pull(p, 1000)
	for i := 1; i < len(out); i++ {
		if step := out[i] - out[i-1]; step < 0 || step > 20 {
			t.Fatalf("a step of %d at %d", step, i)
		}
	}
	if out[319] != 8000 {
		t.Errorf("after 20 ms %d", out[319])
	}
}

func TestPlayedGivesSilenceWhenDryAndCatchesUp(t *testing.T) {
	p := speech.NewPlayer()
	ref := flat(160, 7)
	p.Played(ref)
	if slices.Max(ref) != 0 {
		t.Error("something was played before anything was pulled")
	}
	p.Say(1, flat(8000, 5000))
	out := pull(p, 3360) // 210 ms: a block read at once leaves 200 ms
	p.Played(ref)
	if !slices.Equal(ref, out[:160]) {
		t.Error("not yet 200 ms over, and already out of order")
	}
	out = append(out, pull(p, 200)...)
	p.Played(ref)
	if at := len(out) - 160 - 320; !slices.Equal(ref, out[at:at+160]) {
		t.Error("more than 200 ms over, and the newest 20 ms are not what is left")
	}
}

// The audio thread and the player's goroutine at once: for the race detector.
func TestPlayerIsPulledWhileItIsTold(t *testing.T) {
	p := speech.NewPlayer()
	done := make(chan struct{})
	stop := make(chan struct{})
	go func() {
		defer close(done)
		out := make([]int16, 160)
		for {
			select {
			case <-stop:
				return
			default:
				p.Pull(out)
			}
		}
	}()
	over := 0
	for id := range int64(2000) {
		p.Say(id, flat(50, 100))
		if id%7 == 0 {
			p.Cut()
		}
		p.Tone(flat(10, 100))
		p.SetVolume(float64(id%3) / 2)
		p.Played(make([]int16, 160))
	}
	for over < 2000 {
		for _, r := range p.Reports() {
			if r.Kind != speech.Begun {
				over++
			}
		}
	}
	close(stop)
	<-done
}

func TestPullDoesNotAllocate(t *testing.T) {
	p := speech.NewPlayer()
	p.Say(1, flat(100000, 100))
	p.Tone(flat(5000, 100))
	out := make([]int16, 160)
	if n := testing.AllocsPerRun(500, func() { p.Pull(out); p.Played(out) }); n != 0 {
		t.Errorf("%v allocations in a pull", n)
	}
}

func BenchmarkPull(b *testing.B) {
	p := speech.NewPlayer()
	out := make([]int16, speech.Frame)
	pcm := flat(speech.Frame, 1000)
	for id := int64(0); b.Loop(); id++ {
		p.Say(id, pcm)
		p.Pull(out)
		p.Played(out)
		p.Reports()
	}
	b.ReportMetric(float64(b.N)/100/b.Elapsed().Seconds(), "x-real-time")
}
