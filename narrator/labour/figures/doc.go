// Package figures puts many jobs of one procedure side by side: how long each step takes, how far that can be trusted, what ran
// long and what to quote next time.
//
// It is pure. Three things are kept apart. A [Sample] is what one finished job tells. A [Figures] is what all of a procedure's samples
// tell together. A [Review] holds one job against that. Times are worked time in minutes unless a name says otherwise.
//
// Comebacks, jobs that several people worked on, drafts and jobs without a procedure are counted and shown, never learnt from ([Why]);
// nor is a step, or a whole job, of which more than a tenth is unaccounted for. Times that a technician corrected count as corrected, and
// are marked. A step is known by its id, whichever edition of the file
// it stands in; its title and what the file expects are those of the newest edition.
//
// A step ran long where its time lies beyond the upper end of the 80 % prediction interval of the other jobs, and by more than a floor of
// minutes: one step in ten lies beyond that end by chance alone, and seconds are nobody's concern.
package figures
