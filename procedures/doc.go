// Package procedures is the vocabulary of the program: what a repair procedure
// is, the units it is written in, how its text is spoken, and the words a
// technician may say.
//
// It does no input or output except for reading procedure files, keeps no
// state, and imports nothing else of this module. Every value is safe to share
// between goroutines as long as nobody writes to it.
package procedures
