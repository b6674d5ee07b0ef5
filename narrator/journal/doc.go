// Package journal keeps what happened, so that a power cut, a crash or a killed process costs nothing that was
// acknowledged. With the packages below it, it is the only place with SQL that anything depends on.
//
// # Invariants
//
// The code below is written from these. Must is a promise: breaking it is a defect, and [Verify] finds what can be found.
// Should is what we aim for and may fall short of under the conditions named.
//
//  1. An event must be durable before it is spoken, shown or answered: [Store.Append] returns only then.
//  2. The journal must be append only. Nothing recorded is changed or deleted; what was taken back is marked by a further
//     event. The one row that is overwritten is the beat.
//  3. Seq must be unique within a job and run 1, 2, 3 ... without holes. An append that would break this is refused whole.
//  4. One outcome must be one transaction: all of its events are there after a crash, or none.
//  5. An append that fails must leave nothing, neither in the journal nor as a lock on it. The exception lies below us:
//     where the disk itself fails while syncing, what was refused may still be found after a power cut. As the program
//     takes the next event's Seq from the journal, such an event is never doubled.
//  6. State must always be rebuilt from events. Nothing else that is stored decides anything.
//  7. A memo must be written, synced, renamed to its name and its folder synced before the event that names it is
//     appended. A crash in between leaves a file without an event, never an event without a file. A memo of a job that was
//     taken over may come later from the bay that took it; until then its name must be held.
//  8. There must be one writer. Any number of readers may read while it writes.
//  9. A newer program's journal, or another program's file, must be left as it is.
//  10. Every error must say what is wrong, where, and what to do, in words that need no knowledge of the database.
//  11. The beat, by which the program notes that it runs, should be at most one beat old. It survives a killed process; a
//     power cut may lose the latest beats, and so makes a gap longer, never shorter.
//  12. Opening should be over before anybody waits for it: the time grows with the number of jobs, not with what happened
//     in them.
//  13. How well words are heard must be noted in a job's log alone, sparsely: when it changes, once a step, every ten minutes
//     of work. It decides nothing. A journal without it is whole.
//
// # On disk
//
// A data folder holds journal.db (SQLite with a write-ahead log beside it while it is open), lock, and memos/. The folder
// is private to its owner.
package journal
