// Package study is work measurement: what earlier times say about the next one.
//
// It is pure arithmetic on minutes. Times of work are never negative and lean to the right: now and then a job takes much
// longer, hardly ever much shorter. So spread is taken on logarithms, and where there are enough times the times themselves
// are ranked instead. Every figure says how many times it stands on, and there is none where there are too few.
package study
