package main

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"stepcaller/narrator/pages"
	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

func TestMetrics(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 60, said{10, "next"}, said{15, "torque"}, said{20, "yes"}, said{30, "next"})
	b.Metrics = newMetrics()
	b.Metrics.unsent(func() float64 { return 7 })
	b.Session.Store = timed{b.Store, b.Metrics}
	for at, h := range b.ears.words {
		h.Sure = h.Label != "torque"
		b.ears.words[at] = h
	}
	b.begin(t)
	b.upTo(t, 28)
	b.store.Refuse(errors.New("the disk is full"))
	b.upTo(t, 32)
	b.Metrics.heard(speech.Block{Missing: speech.Rate / 4, PCM: make([]int16, speech.Frame)})

	handler, err := pages.New(pages.Config{Metrics: b.Metrics.handler()})
	if err != nil {
		t.Fatal(err)
	}
	get := func(host string) (int, string) {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", nil)
		r.Host = host
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, r)
		body, _ := io.ReadAll(w.Result().Body)
		return w.Code, string(body)
	}
	if code, _ := get("bay.example"); code != http.StatusForbidden {
		t.Errorf("under another name: %d", code)
	}
	_, text := get("localhost:7390")
	problems, err := promlint.New(strings.NewReader(text)).Lint()
	if err != nil || len(problems) > 0 {
		t.Errorf("promlint: %v, %v", problems, err)
	}
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{
		"stepcaller_frames_total": 3201, "stepcaller_frames_lost_total": 1, "stepcaller_sound_lost_seconds_total": 0.25,
		"stepcaller_words_total obeyed": 3, "stepcaller_words_total asked": 1, "stepcaller_words_total refused": 0, "stepcaller_word_decision_seconds": 4,
		"stepcaller_journal_refusals_total": 1, "stepcaller_shop_unsent_events": 7,
	} {
		name, outcome, _ := strings.Cut(name, " ")
		got := -1.0
		for _, m := range families[name].GetMetric() {
			if outcome == "" || m.GetLabel()[0].GetValue() == outcome {
				got = m.GetCounter().GetValue() + m.GetGauge().GetValue() + float64(m.GetHistogram().GetSampleCount())
			}
		}
		if got != want {
			t.Errorf("%s %s is %v, want %v", name, outcome, got, want)
		}
	}
	for _, name := range []string{"go_goroutines", "go_memstats_heap_alloc_bytes", "process_resident_memory_bytes", "stepcaller_journal_append_seconds"} {
		if families[name] == nil {
			t.Errorf("no %s", name)
		}
	}
	if strings.Contains(text, "torque") || strings.Contains(text, "next\"") {
		t.Error("the metrics tell which words were heard")
	}
}
