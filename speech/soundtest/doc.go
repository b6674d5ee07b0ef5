// Package soundtest lends a test a sound card that is not there: a private
// sound server with a virtual microphone, into which a test speaks, and a
// virtual loudspeaker, which it records.
package soundtest
