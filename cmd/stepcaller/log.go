package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"

	systemd "github.com/coreos/go-systemd/v22/journal"

	"stepcaller/narrator"
)

// logger writes to standard error what the key log lets through: few lines, as text with the time of day at a terminal, as keys and values without a time
// under systemd, whose journal has its own. What was said or heard is told at debug alone.
func (c Config) logger() *slog.Logger {
	journald, _ := systemd.StderrIsJournalStream()
	return newLog(os.Stderr, c.level(), journald)
}

// level is the lowest that is logged; settings has checked it.
func (c Config) level() slog.Level {
	level, err := parseLevel(c.Log)
	if err != nil {
		return slog.LevelWarn
	}
	return level
}

func parseLevel(text string) (slog.Level, error) {
	levels := map[string]slog.Level{"debug": slog.LevelDebug, "info": slog.LevelInfo, "warn": slog.LevelWarn, "error": slog.LevelError}
	level, ok := levels[text]
	if !ok {
		return 0, fmt.Errorf("%q is no level; choose debug, info, warn or error", text)
	}
	return level, nil
}

func newLog(w io.Writer, level slog.Level, journald bool) *slog.Logger {
	replace := func(groups []string, a slog.Attr) slog.Attr {
		switch {
		case len(groups) > 0 || a.Key != slog.TimeKey:
			return a
		case journald:
			return slog.Attr{}
		}
		return slog.String(slog.TimeKey, a.Value.Time().Format("15:04:05"))
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: level, ReplaceAttr: replace}))
}

// watcher is who is told what happens in a bay: the terminal, or the log where standard output is systemd's journal, which others may read.
func (c Config) watcher(shown Watcher) Watcher {
	if journald, _ := systemd.StdoutIsJournalStream(); journald {
		return logWatch{c.logger()}
	}
	return shown
}

// logWatch is a [Watcher] that logs.
type logWatch struct{ log *slog.Logger }

func (w logWatch) Heard(h narrator.Heard) {
	w.log.Debug("heard", "word", h.Word, "score", h.Score, "sure", h.Sure)
}

func (w logWatch) Done(_ narrator.Moment, o narrator.Outcome) {
	for _, e := range o.Events {
		w.log.Debug("recorded", "job", e.Job, "event", e.Seq, "kind", string(e.Kind), "text", stamped(e))
	}
}

func (w logWatch) Says(_ narrator.Moment, s narrator.Sentence, _ string) {
	w.log.Debug("says", "text", s.Text)
}

func (w logWatch) Said(id int64, _, _ narrator.Moment, cut bool) {
	w.log.Debug("said", "sentence", id, "cut", cut)
}

func (w logWatch) News(text string) { w.log.Debug("news", "text", text) }

func (w logWatch) Trouble(err error) {
	if errors.Is(err, errVoice) { // it names the sentence
		w.log.Warn(errVoice.Error())
		w.log.Debug("voice", "error", err)
		return
	}
	w.log.Warn("trouble", "error", err)
}
