package storetest

import (
	"context"
	"errors"
	"slices"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// failer is what *testing.T and *rapid.T share.
type failer interface {
	Helper()
	Context() context.Context
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

func mustAppend(t failer, s journal.Store, events ...narrator.Event) {
	t.Helper()
	if err := s.Append(t.Context(), events); err != nil {
		t.Fatalf("append: %v", err)
	}
}

func wantLog(t failer, s journal.Store, job string, want []narrator.Event) {
	t.Helper()
	got, err := s.Log(t.Context(), job)
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("log of %q = %v, %v\nwant %v", job, got, err, want)
	}
}

func wantJobs(t failer, s journal.Store, f journal.Filter, want ...string) {
	t.Helper()
	jobs, err := s.Jobs(t.Context(), f)
	var got []string
	for _, j := range jobs {
		got = append(got, j.ID)
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("Jobs(%+v) = %v, %v, want %v", f, got, err, want)
	}
}

func wantSequence(t failer, err error, want journal.SequenceError) {
	t.Helper()
	var got *journal.SequenceError
	if !errors.As(err, &got) || *got != want || !errors.Is(err, journal.ErrSequence) {
		t.Errorf("the error is %v, want %v", err, &want)
	}
}
