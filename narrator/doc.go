// Package narrator decides what a technician's words mean for a job: which step is current, what is timed, what is
// asked, and what is said in reply.
//
// It is pure. [Decide] reads a [Bay] and one [Input] and returns an [Outcome]: events that are to be made durable, and
// sentences that are to be spoken after that. [Bay.Apply] folds an outcome into the state. Nothing here reads a clock, a
// file or a device; every moment comes in with the input. A bay rebuilt from its journal by [Bay.Restore] equals the bay
// that wrote it, but for the dialogue in progress (a question half asked is asked again by the technician's next word).
package narrator
