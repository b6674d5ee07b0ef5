// Package speech is the ears and the voice: sound in and out, the words it
// hears and the sentences it says.
//
// One sample count is the clock of everything heard. A [Source] hands over
// blocks of [Frame] samples at [Rate]; a word's time is the index of the first
// sample of its speech. A [Player] is pulled for output by a [Sink], so that a
// job rehearsed from a file and a job done at the bench run the same loop:
// read a block, advance the sink, take from the player what was just played,
// and let the ears compare the two.
//
// The package imports nothing else of the program. It gets words ready to
// speak and gives back the phrases it heard.
package speech
