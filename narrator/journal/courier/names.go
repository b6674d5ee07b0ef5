// Package courier takes what a bay's journal holds to its shop, and brings back what the shop has for the bay. The journal in the bay stays the truth
// of the bay's own jobs: nothing that the courier does is waited for.
package courier

import (
	"regexp"
	"strings"

	"stepcaller/narrator"
)

// bayName is how a bay may be called: it becomes part of job ids, file names and addresses.
var bayName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,23}$`)

// ValidBay reports whether a bay may be called so: lower-case letters, digits and dashes, at most 24 of them.
func ValidBay(name string) bool { return bayName.MatchString(name) }

// InShop is the id in the shop of a job that a bay calls by an id: "2026-11-25-1" of bay lift-2 is "2026-11-25-1.lift-2". A job that another bay began
// carries that bay's name already. The bay's own log, "", is "@lift-2".
func InShop(bay, job string) string {
	switch {
	case job == "":
		return "@" + bay
	case strings.Contains(job, ".") || strings.HasPrefix(job, "@"):
		return job
	}
	return job + "." + bay
}

// InBay is the id by which a bay calls a job of the shop.
func InBay(bay, job string) string {
	if job == "@"+bay {
		return ""
	}
	return strings.TrimSuffix(job, "."+bay)
}

// Rename puts the job ids in an event of a bay into the form of the shop, in place: its own and those that it names.
func Rename(bay string, e *narrator.Event) {
	e.Job = InShop(bay, e.Job)
	for _, id := range []*string{&e.Work, &e.Earlier} {
		if *id != "" {
			*id = InShop(bay, *id)
		}
	}
	e.File = FileInShop(bay, e.File)
}

// memoFile takes a memo's file apart: folder, job, number.
var memoFile = regexp.MustCompile(`^(memos/)([^/]+)(-[1-9][0-9]*\.wav)$`)

// FileInShop is the name in the shop of a bay's memo, "memos/2026-11-25-1.lift-2-3.wav".
func FileInShop(bay, file string) string {
	m := memoFile.FindStringSubmatch(file)
	if m == nil {
		return file
	}
	return m[1] + InShop(bay, m[2]) + m[3]
}

// FileInBay is the name by which a bay calls a memo of the shop.
func FileInBay(bay, file string) string {
	m := memoFile.FindStringSubmatch(file)
	if m == nil {
		return file
	}
	return m[1] + InBay(bay, m[2]) + m[3]
}

// Localise puts the job ids in an event of the shop into the form of a bay, in place. It undoes [Rename].
func Localise(bay string, e *narrator.Event) {
	e.Job = InBay(bay, e.Job)
	for _, id := range []*string{&e.Work, &e.Earlier} {
		if *id != "" {
			*id = InBay(bay, *id)
		}
	}
	e.File = FileInBay(bay, e.File)
}
