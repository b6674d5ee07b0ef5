package main

import (
	"context"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/speech"
)

// metrics are a running session's figures, in the text format of Prometheus at /metrics of the pages. None tells what was said or heard. Nil counts
// nothing.
type metrics struct {
	registry *prometheus.Registry
	frames   prometheus.Counter
	lost     prometheus.Counter
	missing  prometheus.Counter
	words    *prometheus.CounterVec
	latency  prometheus.Histogram
	appends  prometheus.Histogram
	refused  prometheus.Counter
}

// What became of a word that the ears heard.
const (
	wordObeyed  = "obeyed"
	wordAsked   = "asked"
	wordRefused = "refused"
)

func newMetrics() *metrics {
	counter := func(name, help string) prometheus.Counter {
		return prometheus.NewCounter(prometheus.CounterOpts{Namespace: "stepcaller", Name: name, Help: help})
	}
	histogram := func(name, help string, buckets ...float64) prometheus.Histogram {
		return prometheus.NewHistogram(prometheus.HistogramOpts{Namespace: "stepcaller", Name: name, Help: help, Buckets: buckets})
	}
	m := &metrics{
		registry: prometheus.NewRegistry(),
		frames:   counter("frames_total", "Frames of sound, of 10 ms, that were listened to."),
		lost:     counter("frames_lost_total", "Frames of sound of which the device lost some."),
		missing:  counter("sound_lost_seconds_total", "Sound that the device lost."),
		words: prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: "stepcaller", Name: "words_total",
			Help: "Words heard, by what became of them: obeyed, asked about, or refused as they mean nothing now."}, []string{"outcome"}),
		latency: histogram("word_decision_seconds", "From the end of a word to the decision on it.", .05, .1, .15, .2, .25, .3, .4, .5, .75, 1, 2),
		appends: histogram("journal_append_seconds", "Time in which events became durable.", .0002, .0005, .001, .002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5),
		refused: counter("journal_refusals_total", "Appends that the journal refused."),
	}
	for _, outcome := range []string{wordObeyed, wordAsked, wordRefused} {
		m.words.WithLabelValues(outcome)
	}
	m.registry.MustRegister(m.frames, m.lost, m.missing, m.words, m.latency, m.appends, m.refused,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// handler serves the text; nil without metrics.
func (m *metrics) handler() http.Handler {
	if m == nil {
		return nil
	}
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 2})
}

// heard counts a block of sound.
func (m *metrics) heard(b speech.Block) {
	if m == nil {
		return
	}
	m.frames.Inc()
	if b.Missing > 0 {
		m.lost.Inc()
		m.missing.Add(speech.Samples(b.Missing).Duration().Seconds())
	}
}

// decided counts a word; other inputs count for nothing.
func (m *metrics) decided(in narrator.Input, o narrator.Outcome) {
	h, ok := in.(narrator.Heard)
	if !ok || m == nil {
		return
	}
	outcome := wordObeyed
	switch {
	case !o.Took:
		outcome = wordRefused
	case !h.Sure:
		outcome = wordAsked
	}
	m.words.WithLabelValues(outcome).Inc()
	m.latency.Observe(h.At.Since(h.To).Seconds())
}

// unsent tells, where a shop is joined, how many events have not arrived there yet. It is called once, and count from any goroutine.
func (m *metrics) unsent(count func() float64) {
	m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Namespace: "stepcaller", Name: "shop_unsent_events",
		Help: "Events that have not arrived in the shop yet."}, count))
}

// timed is a store whose appends are timed.
type timed struct {
	journal.Store
	metrics *metrics
}

// Append implements [journal.Store].
func (t timed) Append(ctx context.Context, events []narrator.Event) error {
	begun := time.Now()
	err := t.Store.Append(ctx, events)
	if err != nil {
		t.metrics.refused.Inc()
		return err
	}
	t.metrics.appends.Observe(time.Since(begun).Seconds())
	return nil
}
