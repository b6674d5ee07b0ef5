//go:build race

package pagestest

const raced = true
