package archive

// LookAt makes figures of the latest jobs of a procedure alone, as they are of [Latest].
func LookAt(a *Archive, jobs int) { a.latest = jobs }
