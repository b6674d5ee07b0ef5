package main

import (
	"slices"
	"time"
)

// median of at least one duration.
func median(d []time.Duration) time.Duration {
	d = slices.Clone(d)
	slices.Sort(d)
	return d[len(d)/2]
}
