//go:build !race

package pagestest

const raced = false
